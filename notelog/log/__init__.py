"""The log: in comes a note, out goes a `Log` of typed entries, each with its evidence and confidence.

`log_note` runs reading's successors (hearing, understanding) and turns the facts into entries: once each, what was
corrected left out, what was hypothetical, general or about another vehicle left out. `why` tells of each entry what is
behind it.
"""

from notelog.log.build import Held, held_back, log_note

__all__ = ["Held", "held_back", "log_note"]
