"""The component `notelog_references`: landmarks, lists, short names, "one" and what a pronoun stands for.

A short name takes the long name said before that ends in it ("the link" after "drop link"), or the part of the thing
just talked about ("took the hub off ... its bearing"). A pronoun stands for the last thing that was a subject or object.
"""

from __future__ import annotations

import functools

from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import Lexicon, load, normal
from notelog.understanding.mentions import SUFFIXES, singular, talk_of
from notelog.understanding.places import _joined, _value, merged
from notelog.understanding.state import NOWHERE, Mention, Talk

_ONES = {"one", "ones", "un", "uns"}
_KEEP_SHORT = {"wheel", "door", "brake", "seat", "tyre", "tire"}
_TWO_TRADES = {"boot", "arm", "link", "pin", "seal", "cap", "cup", "spring", "lock", "bush", "joint", "shaft", "box", "rod", "glass", "light",
               "lamp", "bearing", "mount", "bolt", "nut", "bracket", "cover", "housing", "lens", "sensor", "panel", "bar", "beam", "rail", "pump",
               "hose", "pipe", "line", "belt", "pulley", "bag", "airbag", "gaiter", "connector", "motor", "module", "camera", "radar", "tank", "cylinder",
               "knuckle", "carrier", "plate", "hanger", "strap", "shell", "skin", "plug", "lead", "cable", "column", "end", "leg", "pillar", "latch", "handle",
               "hinge", "switch", "valve", "bumper", "screen", "frame", "axle", "clamp", "clip", "stud", "retractor", "buckle", "liner", "regulator"}


@Language.factory("notelog_references", requires=["doc._.talk"])
def make_references(nlp: Language, name: str):
    """Factory of the component."""
    return References()


class References:
    """Settles, for every component mention, its role and what it stands for, and for every clause its antecedent."""

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, load())
        _ones(talk)
        _roles(talk)
        _short_names(talk)
        _antecedents(talk)
        _place_all(talk)
        return doc


def _ones(talk: Talk) -> None:
    """ "the offside one", "the new one": a mention that stands for the last component."""
    words, at = talk.words, talk.at
    last: Mention | None = None
    for clause in talk.clauses:
        added = []
        for i in range(clause.start, clause.end):
            mention = at[i]
            if mention is not None and mention.start == i and mention.kind == "component" and mention.tag != "one":
                last = mention
            left = at[i - 1] if i > clause.start else None
            place_said = left is not None and left.kind == "place" and left.end == i
            if last is None:
                continue
            if words[i] in _ONES and mention is None and (place_said or words[i - 1] in ("other", "new", "old", "that", "this", "another")):
                one = Mention("component", last.id, left.start if place_said else i, i + 1, "one", last.label, i)
            elif place_said and (words[i] in ("'s", "is", "was") or words[i] == ":") and i + 1 < len(words) and not any(m.kind == "component" and m.start >= i for m in clause.mentions):
                one = Mention("component", last.id, left.start, i, "one", last.label)
            else:
                continue
            one.clause = talk.clause_of[i]
            one.new = words[i - 1] in ("new", "another")
            if place_said:
                one.place = _joined(_value(talk, left, clause.place), (last.place if not last.placed else NOWHERE))
                one.placed = True
                one.place = merged(one.place, clause.place)
            elif words[i - 1] == "other":
                side = {"left": "right", "right": "left"}.get(last.place[0] or clause.place[0], "")
                one.place, one.placed = (side, last.place[1] or clause.place[1], "", ""), bool(side)
            else:
                one.place = last.place
            added.append(one)
            for k in range(one.start, one.end):
                at[k] = one
        if added:
            starts = {k for one in added for k in range(one.start, one.end)}
            clause.mentions = sorted([m for m in clause.mentions if m.start not in starts] + added, key=lambda m: m.start)
    talk.mentions = [mention for clause in talk.clauses for mention in clause.mentions]


def _roles(talk: Talk) -> None:
    words, at, groups = talk.words, talk.at, talk.lexicon.words
    skip = groups["determiner"] | groups["adjective"]
    number = 0
    for clause in talk.clauses:
        previous: Mention | None = None
        for mention in clause.mentions:
            if mention.kind not in ("component", "fastener"):
                continue
            i = mention.start - 1
            while i >= clause.start:
                other = at[i]
                if other is not None and other.kind in ("place", "quantity", "drive") or other is not None and other.kind == "condition" and other.tag in ("pred", "part", "ed"):
                    i = other.start - 1
                elif other is None and words[i] in skip:
                    if words[i] in ("new", "another", "replacement"):
                        mention.new = True
                    i -= 1
                else:
                    break
            link = words[i] if i >= clause.start else ""
            owner = at[i] if i >= clause.start else None
            if owner is not None and owner.kind == "cue:landmark" or owner is None and link in groups["preposition"]:
                verb = at[i - 1] if i > clause.start else None
                mention.core = verb is not None and verb.kind == "action" and verb.id in ("inspect", "measure", "test") and verb.tag not in ("noun", "state")
            if previous is not None and _listed(talk, previous.end, mention.start):
                if previous.group < 0:
                    number += 1
                    previous.group = number
                mention.group = previous.group
                mention.core = previous.core
            previous = mention


