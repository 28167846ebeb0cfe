"""Why an entry is there: the words, cues, rules, places and repairs behind a fact, in lines that a person can read.

Each line is "head: text". The heads are `component`, `condition` (or action, asked for, fastener, tool, material, figure),
`short name`, `cue`, `status`, `rule`, `place`, `repair`, `correction` and `learnt`.
"""

from __future__ import annotations

import bisect
import re
from collections.abc import Callable, Iterator

from notelog.understanding.relations import Fact
from notelog.understanding.state import Mention, Talk

RULES = {
    "loose": "no rule joined it to anything",
    "subject": "the condition is said of what stands before it in its clause",
    "attribute": "the condition stands before the part that it describes",
    "attribute far": "the condition stands a few words before the part that it describes",
    "noun of": "the condition is a noun, and the part follows it (play in the bearing)",
    "noun near": "the condition is a noun, and the part is near behind it",
    "pronoun": "it, that or they stands for the part said before",
    "carried over": "the statement names no part, so it is about the one said before",
    "behind preposition": "the only part in the clause stands behind a preposition",
    "unknown subject": "the subject of the statement is in no lexicon",
    "done to it": "the speaker did it to the part that follows",
    "object": "the part is the object of the verb",
    "fronted object": "the part stands before the verb that is done to it",
    "passive subject": "the part stands before was or is and what was done",
    "subject of need": "the part stands before what it needs",
    "far subject": "the nearest part before the verb",
    "state of subject": "the part stands before the state that it is in (off, back on)",
    "state of pronoun": "it stands for the part said before, and is in that state",
    "state carried over": "the state is that of the part said before",
    "usual object": "the work has one usual object, and no other is said",
    "whole vehicle": "the work is on the whole vehicle",
    "fluid's system": "the fluid belongs to that system",
    "what the fastener holds": "the work is on the part that the fastener holds",
    "named work": "the part and the work on it are one name",
    "work on": "the part follows the name of the work",
    "named": "it is named",
    "further size": "a further size of the fastener named before",
    "head size": "the size of the head of the fastener named before",
    "time spent": "a time, said to have been spent",
    "time": "a time, taken to have been spent",
    "price": "a sum of money",
    "reading": "a figure with a unit",
    "torque figure": "a torque says that something was or will be tightened to it",
    "asked for": "the part is needed",
    "ordered": "the part is ordered",
    "on_hand": "the part is here",
    "same again": "what was said before is said of this too",
    "learnt": "no rule joins these words",
}
"""What each rule of `notelog.understanding.relations` takes for its sign, in a few words."""

_FLAGS = {
    "denied": "denied", "doubted": "doubted", "hypothetical": "only supposed", "general": "general talk",
    "other_vehicle": "another vehicle", "planned": "planned", "not_done": "not done",
}  # fmt: skip
_CUE_OF = {"absent": "denied", "suspected": "doubted", "planned": "planned", "not_done": "not_done"}
_TRIGGER = {"finding": "condition", "operation": "action", "part": "asked for"}
_FIGURES = ("measurement", "labour", "cost")
_PLACES = ("side", "axle", "level", "depth")
_MOST_PLACES = 60
_JUDGED = re.compile(r"judged (\d\.\d+)")


