"""Turning facts into entries."""

from __future__ import annotations

import bisect
import functools
from typing import NamedTuple

from notelog import models
from notelog.hearing import hear, load_mishearings
from notelog.lexicon import Lexicon
from notelog.log.why import Reasons
from notelog.models import Entry, Log, Note, NoteInfo, Size
from notelog.sweeping import unswept
from notelog.understanding import understand
from notelog.understanding.relations import Fact
from notelog.understanding.spotter import MAX_WORDS
from notelog.understanding.state import Mention, Talk

DROPPED = {"hypothetical", "general", "other_vehicle", "retracted"}
_SHOWN = ("component", "condition", "action", "tool", "material", "fastener", "quantity", "place")


@functools.lru_cache(maxsize=1)
def _mishearings():
    return load_mishearings()


@unswept
def log_note(
    note: Note, driver_side: str = "right", without: tuple[str, ...] = (), lexicon: Lexicon | None = None
) -> Log:
    """The log of a note. `driver_side` is the side that the driver sits on; `without` names components to leave out;
    `lexicon` is the shipped one unless another is given, such as one with the shop's own file.

    >>> from notelog.reading import read_text
    >>> log = log_note(read_text("Nearside front: lower arm bent, 18mm bolts. New one ordered."))
    >>> [(entry.kind, entry.evidence.text) for entry in log.entries][0]
    ('finding', 'lower arm bent')
    """
    builder = _understood(note, driver_side, without, lexicon)
    talk, entries = builder.talk, builder.entries()
    mentions = []
    for mention in talk.mentions:
        if mention.kind in _SHOWN:
            start, end = builder.span(mention.start, mention.end)
            identity = mention.id
            if mention.kind == "place":
                identity = talk.lexicon.places[int(mention.id)]["said"]
            mentions.append({"kind": mention.kind, "id": identity, "start": start, "end": end})
    warnings = list(note.warnings)
    if len(talk.words) > MAX_WORDS:
        warnings.append(f"The note has {len(talk.words)} words; beyond {MAX_WORDS} only the rules read it, less well: split it.")
    return Log(
        note=NoteInfo(source=note.source, sha256=note.sha256, driver_side=driver_side),
        entries=entries,
        mentions=mentions,
        warnings=warnings,
    )


class Held(NamedTuple):
    """A statement that was said and is in no log: as the entry that it would be, and the qualifier that held it back."""

    entry: Entry
    by: str


def held_back(
    note: Note, driver_side: str = "right", without: tuple[str, ...] = (), lexicon: Lexicon | None = None
) -> list[Held]:
    """What the rules found in a note and a qualifier held back: "hypothetical", "general", "other_vehicle" or "retracted".

    The arguments are those of `log_note`. With the learnt component its own verdict takes the place of the first three.

    >>> from notelog.reading import read_text
    >>> [(held.entry.condition, held.by) for held in held_back(read_text("If the hub were bent you would see it."))]
    [('bent', 'hypothetical')]
    """
    builder = _understood(note, driver_side, without, lexicon)
    facts = [fact for fact in builder.talk.facts if fact.flags & DROPPED]
    return [Held(builder.entry(fact), min(fact.flags & DROPPED)) for fact in facts]


def _understood(note: Note, driver_side: str, without: tuple[str, ...], lexicon: Lexicon | None) -> _Builder:
    heard = hear(note.spoken, driver_side, _mishearings())
    return _Builder(note, understand(heard, driver_side, without, lexicon)._.talk)


