"""What the components of the pipeline leave on the Doc for each other, declared in one place."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from spacy.tokens import Doc

from notelog.lexicon import Form, Lexicon
from notelog.models import Heard

Place = tuple[str, str, str, str]  # side, axle, level, depth; "" where unknown; side may be left, right, both
NOWHERE: Place = ("", "", "", "")
PART_CUES = ("cue:needed", "cue:ordered", "cue:on_hand")  # the mentions that say a part's state
KIND_OF = {"condition": "finding", "action": "operation"}  # what a mention of a kind states


@dataclass(slots=True, eq=False)
class Mention:
    """Words of the trade in a note: `start:end` are word numbers of the Talk, `id` its lexicon id.

    `kind` is component, condition, action, tool, material, fastener, drive, quantity, place or cue:*. A component that
    is in no lexicon has the id "unknown" and its words as `label`.
    """

    kind: str
    id: str
    start: int
    end: int
    tag: str = ""
    label: str = ""
    clause: int = -1
    forms: list[Form] = field(default_factory=list)
    # components
    place: Place = NOWHERE
    placed: bool = False  # its own words say where it is
    own_place: Place = NOWHERE  # what its own words say
    earlier_place: Place = NOWHERE  # where the same component was said to be before
    core: bool = True  # subject or object, not a landmark behind a preposition
    group: int = -1  # components listed together share a number
    fastener: str = ""  # the fastener type that a component's name ends in
    holder: Mention | None = None  # what a fastener holds
    new: bool = False  # "the new one", "a new ..."
    instead: Mention | None = None  # what was said later to put this right
    count: int | None = None
    # quantities
    low: float = 0.0
    high: float = 0.0
    unit: str = ""
    guesses: tuple[tuple[str, float], ...] = ()  # what a reading may measure, the likeliest first
    # split verbs: where the particle stands
    particle: int = -1
    # qualifiers
    flags: set[str] = field(default_factory=set)
    why: list[str] = field(default_factory=list)


@dataclass(slots=True)
class Clause:
    """A run of words with one statement; `sentence` numbers the sentence it stands in."""

    start: int
    end: int
    sentence: int
    header: str = ""
    flags: set[str] = field(default_factory=set)
    mentions: list[Mention] = field(default_factory=list)
    place: Place = NOWHERE
    antecedent: Mention | None = None
    question: bool = False


@dataclass(slots=True)
class Talk:
    """The words of a note without white space and hesitation, and what was found in them.

    `starts` and `ends` are character offsets in the heard text. `breaks` holds the numbers of the words before which a
    line ends for good. `stops` says whether the note's full stops can be trusted.
    """

    lexicon: Lexicon
    driver_side: str
    heard: Heard | None
    words: list[str]
    starts: list[int]
    ends: list[int]
    breaks: set[int]
    stops: bool = True
    punctuated: bool = True
    terse: bool = False
    mentions: list[Mention] = field(default_factory=list)
    at: list[Mention | None] = field(default_factory=list)
    clauses: list[Clause] = field(default_factory=list)
    clause_of: list[int] = field(default_factory=list)
    named_places: list[tuple[int, str, str]] = field(default_factory=list)  # where a side or an axle is named, and which
    facts: list = field(default_factory=list)
    states: Any = None  # the encoder's view of each word, a row a word


if not Doc.has_extension("talk"):
    Doc.set_extension("talk", default=None)
if not Doc.has_extension("heard"):
    Doc.set_extension("heard", default=None)
if not Doc.has_extension("driver_side"):
    Doc.set_extension("driver_side", default="right")
