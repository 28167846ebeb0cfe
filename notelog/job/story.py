"""The entries of all notes as one story in the order of time, with the places that the whole job tells.

A thing whose side was said on Monday keeps it on Thursday: a place that was said in part is filled in with what the
job says elsewhere of the same component, when only one place fits; then with the place of what it is part of. In the
same way a short name that its own note does not explain ("the arm has come") is taken for the one component of the job
whose name it ends.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from notelog.job.notes import JobNote, in_order
from notelog.job.places import NOWHERE, SIDES, Spot, filled_in, spots_of
from notelog.job.sections import Quote
from notelog.job.things import UNNAMED, Things
from notelog.lexicon.load import Lexicon
from notelog.lexicon.words import normal
from notelog.models import EntryBase, Finding, Measurement, Operation, Part

ASSEMBLING = ("fit", "replace")


@dataclass(frozen=True, slots=True, eq=False)
class Statement:
    """An entry in its place in the story: `order` counts up over the job; `key` is its component's, None if it has none;
    `spots` are the places that it is about; `short` is the short name by which the component was known, or ""."""

    order: int
    note: int
    id: str
    entry: EntryBase
    key: str | None
    spots: tuple[Spot, ...]
    quote: Quote
    accepted: bool
    short: str

    def at(self, spot: Spot) -> bool:
        """Whether it can be about this place."""
        return any(own.fits(spot) for own in self.spots)


class Story:
    """All statements of a job. Read-only; the sections are made from it."""

    def __init__(self, notes: Iterable[JobNote], lexicon: Lexicon):
        self.things = Things(lexicon)
        self.notes = in_order(notes)
        self.settled = self._settled_names()
        raw = list(self._told())
        self._looks, self._deeds = self._known_places(raw)
        self.statements: list[Statement] = [
            Statement(
                order,
                note,
                given.id,
                given.entry,
                key,
                self._places(key, said, given.entry),
                quote,
                given.accepted,
                short,
            )
            for order, (note, given, key, said, quote, short) in enumerate(raw)
        ]
        self.by_kind: dict[str, list[Statement]] = defaultdict(list)
        for statement in self.statements:
            self.by_kind[statement.entry.kind].append(statement)

    def _told(self) -> Iterator[tuple]:
        meant, settled = self._short_names(), self.settled
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
                short = self.things.label(key) if key in meant and key not in settled else ""
                key = settled.get(key) or meant.get(key, key)
                yield number, given, key, spots_of(getattr(given.entry, "position", None)), _quote(note, given), short

    def _short_names(self) -> dict[str, str]:
        """What is in no lexicon, and the one component of the job whose name it ends."""
        components = [getattr(given.entry, "component", None) for note in self.notes for given in note.entries]
        keys = dict.fromkeys(self.things.key(component) for component in components if component is not None)
        known = [term for key in keys if (term := self.things.term(key))]
        meant = {}
        for key in keys:
            if self.things.term(key) is None:
                ending = f" {self.things.label(key)}"
                found = [term.id for term in known if any(normal(name).endswith(ending) for name in term.names)]
                if len(found) == 1:
                    meant[key] = found[0]
        return meant

    def _settled_names(self) -> dict[str, str]:
        """Words for a component (as the key of what is in no lexicon), and the one component that people say they mean."""
        told: dict[str, set[str]] = defaultdict(set)
        for note in self.notes:
            for given in note.entries:
                component = getattr(given.entry, "component", None)
                if given.named_by_person and component is not None and component.said:
                    told[self.things.unknown_key(component.said)].add(self.things.key(component))
        return {name: keys.pop() for name, keys in told.items() if len(keys) == 1}

    def _known_places(self, raw: list[tuple]) -> tuple[dict[str, set[Spot]], dict[str, set[Spot]]]:
        """The places said of each component: by findings and readings, and by all else."""
        looks: dict[str, set[Spot]] = defaultdict(set)
        deeds: dict[str, set[Spot]] = defaultdict(set)
        for _, given, key, said, *_ in raw:
            if key is not None:
                known = looks if isinstance(given.entry, (Finding, Measurement)) else deeds
                for name in dict.fromkeys((key, self.things.same(key))):
                    known[name].update(said)
        return looks, deeds

    def _places(self, key: str | None, said: tuple[Spot, ...], entry: EntryBase) -> tuple[Spot, ...]:
        """The places with what is known of the component: first by what was done to it (or, for a finding, found on it),
        then by all that is said of it, then by what stands for it, then by what it is part of."""
        if key is None:
            return said
        no_side = isinstance(entry, (Operation, Part)) and self._side_says_nothing(key)
        if no_side:
            said = tuple(dict.fromkeys(spot._replace(side=None) for spot in said))
        look = isinstance(entry, (Finding, Measurement))
        # A set of pads, or two of a thing, may be for both sides.
        for_both = isinstance(entry, Part) and (entry.count > 1 or self.things.bought_in_sets(key))
        several = self._several(key, entry)
        pools = []
        for name in dict.fromkeys((key, self.things.same(key))):
            mine, other = (self._looks, self._deeds) if look else (self._deeds, self._looks)
            # The side of a dent is where the dent is; a bumper is not a left bumper for it.
            more = other[name] if self.things.sided(key) else _sideless(other[name])
            pools += [mine[name], mine[name] | more]
        filled = []
        for spot in said:
            for pool in pools:
                spot = filled_in(spot, _sideless(pool) if no_side or for_both or several else pool)
            spot = spot if for_both or several else self._from_wholes(key, spot)
            filled += self._both_sides(key, spot, entry) or [spot]
        return tuple(dict.fromkeys(filled))

    def _both_sides(self, key: str, spot: Spot, entry: EntryBase) -> list[Spot]:
        """Left and right, when two of what has one a side are asked for, or several are spoken of with no side."""
        two = isinstance(entry, Part) and entry.count == len(SIDES)
        if (two or self._several(key, entry)) and self.things.one_of_each_side(key, spot, two_said=two):
            return [spot._replace(side=side) for side in SIDES]
        return []

    def _several(self, key: str, entry: EntryBase) -> bool:
        """Whether several of what has one a side are spoken of ("rear wheels off")."""
        if key not in self.things.rules.one_a_side or not isinstance(entry, (Finding, Operation)):
            return False
        return self.things.many_said(entry.component)

    def _side_says_nothing(self, key: str) -> bool:
        """Whether the job knows one side only for work on what has no left and right: the place that was spoken of then."""
        sides = {spot.side for spot in self._deeds[key] if spot.side}
        return not self.things.sided(key) and len(sides) == 1

    def _from_wholes(self, key: str, spot: Spot) -> Spot:
        for whole in self.things.wholes(key):
            if spot.side and spot.axle:
                break
            known = self._looks[self.things.same(whole)] | self._deeds[self.things.same(whole)]
            # Only the corner is handed down: the lower arm's bush is not a lower bush.
            spot = filled_in(
                spot, {Spot(other.side if self.things.sided(key) else None, other.axle) for other in known}
            )
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


def _sideless(spots: Iterable[Spot]) -> set[Spot]:
    return {spot._replace(side=None) for spot in spots}


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