def _listed(talk: Talk, start: int, end: int) -> bool:
    """Whether only list words stand between two things: commas, and, determiners, places, counts."""
    words, at, groups = talk.words, talk.at, talk.lexicon.words
    if start == end or end - start > 6:
        return False
    joint = False
    i = start
    while i < end:
        mention = at[i]
        if words[i] in ("and", ",", "&", "+", "or", "plus", "nor"):
            joint = True
        elif mention is not None and mention.kind in ("place", "quantity") or words[i] in groups["determiner"] or words[i] in groups["adjective"]:
            pass
        else:
            return False
        i += 1
    return joint


def _short_names(talk: Talk) -> None:
    """Long names for short ones, and parts of the thing talked about.

    In this order: the part of what stands behind "of" or "on"; the part of the thing in the same clause ("the boot on
    it"); the last long name said that ends in the short one; the part of the thing just talked about.
    """
    lexicon = talk.lexicon
    names = lexicon.by_name("component")
    terms = lexicon.terms["component"]
    said: list[Mention] = []
    heads: dict[str, Mention] = {}
    for mention in talk.mentions:
        if mention.kind != "component":
            continue
        if mention.tag == "one":
            said.append(mention)
            continue
        words = talk.words[mention.start : mention.end]
        own = terms.get(mention.id)
        word = singular(words[-1] if len(words) == 1 or words[-1] not in SUFFIXES else words[-2], talk.lexicon)
        short = len(words) == 1 or len(words) == 2 and words[-1] in SUFFIXES
        if short and not (word in _KEEP_SHORT and own is not None):
            usual = own is not None and own.label == word
            owner = _of_owner(talk, mention)
            here = [m for m in said[-3:] if m.clause == mention.clause and m.core] if _on_it(talk, mention) else []
            recent = [m for m in said[-3:] if mention.clause - m.clause <= 2]
            if owner is not None:
                _become_part(talk, mention, owner, word, names, own is None)
            elif here and (own is None or word in _TWO_TRADES):
                _become_part(talk, mention, here[-1], word, names, False)
            elif word in heads and (not usual or word in _TWO_TRADES or own is None):
                _become(mention, heads[word])
            elif own is None or word in _TWO_TRADES and not usual:
                for m in reversed(recent):
                    if _become_part(talk, mention, m, word, names, False):
                        break
        if not short or mention.id in terms:
            if not short or terms[mention.id].label != word:
                heads[word] = mention
            label_word = mention.label.rpartition(" ")[2]
            for ending in (word, label_word):
                for head in _heads_in(lexicon, ending):
                    heads[head] = mention
        said.append(mention)


@functools.lru_cache(maxsize=10_000)
def _heads_in(lexicon: Lexicon, word: str) -> list[str]:
    """The part words that a word ends in, longest first: "lamp" in "headlamp"."""
    return [word[start:] for start in range(1, len(word) - 2) if word[start:] in lexicon.part_words]


def _become(mention: Mention, long: Mention) -> None:
    mention.why.append(f"short name: {long.label}")
    mention.id, mention.label = long.id, long.label
    if long.place != NOWHERE and not mention.placed:
        mention.place = _joined(mention.place, ("", "", long.place[2], long.place[3]))
    mention.fastener = mention.fastener or long.fastener


def _become_part(talk: Talk, mention: Mention, owner: Mention, word: str, names, force: bool) -> bool:
    """Makes a short name the part of `owner` that it names; with `force` also one that no entry holds."""
    found = _part_of(talk, owner, word, names)
    if found is None and not force:
        return False
    if found is not None:
        mention.id, mention.label = found.id, found.label
    else:
        mention.id, mention.label = "unknown", f"{owner.label} {word}"
    mention.why.append(f"short name: {mention.label}")
    if owner.placed and not mention.placed:
        mention.place, mention.placed = _joined(mention.place, owner.place), True
    return True


