"""Why an entry was missed, made up or wrong: the cause of each miss of the score, worked out from the log and the text.

A missing entry is looked for among the words that the log found (its `mentions`), then in what the rules alone make of
the note and in what a qualifier held back; a false one is compared with what the gold note says otherwise.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from notelog.lexicon import Lexicon, forms_of
from notelog.lexicon.inflect import plural
from notelog.lexicon.words import words_of
from notelog.log import Held, held_back, log_note
from notelog.models import Log, Mention
from notelog.reading import read_text
from notelog.scoring import GoldNote, Miss, Names, as_dict, is_right, key_fields, normalised
from notelog.understanding import LEARNT

CAUSES = {
    "part in no list": "nothing in the note was found to be the part, tool or material",
    "value in no list": "the part was found, and no words for the condition, the action or the kind of fastener",
    "neither in a list": "neither the part nor what is said of it was found",
    "figure not heard": "no figure of that unit was found",
    "not joined": "both were found, and no rule joined them",
    "held back by a qualifier": "it was joined, and a cue said that it is supposed, general, of another vehicle or taken back",
    "held back by the learnt component": "the rules made it, and the learnt component said no",
    "joined to the wrong part": "what was said is right, and it is said of another part",
    "wrong status": "part and value are right, and the status is not",
    "wrong value": "one other field is wrong",
    "supposed or general talk taken for fact": "a cue in its sentence says that it is no fact of this vehicle",
    "part that is none": "words in no lexicon were taken for a part",
    "made up by the learnt component": "the rules do not make it, and the gold note has nothing like it",
    "no such line in the gold note": "the rules make it, and the gold note has nothing like it",
}
"""The causes, in the order in which they are told, each in a few words."""

_NOT_FACT = ("hypothetical", "general", "other_vehicle")
_VALUE_OF = {"finding": "condition", "operation": "action", "fastener": "type"}
_THING_OF = {"tool": "tool", "material": "material"}
_OTHERWISE = {"good": ("damaged", "inoperative"), "damaged": ("good",)}  # denied, they say the other
_TORQUE_UNITS = ("Nm", "lbft")
_AROUND = 45
_MOST_WORDS = 12
_SENTENCE_END = re.compile(r"[.!?;](?=\s)|\n")


@dataclass(frozen=True, slots=True)
class Read:
    """A gold note as it was read: its log, the entries of the rules alone, and what their qualifiers held back."""

    log: Log
    ruled: list[dict[str, Any]]
    held: list[Held]


class Caused(NamedTuple):
    """A miss with its cause, a name of `CAUSES`, and the words of the note that it is about, where any can be told."""

    miss: Miss
    cause: str
    words: str


def read(gold: GoldNote, log: Log, lexicon: Lexicon) -> Read:
    """What is needed to tell the causes of a gold note's misses; `log` is its log."""
    note, rules = read_text(gold.text, gold.id), LEARNT
    ruled = log_note(note, gold.driver_side, rules, lexicon).entries
    return Read(log, [as_dict(entry) for entry in ruled], held_back(note, gold.driver_side, rules, lexicon))


def causes(gold: GoldNote, misses: Iterable[Miss], of: Read, lexicon: Lexicon) -> list[Caused]:
    """Each miss of a note, as `notelog.scoring.misses` gives them, with its cause.

    >>> from notelog.lexicon import load
    >>> from notelog.scoring import misses
    >>> gold = GoldNote(id="x", driver_side="right", text="The wibble is bent.", entries=[
    ...     {"kind": "finding", "component": "sprocket", "condition": "bent", "status": "present"}])
    >>> log = log_note(read_text(gold.text), "right")
    >>> [one.cause for one in causes(gold, [Miss("finding", "missing", gold.entries[0])], read(gold, log, load()), load())]
    ['part in no list']
    """
    teller = _Teller(gold, of, lexicon)
    return [Caused(miss, *teller.cause(miss)) for miss in misses]


