"""Open questions for the technician. The id of a question is made of what is asked and of the entry that it is about."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Sequence

from rapidfuzz import fuzz

from notelog.job.damage import GOOD, State
from notelog.job.parts import Wanted
from notelog.job.places import SIDES, at_place
from notelog.job.sections import Question
from notelog.job.sizes import SizeCheck, tables_of
from notelog.job.story import ASSEMBLING, Statement, Story
from notelog.job.things import UNKNOWN, UNNAMED
from notelog.lexicon import forms_of, normal
from notelog.lexicon.words import words_of

UNSURE = 0.7
"""Below this confidence a pronoun is asked about; extraction gives one that it resolved in plain words more."""

SOMETHING_ELSE = "something else"
"""The answer that the part asked about is not the one that is meant."""

NO_PART = "no part"
"""The answer that words taken for a part are none."""

FIELDS = {
    "side_missing": "position.side", "count_missing": "count", "unclear_it": "component", "mishearing": "component",
    "unknown_part": "component", "odd_size": "size",
}  # fmt: skip
"""The field of the entry that each kind of question asks about."""

_SOUNDS_FAR = 70
"""Out of 100: a name less alike than this to any of the component's is asked about."""

_ABOUT_NAMES = ("mishearing", "unknown_part")

_SIDE_MATTERS = (*ASSEMBLING, "remove", "disconnect", "separate", "cut", "connect")


def questions(
    story: Story, parts: list[Wanted], states: Sequence[State], answered: Collection[str] = ()
) -> list[Question]:
    """What is to be asked, in the order of the story; without those of `answered` and those about accepted entries."""
    asked: dict[str, Question] = {}
    sides_asked: set[tuple[str, str]] = set()
    names_asked = {
        (kind, told.key, _said(told))
        for told in story.statements
        for kind in _ABOUT_NAMES
        if f"{kind}:{told.id}" in answered
    }
    for told in story.statements:
        if told.accepted:
            continue
        for question in _about(story, told, parts, states):
            if question.kind == "side_missing":
                if (told.key, told.entry.kind) in sides_asked:
                    continue
                sides_asked.add((told.key, told.entry.kind))
            if question.kind in _ABOUT_NAMES:
                # What a word means is asked, and answered, once for the job.
                if (name := (question.kind, told.key, _said(told))) in names_asked:
                    continue
                names_asked.add(name)
            if question.id not in answered:
                asked.setdefault(question.id, question)
    return list(asked.values())


def _question(told: Statement, kind: str, text: str, options: list[str]) -> Question:
    return Question(
        id=f"{kind}:{told.id}", kind=kind, entry=told.id, field=FIELDS[kind], text=text, options=options, quotes=[told.quote]
    )


def _about(
    story: Story, told: Statement, parts: list[Wanted], states: Sequence[State]
) -> Iterator[Question]:
    entry = told.entry
    if told.key is not None and told.key.startswith(f"{UNNAMED}:"):
        yield _question(told, "unclear_it", f"Which part is meant by “{told.quote.text}”?", [])
        return
    if told.short:
        label = story.things.label(told.key)
        yield _question(told, "unclear_it", f"Is “{told.short}” the {label}?", [label, SOMETHING_ELSE])
    elif entry.kind in ("finding", "operation", "part") and _unclear(story, told):
        label = story.things.label(told.key)
        yield _question(
            told, "unclear_it", f"Is “{told.quote.text}” about the {label}?", [label, SOMETHING_ELSE]
        )
    elif told.key is not None and told.key.startswith(f"{UNKNOWN}:"):
        label = story.things.label(told.key)
        yield _question(
            told,
            "unknown_part",
            f"“{label}” is in no lexicon: is it a part, and is it called so?",
            [label, NO_PART],
        )
    elif told.key is not None and _misheard(story, told):
        label = story.things.label(told.key)
        yield _question(
            told, "mishearing", f"“{entry.component.said}” was taken as {label}: is it?",
            [label, SOMETHING_ELSE],
        )  # fmt: skip
    yield from _side(story, told, parts)
    yield from _sound_side(story, told, parts, states)
    yield from _count(story, told, parts)
    yield from _size(story, told)


def _said(told: Statement) -> str:
    component = getattr(told.entry, "component", None)
    return normal(component.said) if component is not None else ""


def _pronouns(story: Story) -> frozenset[str]:
    words = story.things.lexicon.words
    return words["pronoun"] | words["object_pronoun"]


def _unclear(story: Story, told: Statement) -> bool:
    """Taken for a component by a pronoun, and not sure."""
    if told.entry.confidence >= UNSURE or told.entry.component is None:
        return False
    pronouns = _pronouns(story)
    said = _said(told)
    words = normal(told.quote.text)
    return said in pronouns or (said not in words and not pronouns.isdisjoint(words_of(words)))