def _on_it(talk: Talk, mention: Mention) -> bool:
    """ "the boot on it", "its boot" """
    words = talk.words
    return mention.start > 0 and words[mention.start - 1] in ("its", "it's") or mention.end + 1 < len(words) and words[mention.end] in ("on", "of", "for") and words[mention.end + 1] in ("it", "that", "this", "them")


def _of_owner(talk: Talk, mention: Mention) -> Mention | None:
    """ "the boot on the track rod end": the component behind the preposition after a part."""
    words, groups = talk.words, talk.lexicon.words
    i = mention.end
    if i >= len(words) or words[i] not in ("of", "on", "for", "off"):
        return None
    i += 1
    while i < len(words) and (words[i] in groups["determiner"] or words[i] in groups["adjective"] or talk.at[i] is not None and talk.at[i].kind == "place"):
        i += 1
    owner = talk.at[i] if i < len(words) else None
    return owner if owner is not None and owner.kind == "component" and owner.clause == mention.clause else None


def _part_of(talk: Talk, owner: Mention, word: str, names):
    term = talk.lexicon.terms["component"].get(owner.id)
    for name in term.names if term is not None else [owner.label]:
        found = names.get(normal(f"{name} {word}"))
        if found is not None:
            return found
    return None


def _antecedents(talk: Talk) -> None:
    last: Mention | None = None
    for clause in talk.clauses:
        clause.antecedent = last
        if "other_vehicle" in clause.flags or "general" in clause.flags and talk.punctuated:
            continue
        things = [m for m in clause.mentions if m.kind == "component" and "retracted" not in m.flags]
        cores = [m for m in things if m.core]
        owned = [m for m in things if not m.core]
        if cores:
            last = cores[-1]
        elif owned and last is None:
            last = owned[0]
        elif owned and clause.mentions and owned[0].start - clause.start <= 3:
            last = owned[0]
        elif owned and any(m.kind == "condition" and m.tag == "noun" and m.end <= owned[0].start for m in clause.mentions):
            last = owned[-1]


def _place_all(talk: Talk) -> None:
    """The place that holds goes to what comes in left and right and does not say where it is; what was placed before
    keeps its place when it is only asked for, ordered or planned later."""
    terms = talk.lexicon.terms["component"]
    earlier: dict[tuple[str, str], tuple[set[str], set[str]]] = {}
    latest: dict[tuple[str, str], tuple[str, str]] = {}
    for clause in talk.clauses:
        listing = any(m.kind in ("cue:needed", "cue:ordered", "cue:on_hand") for m in clause.mentions) or any(m.kind == "action" and "planned" in m.flags for m in clause.mentions)
        for mention in clause.mentions:
            if mention.kind not in ("component", "fastener"):
                continue
            term = terms.get(mention.id)
            key = (mention.id, mention.label)
            own, running = mention.place, clause.place
            known = earlier.get(key)
            mention.own_place = own
            if known:
                mention.earlier_place = (*latest[key], "", "")
            if own[0] == "both":
                mention.place = ("both", own[1] or running[1], own[2], own[3])
            elif mention.tag == "one":
                continue
            elif not own[0] and listing and known:
                (side, *sides), (axle, *axles) = known
                mention.place = ("" if sides else side, own[1] or ("" if axles else axle), own[2], own[3])
            else:
                sided = term is None or term.sides
                inherited = (running[0] if sided else "", running[1] if _has_axle(term) else "", "", "")
                if own[1] and mention.label.rpartition(" ")[2] in ("bush", "bolt", "mount", "hinge") and running[1] and term is not None and term.system in ("suspension", "steering", "brakes", "driveline"):
                    own = (own[0], "", own[2], own[3])
                if own[0] and running[0] and own[0] != running[0] and own[1]:
                    inherited = NOWHERE
                mention.place = merged(own, inherited)
            if mention.kind == "component" and (mention.place[0] or mention.place[1]) and not (mention.flags & {"hypothetical", "general", "other_vehicle"}):
                sides, axles = earlier.setdefault(key, (set(), set()))
                sides.add(mention.place[0])
                axles.add(mention.place[1])
                latest[key] = (mention.place[0], mention.place[1])


def _has_axle(term) -> bool:
    """Whether a part belongs to the front or the rear by itself, so that an announced end holds for it."""
    if term is None:
        return True
    if term.system in ("structure", "mirrors", "electrics", "engine", "cooling", "air_conditioning", "fuel", "glass", "high_voltage", "interior"):
        return False
    if not term.sides:
        return term.system in ("chassis", "suspension", "brakes", "wheels", "driveline", "body")
    return True