def counted(caused: Sequence[Caused]) -> dict[str, int]:
    """How often each cause is there, in the order of `CAUSES`, without those that are not.

    >>> counted([Caused(Miss("tool", "missing"), "part in no list", "")])
    {'part in no list': 1}
    """
    counts = Counter(one.cause for one in caused)
    return {cause: counts[cause] for cause in CAUSES if counts[cause]}


class _Teller:
    def __init__(self, gold: GoldNote, of: Read, lexicon: Lexicon) -> None:
        self.gold, self.read, self.lexicon = gold, of, lexicon
        self.names = Names(lexicon.entries())
        self.mentions = of.log.mentions

    def cause(self, miss: Miss) -> tuple[str, str]:
        if miss.what == "false":
            return self._false(miss.predicted), self._sentence(miss.predicted["evidence"])[:200]
        thing, value = self._thing(miss.gold), self._value(miss.gold)
        words = self._words(thing, value) or (self._sentence(miss.predicted["evidence"]) if miss.predicted else "")
        return (self._missing(miss, thing, value) if miss.what == "missing" else self._wrong(miss, thing, value)), words

    # --- missing -----------------------------------------------------------------------------------

    def _missing(self, miss: Miss, thing: list[Mention] | None, value: list[Mention] | None) -> str:
        if miss.kind in ("measurement", "labour", "cost"):
            if not value:
                return "figure not heard"
        elif thing == [] and value == []:
            return "neither in a list"
        elif thing == []:
            return "part in no list"
        elif value == []:
            return "value in no list"
        if any(self._same(miss.gold, entry) for entry in self.read.ruled):
            return "held back by the learnt component"
        if any(self._same(miss.gold, as_dict(held.entry)) for held in self.read.held):
            return "held back by a qualifier"
        return "not joined"

    def _wrong(self, miss: Miss, thing: list[Mention] | None, value: list[Mention] | None) -> str:
        if miss.field in ("component", "tool", "material"):
            return "part in no list" if thing == [] else "joined to the wrong part"
        if miss.field == "status":
            return "wrong status"
        return "value in no list" if miss.field in _VALUE_OF.values() and value == [] else "wrong value"

    def _same(self, of_gold: Any, entry: dict[str, Any], *but: str) -> bool:
        """Whether an entry says the same, its status and the fields `but` aside."""
        fields = [name for name in key_fields(of_gold.kind) if name not in ("status", *but)]
        return entry["kind"] == of_gold.kind and all(is_right(of_gold, entry, name, self.names) for name in fields)

    def _thing(self, of_gold: Any) -> list[Mention] | None:
        """Where the log found the part, tool or material; None where the gold entry needs none."""
        field = _THING_OF.get(of_gold.kind, "component")
        wanted = getattr(of_gold, field, None)
        if wanted is None or None in wanted or field == "component" and field not in key_fields(of_gold.kind):
            return None
        kinds = ("component", "fastener") if field == "component" else (field,)
        return [mention for mention in self.mentions if mention.kind in kinds and self._is(mention, field, wanted)]

    def _is(self, mention: Mention, field: str, wanted: Sequence[str | None]) -> bool:
        said = normalised(self.gold.text[mention.start : mention.end])
        named = {"id": mention.id, "label": said}
        return any(self.names.same(field, named, name) or said == plural(normalised(name or "")) for name in wanted)

    def _value(self, of_gold: Any) -> list[Mention] | None:
        """Where the log found what is said of it; None where no mention tells (a part is needed)."""
        if of_gold.kind in ("measurement", "labour", "cost"):
            units = {"labour": ("h",), "cost": getattr(of_gold, "currency", ())}.get(of_gold.kind) or of_gold.unit
            return [mention for mention in self.mentions if mention.kind == "quantity" and mention.id in units]
        if of_gold.kind not in _VALUE_OF:
            return None
        kind = _VALUE_OF[of_gold.kind]
        wanted = {*getattr(of_gold, kind), *(one for value in getattr(of_gold, kind) for one in _OTHERWISE.get(value, ()))}
        if kind == "type":
            last = {*wanted, *map(plural, wanted)}
            return [m for m in self.mentions if m.kind == "fastener" and m.id in wanted
                    or m.kind == "component" and words_of(self.gold.text[m.start : m.end])[-1:] and words_of(self.gold.text[m.start : m.end])[-1] in last]  # fmt: skip
        torque = kind == "action" and "torque" in wanted
        return [m for m in self.mentions if m.kind == kind and m.id in wanted or torque and m.kind == "quantity" and m.id in _TORQUE_UNITS]

    # --- false -------------------------------------------------------------------------------------

    def _false(self, entry: dict[str, Any]) -> str:
        alike = [of_gold for of_gold in self.gold.entries if of_gold.kind == entry["kind"]]
        same = any(self._same(of_gold, entry) for of_gold in alike)
        if not same and self._not_fact(entry):
            return "supposed or general talk taken for fact"
        if any(self._same(of_gold, entry, "component") for of_gold in alike if "component" in key_fields(of_gold.kind)) and not same:
            return "joined to the wrong part"
        if same:
            return "wrong status"
        if (entry.get("component") or {}).get("id") == "unknown":
            return "part that is none"
        named = [of_gold for of_gold in alike if entry["kind"] in _VALUE_OF and "component" in key_fields(of_gold.kind)]
        if any(is_right(of_gold, entry, "component", self.names) for of_gold in named):
            return "wrong value"
        if not any(_key(entry) == _key(ruled) for ruled in self.read.ruled):
            return "made up by the learnt component"
        return "no such line in the gold note"

    def _not_fact(self, entry: dict[str, Any]) -> bool:
        """Whether a qualifier of the rules held the statement back, or a cue for one stands in its sentence."""
        if any(held.by in _NOT_FACT and _key(as_dict(held.entry)) == _key(entry) for held in self.read.held):
            return True
        words = words_of(self._sentence(entry["evidence"]))
        forms = forms_of(self.lexicon)
        for at, word in enumerate(words):
            for end in (at + length for length in forms.lengths_at(words, at)):
                if any(form.kind[4:] in _NOT_FACT for form in forms.whole.get(words[at:end], ()) if form.kind.startswith("cue:")):
                    return True
        return False

    # --- words -------------------------------------------------------------------------------------

    def _words(self, thing: list[Mention] | None, value: list[Mention] | None) -> str:
        """The words of the note that a gold entry is likely about: where its part and its value stand nearest."""
        text = self.gold.text
        if thing and value:
            one, other = min(((a, b) for a in thing for b in value), key=lambda pair: abs(pair[0].start - pair[1].start))
            start, end = min(one.start, other.start), max(one.end, other.end)
        elif thing or value:
            start, end = (thing or value)[0].start, (thing or value)[0].end
        else:
            return ""
        if end - start > 3 * _AROUND:
            return " ... ".join(" ".join(text[m.start : m.end].split()) for m in sorted((one, other), key=lambda m: m.start))
        return _around(text, start, end)

    def _sentence(self, evidence: dict[str, Any]) -> str:
        """The sentence of some evidence, or the words around it where the text has no marks."""
        text, start, end = self.gold.text, evidence["start"], evidence["end"]
        begin = max((match.end() for match in _SENTENCE_END.finditer(text, 0, start)), default=0)
        stop = next((match.start() for match in _SENTENCE_END.finditer(text, end)), len(text))
        before, after = text[begin:start].split()[-_MOST_WORDS:], text[end:stop].split()[:_MOST_WORDS]
        return " ".join([*before, *text[start:end].split(), *after])


def _around(text: str, start: int, end: int) -> str:
    """The words around a span, whole words only."""
    left, right = max(0, start - _AROUND // 2), min(len(text), end + _AROUND // 2)
    while left > 0 and not text[left - 1].isspace():
        left -= 1
    while right < len(text) and not text[right].isspace():
        right += 1
    return " ".join(text[left:right].split())


def _key(entry: dict[str, Any]) -> tuple:
    """An entry without its status, its place, its words and how sure it is."""
    component = entry.get("component") or {}
    kept = {name: entry.get(name) for name in key_fields(entry["kind"]) if name not in ("component", "status")}
    return entry["kind"], component.get("id"), component.get("label"), str(kept)
