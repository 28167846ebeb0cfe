"""The component `notelog_references`: landmarks, lists, short names, "one", things put right and what a pronoun stands for.

A short name takes the long name said before that ends in it ("the link" after "drop link"), or the part of the thing
just talked about ("took the hub off ... its bearing"). A pronoun stands for the last thing that was a subject or object.
"""

from __future__ import annotations

import functools

from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import Lexicon, load, normal
from notelog.understanding.mentions import singular, talk_of
from notelog.understanding.places import _joined, _value, merged
from notelog.understanding.state import NOWHERE, PART_CUES, Clause, Mention, Place, Talk


@Language.factory("notelog_references", requires=["doc._.talk"])
def make_references(nlp: Language, name: str):
    """Factory of the component."""
    return References()


class References:
    """Settles, for every component mention, its role and what it stands for, and for every clause its antecedent."""

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, load())
        _without_noun(talk)
        _ones(talk)
        _roles(talk)
        _short_names(talk)
        _put_right(talk)
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
            if words[i] in talk.lexicon.words["ones"] and mention is None and (place_said or words[i - 1] in ("other", "new", "old", "that", "this", "another")):
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
        _put_in(clause, added)
    talk.mentions = [mention for clause in talk.clauses for mention in clause.mentions]


def _without_noun(talk: Talk) -> None:
    """ "the lower is kinked" after the lower wishbone, "its inner has gone" after a track rod: the adjective of a name alone
    stands for the part said last that has it in its name, or for the part that it makes of what was just talked about."""
    words, at, groups = talk.words, talk.at, talk.lexicon.words
    names, terms = talk.lexicon.by_name("component"), talk.lexicon.terms["component"]
    said: list[Mention] = []
    for clause in talk.clauses:
        added = []
        for i in range(clause.start, clause.end):
            mention = at[i]
            if mention is not None and mention.start == i and mention.kind == "component" and mention.tag != "one":
                said.append(mention)
            if words[i] not in groups["part_adjective"] or not said or i == clause.start or mention is not None and mention.kind not in ("place", "weak"):
                continue
            if mention is not None and (mention.start, mention.end) != (i, i + 1) or not (words[i - 1] in groups["determiner"] or words[i - 1] in ("new", "another", "its")):
                continue
            coming, right = (words[i + 1], at[i + 1]) if i + 1 < clause.end else (".", None)
            alone = right.kind in ("condition", "action") or right.kind.startswith("cue:") if right is not None else (
                coming in groups["be"] or coming in groups["have"] or coming in ("and", "but", "too") or not coming[0].isalnum()
                or coming in groups["particle"] and any(m.kind == "action" and m.particle == i + 1 for m in clause.mentions)
            )
            if not alone:
                continue
            found = next((m for m in reversed(said[-25:]) if words[i] in m.label.split()), None)
            meant = (found.id, found.label) if found is not None else None
            for owner in reversed(said[-3:]) if meant is None else ():
                term = terms.get(owner.id)
                called = term.names if term is not None else (owner.label,)
                options = [f"{words[i]} {name}" for name in called] + [
                    " ".join(words[i] if word in groups["part_adjective"] else word for word in name.split()) for name in called
                ]
                made = next((names[key] for name in options if (key := normal(name)) in names), None)
                if made is not None and made.id != owner.id:
                    meant, found = (made.id, made.label), owner
                    break
            if meant is None:
                continue
            one = Mention("component", meant[0], i, i + 1, "short", meant[1], talk.clause_of[i])
            one.place, one.new = found.place, words[i - 1] in ("new", "another")
            one.why.append(f"short name: {meant[1]}")
            added.append(one)
            at[i] = one
        _put_in(clause, added)


def _put_in(clause: Clause, added: list[Mention]) -> None:
    """Puts mentions that stand for others among a clause's own, in place of what starts in their words."""
    if added:
        taken = {k for one in added for k in range(one.start, one.end)}
        clause.mentions = sorted([m for m in clause.mentions if m.start not in taken] + added, key=lambda m: m.start)


