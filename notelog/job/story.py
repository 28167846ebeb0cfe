"""The entries of all notes as one story in the order of time, with the places that the whole job tells.

A thing whose side was said on Monday keeps it on Thursday: a place that was said in part is filled in with what the
job says elsewhere of the same component, when only one place fits; then with the place of what it is part of.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from notelog.job.notes import JobNote, in_order
from notelog.job.places import NOWHERE, Spot, filled_in, spots_of
from notelog.job.sections import Quote
from notelog.job.things import UNNAMED, Things
from notelog.lexicon.load import Lexicon
from notelog.models import EntryBase, Finding, Measurement, Operation, Part

ASSEMBLING = ("fit", "replace")


@dataclass(frozen=True, slots=True, eq=False)
class Statement:
    """An entry in its place in the story: `order` counts up over the job; `key` is its component's, None if it has none;
    `spots` are the places that it is about."""

    order: int
    note: int
    id: str
    entry: EntryBase
    key: str | None
    said_spots: tuple[Spot, ...]
    spots: tuple[Spot, ...]
    quote: Quote
    accepted: bool

    def at(self, spot: Spot) -> bool:
        """Whether it can be about this place."""
        return any(own.fits(spot) for own in self.spots)


class Story:
    """All statements of a job. Read-only; the sections are made from it."""

    def __init__(self, notes: Iterable[JobNote], lexicon: Lexicon):
        self.things = Things(lexicon)
        self.notes = in_order(notes)
        raw = list(self._told())
        self._findings, self._deeds = self._known_places(raw)
        self.statements: list[Statement] = [
            Statement(order, note, given.id, given.entry, key, said, self._places(key, said, given.entry), quote, given.accepted)
            for order, (note, given, key, said, quote) in enumerate(raw)
        ]
        self.by_kind: dict[str, list[Statement]] = defaultdict(list)
        for statement in self.statements:
            self.by_kind[statement.entry.kind].append(statement)

    def _told(self) -> Iterator[tuple]:
        for number, note in enumerate(self.notes):
            spoken = sorted(
                enumerate(note.entries),
                key=lambda pair: (pair[1].entry.evidence.start, pair[1].entry.evidence.end, pair[0]),
            )
            for _, given in spoken:
                component = getattr(given.entry, "component", None)
                key = self.things.key(component) if component is not None else None
                if key is None and isinstance(given.entry, (Operation, Part, Finding)):
                    key = f"{UNNAMED}:{given.id}"
                yield number, given, key, spots_of(getattr(given.entry, "position", None)), _quote(note, given)

    def _known_places(self, raw: list[tuple]) -> tuple[dict[str, set[Spot]], dict[str, set[Spot]]]:
        """The places said of each component: by findings and readings, and by all else."""
        findings: dict[str, set[Spot]] = defaultdict(set)
        deeds: dict[str, set[Spot]] = defaultdict(set)
        for _, given, key, said, _ in raw:
            if key is not None:
                looked_at = isinstance(given.entry, (Finding, Measurement))
                (findings if looked_at else deeds)[self.things.same(key)].update(said)
        return findings, deeds

    def _places(self, key: str | None, said: tuple[Spot, ...], entry: EntryBase) -> tuple[Spot, ...]:
        if key is None:
            return said
        own = self.things.same(key)
        looked_at, done = self._findings[own], self._deeds[own]
        if not self.things.sided(key):
            # The side of a dent is where the dent is; a bumper is not a left bumper for it.
            if isinstance(entry, (Finding, Measurement)):
                done = {spot._replace(side=None) for spot in done}
            else:
                looked_at = {spot._replace(side=None) for spot in looked_at}
        filled = [filled_in(spot, looked_at | done) for spot in said]
        return tuple(dict.fromkeys(self._from_wholes(key, spot) for spot in filled))

    def _from_wholes(self, key: str, spot: Spot) -> Spot:
        for whole in self.things.wholes(key):
            if spot.side and spot.axle:
                break
            known = self._findings[self.things.same(whole)] | self._deeds[self.things.same(whole)]
            # Only the corner is handed down: the lower arm's bush is not a lower bush.
            corners = {Spot(other.side if self.things.sided(key) else None, other.axle) for other in known}
            spot = filled_in(spot, corners)
        return spot

    # --- what the sections ask ---

    def of_kind(self, kind: str) -> list[Statement]:
        return self.by_kind[kind]

    def operations(self, *actions: str, status: str | None = "done") -> list[Statement]:
        return [
            told
            for told in self.by_kind["operation"]
            if (not actions or told.entry.action in actions) and status in (None, told.entry.status)
        ]

    def goes_on_new(self, fitting: Statement, spot: Spot) -> bool:
        """Whether what a "replace" or "fit" put on at the spot is a new part.

        A "fit" puts on the new part when one had been asked for and had come; one that was asked for in the same note
        has not come by the end of it, unless the note says so.
        """
        if fitting.entry.action == "replace":
            return True
        own = self.things.same(fitting.key)
        asked = [
            told
            for told in self.by_kind["part"]
            if self.things.same(told.key) == own
            and told.at(spot)
            and (told.order < fitting.order or (told.note == fitting.note and told.entry.state == "on_hand"))
        ]
        if not asked:
            return False
        newest = asked[-1]
        return newest.entry.state == "on_hand" or newest.note < fitting.note


def distinct(quotes: Iterable[Quote]) -> list[Quote]:
    """The quotes, each entry once, in their order."""
    return list({quote.entry: quote for quote in quotes}.values())


def quotes_of(statements: Sequence[Statement]) -> list[Quote]:
    """The quotes of the statements in the order of the story, each once."""
    return distinct(told.quote for told in sorted(statements, key=lambda told: told.order))


def narrowest(spots: Iterable[Spot]) -> list[Spot]:
    """The spots without those that say less than another one that fits them."""
    spots = list(dict.fromkeys(spots))
    return [spot for spot in spots if not any(other.within(spot) for other in spots)]


def _quote(note: JobNote, given) -> Quote:
    evidence = given.entry.evidence
    return Quote(
        note=note.id,
        entry=given.id,
        when=note.when,
        author=note.author,
        source=note.source,
        text=evidence.text,
        start=evidence.start,
        end=evidence.end,
        t_start=evidence.t_start,
    )


__all__ = ["ASSEMBLING", "NOWHERE", "UNNAMED", "Statement", "Story", "distinct", "narrowest", "quotes_of"]
