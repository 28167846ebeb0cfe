"""A question in the words of the trade, read into what is looked for.

It is read by the lexicon's own spoken forms (`notelog.archive.vocabulary`), the longest first, and no grammar: words that
stand together between marks and joining words make one `Wanted`. What means nothing to the lexicon is left as `rest`, by
which what was found is ranked. Nothing here looks at the archive but through `in_use`.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from typing import NamedTuple

from notelog.archive.times import Time, day_span, times_in
from notelog.archive.vocabulary import Vocabulary
from notelog.errors import InputError
from notelog.wording import plain, words_of

MOST_CHARACTERS = 2_000
MOST_WANTED = 12
_SHORTEST_MISTAKE = 4
_LONG = 6
"""From how many letters on two mistakes are forgiven (a letter more, less or other, or two turned round), not one."""

_PLACE = ("side", "axle", "level", "depth")
STATUSES = ("present", "absent", "suspected", "past", "done", "planned", "not_done")
_STATES = ("needed", "ordered", "on_hand")
_MODEL_YEAR = re.compile(r"(?<![\w-])(19|20)\d\d(?![\w-])")
_PHRASE = re.compile(r'"([^"]*)"')
_SPEECH_MARKS = str.maketrans({"“": '"', "”": '"'})


class Wanted(NamedTuple):
    """One thing that is looked for in an entry; what is empty may be anything.

    `components` are what was named (what is part of them counts as well), `conditions` any of which will do, `places` the
    wanted values of side, axle, level and depth. `status` is "" for what is there or was done, "absent" for what was denied,
    "suspected", "planned" or "not_done"; `state` is that of a part asked for.
    """

    components: tuple[str, ...] = ()
    conditions: tuple[str, ...] = ()
    actions: tuple[str, ...] = ()
    places: tuple[tuple[str, tuple[str, ...]], ...] = ()
    status: str = ""
    state: str = ""

    def names_a_thing(self) -> bool:
        """Whether anything but a place is wanted."""
        return bool(self.components or self.conditions or self.actions or self.state)


class Question(NamedTuple):
    """A question as it was understood.

    `classes` are kinds of vehicle, `vehicle_words` words of make, model or registration, `model_years` those of the vehicle;
    `since` and `until` are days; `rest` are words that only rank, `phrases` stood between double quotes and must be found.
    `taken` are words that were taken for others, with those. `rejected` asks for entries that people rejected.
    """

    text: str = ""
    wanted: tuple[Wanted, ...] = ()
    classes: tuple[str, ...] = ()
    vehicle_words: tuple[str, ...] = ()
    model_years: tuple[int, ...] = ()
    since: str | None = None
    until: str | None = None
    rest: tuple[str, ...] = ()
    phrases: tuple[str, ...] = ()
    taken: tuple[tuple[str, str], ...] = ()
    rejected: bool = False

    def is_understood(self) -> bool:
        """Whether any of it is more than words to rank by."""
        return bool(self.wanted or self.of_the_job())

    def with_rejected(self) -> Question:
        """The same, asking for entries that people rejected as well."""
        return self._replace(rejected=True)

    def of_the_job(self) -> bool:
        """Whether it asks for a vehicle or a time."""
        return bool(self.classes or self.vehicle_words or self.model_years or self.since or self.until)


@dataclass(eq=False)
class _Draft:
    components: list[str] = field(default_factory=list)
    conditions: list[str] = field(default_factory=list)
    actions: list[str] = field(default_factory=list)
    places: dict[str, list[str]] = field(default_factory=dict)
    status: str = ""
    state: str = ""
    piece: int = 0

    def has_more(self) -> bool:
        return bool(self.conditions or self.actions or self.state)

    def done(self) -> Wanted:
        places = tuple((name, tuple(self.places[name])) for name in _PLACE if name in self.places)
        return Wanted(tuple(self.components), tuple(self.conditions), tuple(self.actions), places, self.status, self.state)


def read_question(
    text: str,
    known: Vocabulary,
    *,
    driver_side: str = "right",
    today: date | None = None,
    in_use: Callable[[str], str] = lambda word: "",
) -> Question:
    """What a question asks for.

    `driver_side` tells what nearside and driver's side are. `in_use` tells of a word that the lexicon does not know whether
    the archive has it: "vehicle" in a make, model or registration, "note" in a note's text, "" nowhere.

    Raises InputError for a question without a word or with too many, and for one whose times exclude each other.

    >>> from notelog.archive.vocabulary import vocabulary
    >>> asked = read_question("bent wishbone offside front, hatchback, 2025", vocabulary())
    >>> asked.wanted[0].components, asked.wanted[0].conditions, asked.wanted[0].places
    (('lower_arm',), ('bent',), (('side', ('right',)), ('axle', ('front',))))
    >>> asked.classes, asked.since, asked.until
    (('hatchback',), '2025-01-01', '2025-12-31')
    """
    text = " ".join(text.replace("\0", " ").translate(_SPEECH_MARKS).split())
    if not re.search(r"\w", text.replace("_", "")):
        raise InputError(f"There is no word to look for in {text[:60]!r}: give at least one, such as a part's name.")
    if len(text) > MOST_CHARACTERS:
        raise InputError(
            f"The question has {len(text)} characters and may have {MOST_CHARACTERS}: ask for less at once; "
            "`notelog like --note FILE` takes a whole note."
        )
    today = today or date.today()
    asked = re.sub(r"[_^*]+", " ", plain(text.lower()))
    phrases = [" ".join(one.split()) for one in _PHRASE.findall(asked) if re.search(r"\w", one)]
    asked, model_years, times = _times(_PHRASE.sub(r"\1", asked) if not phrases else _PHRASE.sub(" , ", asked), known, today)
    reader = _Reader(known, driver_side, in_use)
    reader.read(list(words_of(asked)))
    since, until = _one_span(times)
    made = Question(
        text, reader.wanted(), tuple(dict.fromkeys(reader.classes)), tuple(dict.fromkeys(reader.vehicle_words)),
        tuple(model_years), since, until, tuple(dict.fromkeys(reader.rest)), tuple(phrases), tuple(reader.taken), reader.rejected,
    )  # fmt: skip
    if not (made.is_understood() or made.rest or made.phrases or made.rejected):
        raise InputError(
            f"{text[:60]!r} has only words that stand in every note: name a part, what is wrong with it, a place, a vehicle or a time."
        )
    return made


def narrowed(
    asked: Question,
    known: Vocabulary,
    *,
    component: list[str] | None = None,
    condition: list[str] | None = None,
    action: list[str] | None = None,
    place: list[str] | None = None,
    status: str | None = None,
    vehicle: list[str] | None = None,
    model_year: int | None = None,
    since: str | None = None,
    until: str | None = None,
    driver_side: str = "right",
    today: date | None = None,
) -> Question:
    """The question with parts of it given as options, each in the place of what the words said of it.

    Raises InputError for a name that the lexicon does not have, and for a time that is none.
    """
    today = today or date.today()
    first, *others = asked.wanted or (Wanted(),)
    given = {
        "components": named(known, "component", component), "conditions": named(known, "condition", condition),
        "actions": named(known, "action", action),
    }  # fmt: skip
    first = first._replace(**{name: value for name, value in given.items() if value})
    if place:
        values: dict[str, list[str]] = {}
        for one in place:
            found = [id for kind, id in known.meanings(words_of(one)) if kind == "place"]
            if not found:
                raise InputError(f"There is no place {one!r}: give one such as left, nearside front, rear or upper.")
            for name, value in _place(found[0], driver_side).items():
                values.setdefault(name, []).append(value)
        first = first._replace(places=tuple((name, tuple(values[name])) for name in _PLACE if name in values))
    if status and status not in STATUSES:
        raise InputError(f"The status cannot be {status!r}: it is one of {', '.join(STATUSES)}.")
    if status:
        first = first._replace(status="" if status in ("present", "done") else status)
    classes, words = list(asked.classes), list(asked.vehicle_words)
    for one in vehicle or []:
        found = [id for kind, id in known.meanings(words_of(one)) if kind == "vehicle"]
        classes += found[:1]
        words += [] if found else [word for word in words_of(one) if word[0].isalnum()]
    since, until = time_span(since, today)[0], time_span(until, today)[1]
    made = asked._replace(
        wanted=tuple(one for one in (first, *others) if one != Wanted()), classes=tuple(dict.fromkeys(classes)),
        vehicle_words=tuple(dict.fromkeys(words)), since=since or asked.since, until=until or asked.until,
        model_years=(model_year,) if model_year else asked.model_years,
    )  # fmt: skip
    if made.since and made.until and made.since > made.until:
        raise _no_such_day(made.since, made.until)
    if not (made.is_understood() or made.rest or made.phrases or made.rejected):
        raise InputError("There is nothing to look for: give words, or options such as --component or --since.")
    return made


def told(asked: Question, known: Vocabulary) -> list[tuple[str, str]]:
    """How a question was understood, as pairs of a heading and words.

    >>> from notelog.archive.vocabulary import vocabulary
    >>> told(read_question("no play in the wheel bearing", vocabulary()), vocabulary())
    [('looked for', 'wheel bearing with what is part of it: play, denied')]
    """
    lines = [("taken as", f"{meant} (for {said})") for said, meant in asked.taken]
    lines += [("looked for", wanted_told(one, known)) for one in asked.wanted]
    if asked.phrases:
        lines.append(("in these words", "; ".join(asked.phrases)))
    if vehicle := [*asked.classes, *asked.vehicle_words, *(f"model year {year}" for year in asked.model_years)]:
        lines.append(("vehicle", ", ".join(one.replace("_", "-") for one in vehicle)))
    if asked.since or asked.until:
        span = [f"since {asked.since}" if asked.since else "", f"until {asked.until}" if asked.until else ""]
        lines.append(("time", " ".join(filter(None, span))))
    if asked.rest:
        lines.append(("ranked by" if asked.is_understood() or asked.phrases else "words", " ".join(asked.rest)))
    return lines + ([("rejected", "entries that people rejected too")] if asked.rejected else [])


def wanted_told(wanted: Wanted, known: Vocabulary) -> str:
    """One thing that is looked for, in words."""
    labels = [known.label(one) for one in wanted.components]
    whole = any(len(known.with_parts(one)) > 1 for one in wanted.components)
    on = " or ".join(labels) + (" with what is part of it" if whole else "") if labels else "anything"
    what = " or ".join([*wanted.conditions, *wanted.actions, *([wanted.state.replace("_", " ")] if wanted.state else [])])
    status = {"absent": "denied", "": ""}.get(wanted.status, wanted.status.replace("_", " "))
    where = " ".join(" or ".join(values) for name, values in sorted(wanted.places, key=lambda one: one[0] != "axle"))
    return ", ".join(filter(None, [f"{on}: {what}" if what else on, status, where]))


def named(known: Vocabulary, kind: str, names: list[str] | None) -> tuple[str, ...]:
    """The ids of components, conditions or actions by any of their names, or by their ids. Raises InputError for another name.

    >>> from notelog.archive.vocabulary import vocabulary
    >>> named(vocabulary(), "component", ["wishbone"])
    ('lower_arm',)
    """
    ids = []
    for name in names or []:
        found = [id for of, id in known.meanings(words_of(name)) if of == kind]
        if not found and known.has(kind, name):
            found = [name]
        if not found:
            raise InputError(f"There is no {kind} {name!r} in the lexicon: `notelog lexicon show` tells what there is.")
        ids.append(found[0])
    return tuple(ids)


def time_span(text: str | None, today: date | None = None) -> tuple[str | None, str | None]:
    """The first and the last day of a time as an option gives it; none of no text. Raises InputError for what is no time.

    >>> time_span("2025-02"), time_span(None)
    (('2025-02-01', '2025-02-28'), (None, None))
    """
    if text is None:
        return None, None
    span = day_span(text, today or date.today())
    if span is None:
        raise InputError(f"{text!r} is no time: write 2025, 2025-03, 2025-03-31, March 2025 or last year.")
    return span


def _place(id: str, driver_side: str) -> dict[str, str]:
    place = json.loads(id)
    other = "left" if driver_side == "right" else "right"
    if place.get("side") in ("driver", "kerb"):
        place["side"] = driver_side if place["side"] == "driver" else other
    return {name: value for name, value in place.items() if name in _PLACE}


def _times(text: str, known: Vocabulary, today: date) -> tuple[str, list[int], list[Time]]:
    """The text without its times, the years that stand beside a kind of vehicle, and the times."""
    names = "|".join(sorted((re.escape(name) for names in known.classes.values() for name in names), key=len, reverse=True))
    years = []

    def take(match: re.Match[str]) -> str:
        years.append(int(_MODEL_YEAR.search(match[0])[0]))
        return _MODEL_YEAR.sub(" ", match[0])

    text = re.sub(rf"(?<![\w-])(?<!since )(?<!in )(?:(?:19|20)\d\d\s+(?:{names})s?|(?:{names})s?\s+of\s+(?:19|20)\d\d)(?![\w-])", take, text)
    times = times_in(text, today)
    for one in reversed(times):
        text = f"{text[: one.start]} , {text[one.end :]}"
    return text, years, times


def _one_span(times: list[Time]) -> tuple[str | None, str | None]:
    """All times together: from the latest first day to the earliest last one; spans of their own give the span of both."""
    closed = [one for one in times if one.since and one.until]
    since = [one.since for one in times if one.since and not one.until]
    until = [one.until for one in times if one.until and not one.since]
    if closed:
        since.append(min(one.since for one in closed))
        until.append(max(one.until for one in closed))
    first, last = max(since, default=None), min(until, default=None)
    if first and last and first > last:
        raise _no_such_day(first, last)
    return first, last


def _no_such_day(since: str, until: str) -> InputError:
    return InputError(f"The question asks for jobs since {since} and until {until}: no day is both; leave one of them out.")


class _Reader:
    """Reads the words of a question into drafts, one after the other."""

    def __init__(self, known: Vocabulary, driver_side: str, in_use: Callable[[str], str]) -> None:
        self.known, self.driver_side, self.in_use = known, driver_side, in_use
        self.classes: list[str] = []
        self.vehicle_words: list[str] = []
        self.rest: list[str] = []
        self.taken: list[tuple[str, str]] = []
        self.rejected = False
        self._drafts: list[_Draft] = [_Draft()]
        self._piece = 0
        self._or = False
        self._ahead = False
        self._holding: dict[str, list[str]] = {}  # a place that stood first, which holds for what follows it

    def read(self, words: list[str]) -> None:
        words = [self._right(word) for word in words]
        at = 0
        while at < len(words):
            at += self._step(words, at)
        self._end_of_piece()

    def wanted(self) -> tuple[Wanted, ...]:
        made = [one.done() for one in self._drafts if one.components or one.places or one.has_more()]
        if len(made := list(dict.fromkeys(made))) > MOST_WANTED:
            raise InputError(f"The question asks for {len(made)} things and may ask for {MOST_WANTED}: ask for less at once.")
        return tuple(made)

    def _step(self, words: list[str], at: int) -> int:
        if not any(letter.isalnum() for letter in words[at]) and words[at] not in ("&", "+"):
            self._end_of_piece()
            return 1
        for length in range(min(self.known.longest, len(words) - at), 0, -1):
            run = tuple(words[at : at + length])
            group = self._group(" ".join(run))
            if group and group != "stop":
                self._cue(group)
                return length
            found = self.known.meanings(run)
            if found and not (length == 1 and group == "stop" and found[0][0] != "component"):
                self._meaning(run, found)
                return length
        if not self._group(words[at]) and words[at] != "'s":
            self._unknown(words[at])
        return 1

    def _group(self, said: str) -> str:
        return next((group for group, words in self.known.groups.items() if said in words), "")

    def _cue(self, group: str) -> None:
        if group == "join":
            if self._draft.components:
                self._next()
        elif group == "break":
            self._end_of_piece()
        elif group == "choice":
            self._or = True
        elif group == "rejected":
            self.rejected = True
        elif group in _STATES:
            self._draft.state = group
        else:
            if self._draft.has_more():  # "the strut is not bent" goes on with the strut, "bent strut no play" does not
                self._next()
            self._draft.status = {"denied": "absent", "doubted": "suspected"}.get(group, group)

    @property
    def _draft(self) -> _Draft:
        return self._drafts[-1]

    def _next(self) -> None:
        self._drafts.append(_Draft(piece=self._piece))

    def _meaning(self, run: tuple[str, ...], found: list[tuple[str, str]]) -> None:
        kind, id = self._chosen(found)
        if kind == "vehicle":
            self.classes.append(id)
        elif kind == "place":
            self._at(_place(id, self.driver_side))
        elif kind == "component":
            if self._draft.components and not self._or:
                self._next()
            self._draft.components.append(id)
            self._also_a_place(run, id)
        else:
            into = self._draft.conditions if kind == "condition" else self._draft.actions
            if self._draft.components and self._draft.has_more() and id not in into and not self._or and self._ahead:
                self._next()
                into = self._draft.conditions if kind == "condition" else self._draft.actions
            if id not in into:
                into.append(id)
        self._ahead = kind != "component" if kind in ("component", "condition", "action") else self._ahead
        if kind != "place":
            self._or = False

    def _chosen(self, found: list[tuple[str, str]]) -> tuple[str, str]:
        """The meaning that is missing yet: of "buckle" the condition, when the part was said."""
        if self._draft.components:
            return next((one for one in found if one[0] != "component"), found[0])
        return found[0]

    def _at(self, place: dict[str, str]) -> None:
        draft = self._draft
        if draft.components and not self._or and any(name in draft.places and value not in draft.places[name] for name, value in place.items()):
            self._next()
        for name, value in place.items():
            values = self._draft.places.setdefault(name, [])
            if value not in values:
                values.append(value)

    def _also_a_place(self, run: tuple[str, ...], id: str) -> None:
        """The place in a name such as "front strut", when the rest of the name is the same component."""
        if len(run) < 2 or ("component", id) not in self.known.meanings(run[1:]):
            return
        for kind, place in self.known.meanings(run[:1]):
            if kind == "place":
                self._at(_place(place, self.driver_side))

    def _end_of_piece(self) -> None:
        """What stood between two marks is read: a place in it holds for all of it, a condition for the part before it."""
        of = [one for one in self._drafts if one.piece == self._piece and (one.components or one.places or one.has_more() or one.status)]
        things = [one for one in of if one.components or one.has_more()]
        places = [one.places for one in of if one.places]
        before = [one for one in self._drafts if one.piece < self._piece and (one.components or one.has_more())]
        if len(places) == 1:
            for one in things or [one for one in before if not one.places]:
                one.places = one.places or dict(places[0])
        if not things and (places and before):
            self._drafts = [one for one in self._drafts if one not in of]
        for at, one in enumerate(things):
            if one.components and not one.has_more():
                near = [other for other in [*things[at + 1 :], *reversed(things[:at])] if other.has_more()]
                if near:
                    one.conditions, one.actions, one.state = list(near[0].conditions), list(near[0].actions), near[0].state
                    one.status = one.status or near[0].status
            elif not one.components and one.has_more() and not one.actions and at == 0 and len(things) == 1 and before and not before[-1].has_more():
                # "lower arm, bent": what is wrong stands behind a mark.
                before[-1].conditions = one.conditions
                before[-1].status = before[-1].status or one.status
                self._drafts = [other for other in self._drafts if other is not one]
        if not things and places and not before:
            self._holding = places[0]
        for one in things:
            one.places = one.places or dict(self._holding)
        if things and self._holding:
            self._drafts = [one for one in self._drafts if one.components or one.has_more() or one is self._draft]
        self._piece += 1
        self._or = self._ahead = False
        self._next()

    def _right(self, word: str) -> str:
        """The word, or the one that it is taken for."""
        if len(word) < _SHORTEST_MISTAKE or not word.isalpha() or self.known.knows(word) or self._group(word) or self.in_use(word):
            return word
        from rapidfuzz.distance import OSA

        most = 1 if len(word) < _LONG else 2
        best = []
        for other, forms in self.known.words_like(word, most):
            apart = OSA.distance(word, other, score_cutoff=most)
            if apart <= most and len(other) >= _SHORTEST_MISTAKE:
                best.append((apart + 0.5 * (word[0] != other[0]) - 0.2 * math.log10(forms), other))
        if not best:
            return word
        meant = min(best)[1]
        self.taken.append((word, meant))
        return meant

    def _unknown(self, word: str) -> None:
        if self.in_use(word) == "vehicle":
            self.vehicle_words.append(word)
        else:
            self.rest.append(word)