def _roles(talk: Talk) -> None:
    words, at, groups = talk.words, talk.at, talk.lexicon.words
    skip = groups["determiner"] | groups["adjective"]
    number = 0
    for clause in talk.clauses:
        previous: Mention | None = None
        particles = {m.particle for m in clause.mentions if m.particle >= 0}
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
            subject = i in particles and mention.end < clause.end and (words[mention.end] in groups["be"] or words[mention.end] in groups["have"])
            if not subject and (owner is not None and owner.kind == "cue:landmark" or owner is None and link in groups["preposition"]):
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
    keep_short, two_trades = lexicon.words["whole_name"], lexicon.words["short_name"]
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
        word = singular(words[-1] if len(words) == 1 or words[-1] not in lexicon.words["suffix"] else words[-2], talk.lexicon)
        short = len(words) == 1 or len(words) == 2 and words[-1] in lexicon.words["suffix"]
        if short and not (word in keep_short and own is not None):
            usual = own is not None and own.label == word
            owner = _of_owner(talk, mention)
            here = [m for m in said[-3:] if m.clause == mention.clause and m.core] if _on_it(talk, mention) else []
            recent = [m for m in said[-3:] if mention.clause - m.clause <= 2]
            if owner is not None:
                _become_part(talk, mention, owner, word, names, own is None)
            elif own is None and _by_condition(talk, mention, word):
                pass
            elif here and (own is None or word in two_trades):
                _become_part(talk, mention, here[-1], word, names, False)
            elif word in heads and (not usual or word in two_trades or own is None):
                _become(mention, heads[word])
            elif own is None or word in two_trades and not usual:
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


def _by_condition(talk: Talk, mention: Mention, word: str) -> bool:
    """A short name by what is said of it: a boot that is dented is the boot lid."""
    clause = talk.clauses[mention.clause]
    for condition in clause.mentions:
        found = talk.lexicon.short_senses.get((word, condition.id)) if condition.kind == "condition" else None
        if found is not None:
            mention.id, mention.label = found, talk.lexicon.terms["component"][found].label
            mention.why.append(f"short name: {mention.label}")
            return True
    return False


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
    tails = [owner.label.split(" ", cut)[-1] for cut in range(owner.label.count(" ") + 1)]
    for name in term.names if term is not None else tails:
        found = names.get(normal(f"{name} {word}"))
        if found is not None:
            return found
    return None


def _put_right(talk: Talk) -> None:
    """A part, a side or a statement put right: "sorry, offside wing", "I said left, it's the right one", "actually no, the
    subframe is fine". What was said before takes the new name or side, or is taken back."""
    mentions = talk.mentions
    for number, cue in enumerate(mentions):
        note = next((form.tag for form in cue.forms if form.kind == "cue:correction"), "")
        if note not in ("value", "weak", "echo"):
            continue
        if note == "weak" and any(form.kind == "cue:denied" for form in cue.forms) and not _stands_alone(talk, cue):
            continue
        until = _reach(talk, cue)
        later = [m for m in mentions[number + 1 : number + 12] if m.end <= until and (m.kind in ("place", "component", "condition", "action", "quantity") or m.kind.startswith("cue:"))]
        before = [m for m in mentions[max(0, number - 25) : number] if "retracted" not in m.flags and _within(talk, m, cue)]
        if note == "echo":
            _echo(talk, cue, before, later)
        else:
            _correct(talk, cue, note, before, later)


def _stands_alone(talk: Talk, cue: Mention) -> bool:
    """ "no, the hub is fine" and "no it's fine", not "no rust"."""
    groups = talk.lexicon.words
    right = talk.words[cue.end] if cue.end < len(talk.words) else "."
    return right in (",", ".") or right in groups["determiner"] or right in groups["subject_pronoun"]


def _reach(talk: Talk, cue: Mention) -> int:
    """Where the sentence of a correction ends; without full stops, some words on."""
    sentence = talk.clauses[cue.clause].sentence
    number = cue.clause
    while number + 1 < len(talk.clauses) and talk.clauses[number + 1].sentence == sentence and talk.clauses[number].end - cue.end < 14:
        number += 1
    return talk.clauses[number].end


def _within(talk: Talk, said: Mention, cue: Mention) -> bool:
    """Whether something was said recently enough to be what a correction means."""
    return cue.start - said.end <= 25 and talk.clauses[cue.clause].sentence - talk.clauses[said.clause].sentence <= 2


def _leads_to(talk: Talk, start: int, end: int) -> bool:
    """Whether only small words stand between a correction and what it names: ", it's the", ", on the"."""
    groups = talk.lexicon.words
    return end - start <= 5 and all(
        word in (",", ":") or word in groups["determiner"] or word in groups["be"] or word in groups["object_pronoun"] or word in groups["adverb"] or word in groups["correcting"]
        for word in talk.words[start:end]
    )


def _named(talk: Talk, start: int, later: list[Mention]) -> tuple[Mention | None, Mention | None]:
    """The place and the component that stand first after a correction."""
    place = component = None
    for mention in later:
        if mention.kind == "place" and place is None and _leads_to(talk, start, mention.start):
            place, start = mention, mention.end
        elif mention.kind == "component" and _leads_to(talk, start, mention.start):
            return place, mention
        elif not (mention.kind.startswith("cue:") or mention.kind == "place"):
            break
    return place, component


def _side(talk: Talk, place: Mention | None, component: Mention | None) -> Place:
    if component is not None and (component.place[0] or component.place[1]):
        return component.place
    return _value(talk, place, NOWHERE) if place is not None else NOWHERE