def _misheard(story: Story, told: Statement) -> bool:
    """Whether what was said is no form of the component's names, no short form of one, and does not sound like one."""
    term = story.things.term(told.key)
    said = _said(told)
    if term is None or not said or said in _pronouns(story) or story.settled.get(story.things.unknown_key(said)) == told.key:
        return False
    words = words_of(said)
    if any(form.id == term.id for form in forms_of(story.things.lexicon).whole.get(words, [])):
        return False
    names = [normal(name) for name in term.names]
    if any(set(words) & set(words_of(name)) for name in names) and told.entry.confidence >= UNSURE:
        return False
    return told.entry.confidence < UNSURE or max(fuzz.ratio(said, name) for name in names) < _SOUNDS_FAR


def _side(story: Story, told: Statement, parts: list[Wanted]) -> Iterator[Question]:
    entry, things = told.entry, story.things
    term = things.term(told.key) if told.key else None
    if term is None or not term.sides or all(spot.side for spot in told.spots):
        return
    if entry.kind == "finding":
        matters = entry.status in ("present", "suspected") and entry.condition != "good"
    elif entry.kind == "operation":
        matters = entry.status == "done" and entry.action in _SIDE_MATTERS
    else:
        known = things.bought_in_sets(told.key) or any(part.key == told.key and part.spot.side for part in parts)
        matters = entry.kind == "part" and not known and not _several(told, parts)
    if not matters or things.many_said(entry.component):
        return
    thing = at_place(told.spots[0].position(), term.label)
    yield _question(
        told, "side_missing", f"Which side: {thing}, “{told.quote.text}”?", ["left", "right", "both"]
    )


def _sound_side(
    story: Story, told: Statement, parts: list[Wanted], states: Sequence[State]
) -> Iterator[Question]:
    """A part asked for on the side that was found good, while the other one is damaged and nothing is asked for it."""
    if told.entry.kind != "part" or len(told.spots) > 1 or told.spots[0].side is None:
        return
    (spot,) = told.spots
    other = spot._replace(side=next(side for side in SIDES if side != spot.side))
    mine = [state for state in states if story.things.same(state.key) == story.things.same(told.key)]
    here, there = (
        [state for state in mine if state.spot.side == place.side and state.spot.fits(place)] for place in (spot, other)
    )
    good = any(GOOD in state.denied and not state.damaged() for state in here)
    worse = any(state.damaged() for state in there)
    asked = any(part.key == told.key and part.spot.fits(other) for part in parts)
    if good and worse and not asked:
        thing = at_place(spot.position(), story.things.label(told.key))
        text = f"Which side: {thing}, “{told.quote.text}”? It was found good, and the {other.side} one damaged."
        yield _question(told, "side_missing", text, ["left", "right", "both"])


def _several(told: Statement, parts: list[Wanted]) -> bool:
    """Whether the job knows that more than one of the part is wanted."""
    return told.entry.count > 1 or any(part.key == told.key and part.count > 1 for part in parts)


def _count(story: Story, told: Statement, parts: list[Wanted]) -> Iterator[Question]:
    entry, things = told.entry, story.things
    if entry.kind == "part":
        label = things.label(told.key)
        if things.many_said(entry.component) and not _several(told, parts) and len(told.spots) == 1:
            yield _question(told, "count_missing", f"How many: {label}, “{told.quote.text}”?", [])
    elif entry.kind == "fastener" and entry.count is None and told.key is not None and things.torque_wanted(told.key):
        label, kind = things.label(told.key), f"{entry.type}s"
        if re.search(rf"\b{kind}\b", told.quote.text, re.IGNORECASE):
            yield _question(told, "count_missing", f"How many {kind}: {label}, “{told.quote.text}”?", [])


def _size(story: Story, told: Statement) -> Iterator[Question]:
    tables = tables_of(story.things.lexicon)
    if told.entry.kind == "fastener":
        checked = tables.check(told.entry)
    elif told.entry.kind == "tool":
        checked = tables.check_tool(told.entry.tool.id, told.entry.size)
    else:
        checked = SizeCheck()
    if checked.odd:
        size = told.entry.size
        what = (
            f"M{size.value:g}"
            if size.unit == "M"
            else f"T{size.value:g}"
            if size.unit == "T"
            else f"{size.value:g} {size.unit}"
        )
        yield _question(
            told, "odd_size", f"{what} is in no table of sizes: what is it in “{told.quote.text}”?",
            list(checked.likely),
        )  # fmt: skip