class Reasons:
    """Tells the reasons of the facts of one talk; `said` gives the verbatim words of a mention."""

    def __init__(self, talk: Talk, said: Callable[..., str]) -> None:
        self.talk, self.said = talk, said
        self.places = [mention for mention in talk.mentions if mention.kind == "place"]
        self.place_starts = [mention.start for mention in self.places]
        self.retracted = [mention for mention in talk.mentions if "retracted" in mention.flags]
        self.retracted_starts = [mention.start for mention in self.retracted]
        self.repairs = talk.heard.repairs if talk.heard is not None else []
        self.repair_starts = [repair.start for repair in self.repairs]

    def of(self, fact: Fact, status: str) -> list[str]:
        """The lines for a fact that became an entry with that status ("" where its kind has none)."""
        lines = [*self._words(fact), *self._notes(fact, status), *self._status(fact, status), self._rule(fact)]
        lines += [*self._place(fact), *self._repairs(fact), *self._corrections(fact), *self._learnt(fact)]
        return list(dict.fromkeys(lines))

    def _words(self, fact: Fact) -> Iterator[str]:
        component, trigger = fact.component, fact.mention
        if component is not None and component is not trigger:
            told = f"component: “{self.said(component)}”"
            if component.id in self.talk.lexicon.terms["component"]:
                label = self.talk.lexicon.terms["component"][component.id].label
                told += f" is {label}" if label != self.said(component).lower() else " is in the lexicon"
            elif component.label in self.talk.lexicon.terms["fastener"]:
                told += " is a fastener by itself"
            else:
                told += f" is in no lexicon, and is called {component.label}"
            if trigger is not None and component.clause != trigger.clause:
                told += ", said elsewhere"
            yield told
        if trigger is not None:
            if fact.kind in _FIGURES:
                yield f"figure: “{self.said(trigger)}”"
            else:
                particle = f" ... {self.talk.words[trigger.particle]}" if trigger.particle >= trigger.end else ""
                value = fact.value.replace("_", " ")
                yield f"{_TRIGGER.get(fact.kind, fact.kind)}: “{self.said(trigger)}{particle}” says {value}"

    def _notes(self, fact: Fact, status: str) -> Iterator[str]:
        """What the components of the pipeline noted on the mentions."""
        for mention in (fact.component, fact.mention):
            for note in mention.why if mention is not None else ():
                head, _, rest = note.partition(": ")
                if head in _FLAGS:
                    against = mention is fact.mention and (_CUE_OF.get(status) != head if head in _CUE_OF.values() else True)
                    yield f"cue: “{rest}” says {_FLAGS[head]}" + (", which was overruled" if against else "")
                elif head == "short name":
                    yield f"short name: “{self.said(mention)}” stands for {rest}"
                elif head.startswith("heard as "):
                    yield f"repair: “{rest}” was heard as {head.removeprefix('heard as ')}, which sounds alike"
                elif note != "not in the lexicon":
                    yield note if rest else f"note: {note}"

    def _status(self, fact: Fact, status: str) -> Iterator[str]:
        if fact.kind not in ("finding", "operation") or status in ("present", "done", ""):
            return
        flags = fact.mention.flags if fact.mention is not None else set()
        if _CUE_OF.get(status) in flags:
            yield f"status: {status.replace('_', ' ')}, by the cue"
        elif fact.probability and fact.rule != "same again":
            yield f"status: {status.replace('_', ' ')}, as the learnt component reads it"
        else:
            yield f"status: {status.replace('_', ' ')}, by the form of the words"

    def _rule(self, fact: Fact) -> str:
        told = RULES.get(fact.rule)
        return f"rule: {fact.rule.replace('_', ' ')}" + (f": {told}" if told else "")

    def _place(self, fact: Fact) -> Iterator[str]:
        found: dict[str, list[str]] = {}
        for number, value in enumerate(fact.place):
            if value:
                found.setdefault(self._source(fact, number, value), []).append(value)
        for source, values in found.items():
            yield f"place: {' '.join(values)}, {source}"

    def _source(self, fact: Fact, number: int, value: str) -> str:
        """Where a side, an axle, a level or a depth came from."""
        component = fact.component
        clause = fact.mention.clause if fact.mention is not None else fact.clause
        own = component.own_place[number] == value if component is not None else False
        behind = max(fact.end, component.end if component is not None else 0) + 4
        last = bisect.bisect_left(self.place_starts, behind)
        for mention in reversed(self.places[max(0, last - _MOST_PLACES) : last]):
            if not self._says(mention, number, value):
                continue
            beside = component is not None and mention.clause == component.clause
            if own and not beside:
                break  # its own name says it
            if beside or mention.clause == clause:
                return f"“{self.said(mention)}” beside it"
            if mention.start < fact.start:
                return f"“{self.said(mention)}” said before, which still holds"
        if own or component is not None and component.place[number] == value and number > 1:
            return f"the name “{self.said(component)}”"
        if component is not None and number < 2 and component.earlier_place[number] == value:
            return "where the part was said to be before"
        return "from what was said around it"

    def _says(self, mention: Mention, number: int, value: str) -> bool:
        row = self.talk.lexicon.places[int(mention.id)]
        said = row[_PLACES[number]]
        if number == 0 and said in ("driver", "kerb"):
            driver = self.talk.driver_side
            said = driver if said == "driver" else {"left": "right", "right": "left"}[driver]
        return said == value or number == 0 and said == "other"

    def _repairs(self, fact: Fact) -> Iterator[str]:
        starts, ends = self.talk.starts, self.talk.ends
        for mention in dict.fromkeys([fact.component, fact.mention]):
            if mention is None:
                continue
            last = bisect.bisect_left(self.repair_starts, ends[mention.end - 1])
            for repair in self.repairs[max(0, last - 3) : last]:
                if repair.end > starts[mention.start]:
                    yield f"repair: “{repair.said}” was meant as {repair.meant}, {repair.why}"

    def _corrections(self, fact: Fact) -> Iterator[str]:
        """What was taken back shortly before, for the value that took its place."""
        last = bisect.bisect_left(self.retracted_starts, fact.end + 8)
        for mention in self.retracted[max(0, last - 3) : last]:
            same = self.talk.clauses[mention.clause].sentence == self.talk.clauses[fact.clause].sentence
            if same and (mention.kind == "quantity") == (fact.kind in _FIGURES or fact.size is not None):
                yield f"correction: “{self.said(mention, True)}” was taken back"

    def _learnt(self, fact: Fact) -> Iterator[str]:
        if fact.probability:
            judged = next((found[1] for note in fact.why if (found := _JUDGED.fullmatch(note))), f"{fact.probability:.2f}")
            sure = "joins them" if fact.rule == "learnt" else "holds it for right"
            yield f"learnt: the learnt component {sure} ({judged})"