def _correct(talk: Talk, cue: Mention, note: str, before: list[Mention], later: list[Mention]) -> None:
    place, new = _named(talk, cue.end, later)
    if any(m.kind == "component" and "retracted" in m.flags and 0 <= cue.start - m.end <= 3 for m in talk.clauses[cue.clause].mentions):
        return  # "the lower arm, sorry, track rod end is bent": put right already
    things = [m for m in before if m.kind == "component"]
    old = things[-1] if things else None
    stated = [m for m in before if m.kind == "condition" and m.end <= cue.start]
    said = stated[-1] if stated else None
    end = (new or place).end if (new or place) is not None else cue.end
    told = next((m for m in later if m.kind in ("condition", "action") or m.kind in PART_CUES), None)
    if told is not None and told.start - end > 6:
        told = None
    if old is None or cue.clause - old.clause > 1:
        return
    if told is None:
        if note == "value" and (place is not None or new is not None):
            _replace(talk, old, new, _side(talk, place, new), cue)
        return
    if told.kind != "condition" or said is None or new is None and not _leads_to(talk, cue.end, told.start) or said.clause == told.clause and said.end > cue.start:
        return
    _take_back(talk, cue, note, old, said, new, _side(talk, place, new), told)


def _replace(talk: Talk, old: Mention, new: Mention | None, side: Place, cue: Mention) -> None:
    """What was said of `old` is said of `new`, or of the same part at the other place."""
    other = new is not None and new.tag != "one" and (new.id, new.label) != (old.id, old.label)
    if not other and not (side[0] or side[1]) or side[0] and not other and side[:2] == old.place[:2]:
        return
    old.why.append(f"put right: {' '.join(talk.words[cue.start : (new or cue).end])}")
    if other:
        old.id, old.label, old.fastener, old.instead = new.id, new.label, new.fastener, new
    if side[0] or side[1]:
        old.place, old.placed = (side[0] or old.place[0], side[1] or old.place[1], old.place[2], old.place[3]), True
    elif other and new.place != NOWHERE:
        old.place = new.place
    if new is not None:
        new.flags.add("retracted")


def _take_back(talk: Talk, cue: Mention, note: str, old: Mention, said: Mention, new: Mention | None, side: Place, told: Mention) -> None:
    """An earlier condition goes where the correction states another, or the same of another part."""
    same = new is None or new.tag == "one" or (new.id, new.label) == (old.id, old.label)
    moved = bool(side[0]) and bool(old.place[0]) and side[0] != old.place[0]
    against = (said.id == "good") != (told.id == "good") and not (said.flags | told.flags) & {"denied"} or told.id == said.id and "denied" in told.flags and "denied" not in said.flags
    other = note == "value" and told.id != said.id and (new is not None or told.start - cue.end <= 1)
    if same and not moved and (against or other and not said.flags & {"denied"} and told.id != "good"):
        said.flags.add("retracted")
    elif note == "value" and told.id == said.id and (moved or not same) and said.flags == told.flags:
        said.flags.add("retracted")


def _echo(talk: Talk, cue: Mention, before: list[Mention], later: list[Mention]) -> None:
    """ "I said A, it's B": the last A said before becomes B."""
    first = next((m for m in later if m.kind in ("place", "component", "quantity") and m.start - cue.end <= 2), None)
    if first is None:
        return
    rest = [m for m in later if m.start >= first.end and m.kind in ("place", "component", "quantity", "condition", "action")]
    if not rest or rest[0].kind in ("condition", "action") or not _leads_to(talk, first.end, rest[0].start) and not any(m.kind == "cue:correction" for m in later):
        return
    meant = next((m for m in later if m.kind == "cue:correction" and m.start >= first.end), first)
    place, new = _named(talk, meant.end, [m for m in later if m.start >= meant.end])
    side = _side(talk, place, new)
    if first.kind == "quantity":
        value = next((m for m in reversed(before) if m.kind == "quantity" and m.low == first.low), None)
        if value is not None and rest[0].kind == "quantity":
            first.flags.add("retracted")
            value.low, value.high, value.unit = rest[0].low, rest[0].high, rest[0].unit or value.unit
            rest[0].flags.add("retracted")
        return
    if first.kind == "component":
        first.flags.add("retracted")
        old = next((m for m in reversed(before) if m.kind == "component" and (m.id, m.label) == (first.id, first.label)), None)
    else:
        old = next((m for m in reversed(before) if m.kind == "component"), None)
    if old is not None:
        _replace(talk, old, new, side, cue)


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
        listing = any(m.kind in PART_CUES for m in clause.mentions) or any(m.kind == "action" and "planned" in m.flags for m in clause.mentions)
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
                if own[1] and mention.label.rpartition(" ")[2] in talk.lexicon.words["end_of_a_part"] and running[1] and term is not None and term.system in ("suspension", "steering", "brakes", "driveline"):
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