class _Builder:
    """Makes the entries; their parts as plain dicts, which the models make up in one go and sooner."""

    def __init__(self, note: Note, talk: Talk):
        self.note, self.talk = note, talk
        self.lexicon: Lexicon = talk.lexicon
        self.source_span, self.starts, self.ends = talk.heard.mapped.source_span, talk.starts, talk.ends
        self.segment_starts = [segment.start for segment in note.segments]
        self.reasons = Reasons(talk, self.said)

    def span(self, start: int, end: int) -> tuple[int, int]:
        """The verbatim span of the words `start:end`."""
        return self.source_span(self.starts[start], self.ends[end - 1])

    def evidence(self, fact: Fact) -> dict:
        start, end = self.span(fact.start, fact.end)
        t_start = t_end = None
        if self.segment_starts:
            first = bisect.bisect_right(self.segment_starts, start) - 1
            last = bisect.bisect_right(self.segment_starts, end - 1) - 1
            if first >= 0:
                t_start = self.note.segments[first].t_start
                t_end = self.note.segments[last].t_end
        return {"start": start, "end": end, "text": self.note.text[start:end], "t_start": t_start, "t_end": t_end}

    def said(self, mention: Mention, itself: bool = False) -> str:
        """The verbatim words of a mention; of one that was put right later the words that did it, unless `itself`."""
        if not itself:
            mention = mention.instead or mention
        start, end = self.span(mention.start, mention.end)
        return " ".join(self.note.text[start:end].split())

    def named(self, mention: Mention | None) -> dict | None:
        if mention is None:
            return None
        term = self.lexicon.terms["component"].get(mention.id)
        if term is not None:
            return {"id": term.id, "label": term.label, "said": self.said(mention)}
        return {"id": "unknown", "label": mention.label, "said": self.said(mention)}

    def thing(self, kind: str, mention: Mention) -> dict:
        """A tool or a material: the lexicon's, or what was said where it has none."""
        term = self.lexicon.terms[kind].get(mention.id)
        return {"id": term.id if term else "unknown", "label": term.label if term else mention.label, "said": self.said(mention)}

    def entries(self) -> list:
        kept: dict[tuple, object] = {}
        for fact in self.talk.facts:
            if fact.flags & DROPPED:
                continue
            entry = self.entry(fact)
            key = _key(entry)
            if key not in kept or entry.confidence > kept[key][0].confidence:
                kept[key] = entry, fact
        for entry, fact in kept.values():
            entry.why = self.reasons.of(fact, getattr(entry, "status", ""))
        entries = sorted((entry for entry, _ in kept.values()), key=lambda entry: (entry.evidence.start, entry.evidence.end))
        return _newest_state(entries)

    def entry(self, fact: Fact):
        common = {"evidence": self.evidence(fact), "confidence": _confidence(fact)}
        position = {name: value for name, value in zip(("side", "axle", "level", "depth"), fact.place) if value}
        if fact.kind == "finding":
            status = "present"
            if "denied" in fact.flags:
                status = "absent"
                if fact.value in ("damaged", "inoperative") and "doubted" not in fact.flags:
                    return models.Finding(component=self.named(fact.component), position=position, condition="good", status="present", **common)
                if fact.value == "good":
                    return models.Finding(component=self.named(fact.component), position=position, condition="damaged", status="suspected" if "doubted" in fact.flags else "present", **common)
            elif "doubted" in fact.flags:
                status = "suspected"
            elif "past" in fact.flags:
                status = "past"
            return models.Finding(component=self.named(fact.component), position=position, condition=fact.value, status=status, **common)
        if fact.kind == "operation":
            return models.Operation(component=self.named(fact.component), position=position, action=fact.value, status=fact.status, **common)
        if fact.kind == "fastener":
            return models.Fastener(type=fact.value, drive=fact.drive or None, size=_size(fact), count=fact.count, component=self.named(fact.component), position=position, **common)
        if fact.kind == "tool":
            return models.Tool(tool=self.thing("tool", fact.mention), size=_size(fact), **common)
        if fact.kind == "measurement":
            return models.Measurement(quantity=fact.value, low=fact.low, high=fact.high, unit=fact.unit, component=self.named(fact.component), position=position, **common)
        if fact.kind == "part":
            return models.Part(component=self.named(fact.component), position=position, count=fact.count or 1, state=fact.status, **common)
        if fact.kind == "material":
            return models.Material(material=self.thing("material", fact.mention), **common)
        if fact.kind == "labour":
            return models.Labour(hours=fact.low, **common)
        return models.Cost(amount=fact.low, currency=fact.value, component=self.named(fact.component), **common)


def _size(fact: Fact) -> Size | None:
    return Size(value=fact.size[0], unit=fact.size[1]) if fact.size else None


def _confidence(fact: Fact) -> float:
    if fact.probability:
        return round(max(0.05, min(0.999, fact.probability)), 3)
    base = _RULE_CONFIDENCE.get(fact.rule, 0.7)
    if fact.component is not None and fact.component.id == "unknown":
        base -= 0.1
    return round(max(0.05, min(0.99, base)), 2)


_RULE_CONFIDENCE = {
    "subject": 0.85, "attribute": 0.9, "noun of": 0.9, "object": 0.9, "pronoun": 0.75, "carried over": 0.65,
    "state of subject": 0.9, "passive subject": 0.9, "named": 0.9, "reading": 0.85, "price": 0.95, "time spent": 0.95,
    "time": 0.6, "torque figure": 0.85, "behind preposition": 0.55, "far subject": 0.5, "attribute far": 0.5, "same again": 0.7,
    "unknown subject": 0.6, "fronted object": 0.8, "asked for": 0.85, "ordered": 0.9, "on_hand": 0.85, "usual object": 0.85,
    "whole vehicle": 0.8, "named work": 0.8, "subject of need": 0.85,
}  # fmt: skip


_TOLD = {
    "finding": ("condition", "status"), "operation": ("action", "status"), "measurement": ("quantity", "low", "high", "unit"),
    "part": ("state",), "labour": ("hours",), "cost": ("amount", "currency"),
}  # fmt: skip


def _key(entry) -> tuple:
    """What makes two entries the same fact: a note logs it once."""
    if entry.kind == "tool":
        return ("tool", entry.tool.id, entry.tool.label, str(entry.size))
    if entry.kind == "material":
        return ("material", entry.material.id, entry.material.label)
    if entry.kind == "fastener":
        return ("fastener", entry.type, str(entry.size), entry.component.label if entry.component else "")
    component = getattr(entry, "component", None)
    name = (component.id, component.label) if component else None
    rest = tuple(str(getattr(entry, field)) for field in _TOLD[entry.kind])
    place = getattr(entry, "position", None)
    where = (place.side, place.axle) if place is not None else None
    return (entry.kind, name, where, rest)


def _newest_state(entries: list) -> list:
    """The newest state of a part wins: needed, then ordered, then on hand, for the same component and place."""
    newest: dict[tuple, object] = {}
    for entry in entries:
        if entry.kind == "part" and entry.component is not None:
            newest[(entry.component.id, entry.component.label, entry.position.side, entry.position.axle)] = entry
    return [entry for entry in entries if entry.kind != "part" or entry.component is None or newest[(entry.component.id, entry.component.label, entry.position.side, entry.position.axle)] is entry]
