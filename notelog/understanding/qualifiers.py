"""The component `notelog_qualifiers`: denial, doubt, hypothesis, general talk, other vehicles, plans, corrections.

After NegEx (Chapman et al., J. Biomed. Inform. 34, 2001, 301) and ConText (Harkema et al., ibid. 42, 2009, 839): a cue
reaches forward (or back, or over the clause or sentence, as its lexicon row says) until its clause ends; pseudo cues
("not only", "no wonder") are longer forms that hide a cue and reach nothing.

How well each does by itself, as F1 of `tests/bench/bench_parts.py` (b): among the statements whose part and value are right,
and for what must not be logged among those held back or let through. Measured on 2026-11-25 on the 20 notes of
`tests/gold` and the 80 of `tests/fresh/scored`, which the learnt components have not seen.

| qualifier                            | gold, rules alone | gold, with learnt | scored, rules alone | scored, with learnt |
| ------------------------------------ | ----------------- | ----------------- | ------------------- | ------------------- |
| denied                               | 0.971 (of 17)     | 1.000 (of 18)     | 0.841 (of 54)       | 0.982 (of 55)       |
| doubted                              | 0.857 (of 3)      | 0.889 (of 4)      | 0.400 (of 10)       | 0.800 (of 12)       |
| past                                 | 0.000 (of 1)      | 0.000 (of 1)      | 0.000 (of 1)        | none                |
| planned                              | 0.945 (of 27)     | 0.982 (of 28)     | 0.868 (of 100)      | 0.949 (of 110)      |
| not_done                             | 1.000 (of 5)      | 1.000 (of 6)      | 0.737 (of 10)       | 0.800 (of 10)       |
| hypothetical, general, other_vehicle | 0.741 (of 21)     | 0.905 (of 21)     | 0.538 (of 56)       | 0.737 (of 49)       |
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator

from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import load
from notelog.understanding.mentions import talk_of
from notelog.understanding.state import Clause, Mention, Talk


@Language.factory("notelog_qualifiers", requires=["doc._.talk"])
def make_qualifiers(nlp: Language, name: str):
    """Factory of the component."""
    return Qualifiers()


class Qualifiers:
    """Puts flags on the clauses and mentions of `doc._.talk`: denied, doubted, hypothetical, general, other_vehicle,
    planned, not_done, retracted, question."""

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, load())
        taught: Clause | None = None
        for number, clause in enumerate(talk.clauses):
            doubts: set[str] = set()
            for cue in clause.mentions:
                for form in cue.forms if cue.forms and cue.kind.startswith("cue:") else ():
                    if form.kind == "cue:doubted":
                        if form.tag in doubts and form.tag != "after":
                            continue  # the first of them reached as far
                        doubts.add(form.tag)
                    if form.kind.startswith("cue:"):
                        _apply(talk, number, clause, cue, form.kind[4:], form.tag)
            other = _other_vehicle(talk, clause)
            if other is not None:
                _apply(talk, number, clause, other, "other_vehicle", "sentence")
                for each in _sentence_clauses(talk, number):
                    if "other_vehicle" in each.flags and (each is clause or not _self_told(talk, each)):
                        _flag_clause(talk, each, "unreal", other)
            _generic_subject(talk, clause)
            before = talk.clauses[number - 1] if number else None
            goes_on = before is taught and before is not None and before.sentence == clause.sentence and talk.words[clause.start] in talk.lexicon.words["pronoun"]
            if goes_on or _teaches(talk, clause):
                taught = clause
                for flag in ("general", "unreal"):
                    _flag_clause(talk, clause, flag, Mention("cue:general", "general", clause.start, clause.start + 1))
        _consequents(talk)
        _corrections(talk)
        return doc


def _flag(mention: Mention, flag: str, cue: Mention, talk: Talk) -> None:
    if flag not in mention.flags:
        mention.flags.add(flag)
        mention.why.append(f"{flag}: {' '.join(talk.words[cue.start:cue.end])}")


def _flag_clause(talk: Talk, clause: Clause, flag: str, cue: Mention) -> None:
    clause.flags.add(flag)
    for mention in clause.mentions:
        _flag(mention, flag, cue, talk)


def _sentence_clauses(talk: Talk, number: int) -> list[Clause]:
    sentence = talk.clauses[number].sentence
    first = number
    while first > 0 and talk.clauses[first - 1].sentence == sentence and number - first <= 12:
        first -= 1
    last = number
    while last + 1 < len(talk.clauses) and talk.clauses[last + 1].sentence == sentence and last - number <= 12:
        last += 1
    if last - first > 12 or not talk.punctuated:
        first, last = max(first, number - 1), min(last, number + 2)
    return talk.clauses[first : last + 1]


def _apply(talk: Talk, number: int, clause: Clause, cue: Mention, kind: str, note: str) -> None:
    words = talk.words
    if kind == "denied":
        _deny(talk, number, clause, cue)
    elif kind == "doubted":
        for mention in clause.mentions:
            if mention.kind in ("condition", "weak", "component", "action") and (note != "before" or mention.start > cue.start) and (note != "after" or mention.start < cue.start):
                _flag(mention, "doubted", cue, talk)
        if note == "any" and not any(m.kind == "condition" for m in clause.mentions):
            nxt = _neighbour(talk, number, 1)
            if nxt is not None and nxt.start < len(words) and words[nxt.start] in ("but", "could", "might", "if", "whether"):
                _flag_clause(talk, nxt, "doubted", cue)
            before = _neighbour(talk, number, -1)
            if before is not None and not any(m.kind == "component" for m in clause.mentions):
                for mention in before.mentions:
                    if mention.kind == "condition" and "doubted" in mention.flags:
                        _flag(mention, "doubted", cue, talk)
    elif kind == "hypothetical":
        if note == "before":
            if _had_it_off(talk, clause):
                return
            for mention in clause.mentions:
                if mention.start > cue.start:
                    _flag(mention, "hypothetical", cue, talk)
            clause.flags.add("hypothetical")
            if words[cue.start] == "had" and cue.start > clause.start and words[cue.start - 1] in talk.lexicon.words["subject_pronoun"]:
                clause.flags.discard("hypothetical")
                for mention in clause.mentions:
                    mention.flags.discard("hypothetical")
        else:
            _flag_clause(talk, clause, "hypothetical", cue)
    elif kind in ("general", "other_vehicle"):
        if note == "clause":
            _flag_clause(talk, clause, kind, cue)
        else:
            own = False
            for each in _sentence_clauses(talk, number):
                self_told = _self_told(talk, each)
                if each.start > clause.start:
                    own = own or talk.words[each.start] == "but" or kind == "general" and self_told
                    if not own:
                        _flag_clause(talk, each, kind, cue)
                elif each.start == clause.start:
                    _flag_clause(talk, each, kind, cue)
                elif talk.punctuated and not self_told and not any(m.kind == "condition" for m in each.mentions):
                    _flag_clause(talk, each, kind, cue)
    elif kind == "planned":
        _plan(talk, clause, cue, note)
    elif kind == "not_done":
        for mention in clause.mentions:
            if mention.kind in ("action", "weak") and (note != "before" or 0 <= mention.start - cue.end <= 6):
                _flag(mention, "not_done", cue, talk)
        if note == "any" and not any(m.kind == "action" for m in clause.mentions):
            clause.flags.add("not_done")
            before = _neighbour(talk, number, -1)
            if before is not None and before.sentence == clause.sentence:
                for mention in before.mentions:
                    if mention.kind == "action":
                        _flag(mention, "not_done", cue, talk)


def _self_told(talk: Talk, clause: Clause) -> bool:
    """Whether the speaker tells what was done: "I drowned it in oil", "we've had it off"."""
    groups = talk.lexicon.words
    first = talk.words[clause.start : clause.start + 3]
    return any(word in groups["self"] for word in first) and any(m.kind == "action" and m.tag in ("past", "ed", "part", "same", "ing") for m in clause.mentions)


def _neighbour(talk: Talk, number: int, step: int) -> Clause | None:
    other = number + step
    return talk.clauses[other] if 0 <= other < len(talk.clauses) else None


def _deny(talk: Talk, number: int, clause: Clause, cue: Mention) -> None:
    """Denial reaches forward: over a list of conditions, but only the first verb."""
    words = talk.words
    if _answers(talk, clause, cue):
        return
    reached = False
    limit = clause.end
    for i in range(cue.end, clause.end):
        if words[i] in ("but", "just", "only", "except") or words[i] in ("it's", "its") and i > cue.end + 2:
            limit = i
            break
    for mention in clause.mentions:
        if mention.start < cue.end or mention.start >= limit:
            continue
        if mention.kind in ("condition", "weak"):
            _flag(mention, "denied", cue, talk)
            reached = True
    if words[cue.start] == "no" and not reached:
        # "no play, no noise or leaks": the list may go on in the next clause
        return
    nxt = _neighbour(talk, number, 1)
    if reached and nxt is not None and nxt.sentence == clause.sentence and words[nxt.start] in ("or", "nor"):
        for mention in nxt.mentions:
            if mention.kind == "condition":
                _flag(mention, "denied", cue, talk)
    if not reached and words[cue.end - 1] in talk.lexicon.words["denies_before"] and cue.start > clause.start:
        for mention in clause.mentions:
            if mention.kind == "condition" and mention.tag == "noun" and mention.end <= cue.start and cue.start - mention.end <= 2:
                _flag(mention, "denied", cue, talk)


def _answers(talk: Talk, clause: Clause, cue: Mention) -> bool:
    """Whether "no" is an answer and denies nothing that follows: "but no the disc is fine", "no it's dry", "no rack is dry"."""
    words, groups = talk.words, talk.lexicon.words
    if words[cue.start : cue.end] != ["no"] or cue.end >= clause.end:
        return False
    if words[cue.end] in groups["determiner"] or words[cue.end] in groups["subject_pronoun"]:
        return True
    inside = [m for m in clause.mentions if m.start >= cue.end and m.kind in ("component", "fastener", "condition")]
    first, then = inside[0] if inside else None, inside[1] if len(inside) > 1 else None
    return then is not None and first.kind != "condition" and then.id == "good" and words[then.start - 1] in groups["be"]


def _plan(talk: Talk, clause: Clause, cue: Mention, note: str) -> None:
    """A plan reaches the verbs behind its cue that are not told as done."""
    for mention in clause.mentions:
        if mention.kind not in ("action", "weak"):
            continue
        gap = mention.start - cue.end
        if note == "before" and 0 <= gap <= 7 and mention.tag in ("base", "same", "part", "ed", "ing", "noun", "state"):
            _flag(mention, "planned", cue, talk)
        elif note == "gerund" and 0 <= gap <= 6 and mention.tag in ("ing", "noun"):
            _flag(mention, "planned", cue, talk)
        elif note == "participle" and 0 <= gap <= 5 and mention.tag in ("ed", "part", "same", "noun"):
            _flag(mention, "planned", cue, talk)
        elif note in ("any", "day") and mention.tag not in ("past",) and not (mention.tag in ("ed", "same") and _perfect(talk, mention)):
            if mention.tag in ("base", "s", "noun", "ing", "same", "state") or note == "any" and mention.tag in ("ed", "part") and not _perfect(talk, mention):
                _flag(mention, "planned", cue, talk)
        elif note == "noun" and mention.tag == "noun" and 0 <= gap <= 2:
            _flag(mention, "planned", cue, talk)
    if note == "header":
        clause.flags.add("planned")
        clause.header = "planned"


def _perfect(talk: Talk, mention: Mention) -> bool:
    """Whether a participle is past: "I've drained", "was drained", "already"."""
    words, groups = talk.words, talk.lexicon.words
    i = mention.start - 1
    while i >= 0 and (words[i] in groups["adverb"] or words[i] in ("been", "them", "it")):
        i -= 1
    return i >= 0 and (words[i] in groups["have"] or words[i] in groups["self"] or words[i] in ("was", "were", "'s", "and", "'ve"))


def _generic_subject(talk: Talk, clause: Clause) -> None:
    """ "you can see", "you can feel it" do report on this vehicle: the general flag goes."""
    words = talk.words
    for i in range(clause.start, min(clause.end, clause.start + 6)):
        if words[i] == "you" and any(word in talk.lexicon.words["sense_verb"] for word in words[i + 1 : i + 4]):
            if "general" in clause.flags:
                clause.flags.discard("general")
                for mention in clause.mentions:
                    mention.flags.discard("general")
    if clause.start < clause.end and words[clause.start] in ("don't", "dont", "never", "do"):
        nxt = words[clause.start + 1] if clause.start + 1 < clause.end else ""
        if words[clause.start] != "do" or nxt == "not":
            cue = Mention("cue:general", "general", clause.start, clause.start + 1)
            if not talk.terse:
                for mention in clause.mentions:
                    if mention.kind == "action":
                        _flag(mention, "general", cue, talk)


def _other_vehicle(talk: Talk, clause: Clause) -> Mention | None:
    """ "We had a blue van off those steps": one that was had, seen or done is not the one on the lift."""
    words, groups = talk.words, talk.lexicon.words
    for i in range(clause.start, clause.end - 2):
        if words[i] in groups["had_another"] and words[i + 1] in ("a", "an", "another") and i and (words[i - 1] in groups["subject_pronoun"] or words[i - 1] in groups["self"]):
            for k in range(i + 2, min(clause.end, i + 6)):
                if words[k] in groups["vehicle"]:
                    nxt = talk.at[k + 1] if k + 1 < clause.end else None
                    return None if nxt is not None and nxt.kind in ("component", "part_word") else Mention("cue:other_vehicle", "other_vehicle", i, k + 1)
    return None


def _teaches(talk: Talk, clause: Clause) -> bool:
    """ "A gaiter only keeps the dirt out", "gaiters keep the dirt out": what any such part is there for."""
    words, groups = talk.words, talk.lexicon.words
    thing = next((m for m in clause.mentions if m.kind in ("component", "fastener")), None)
    if thing is None or thing.end + 1 >= clause.end:
        return False
    opening = words[clause.start : thing.start]
    any_one = opening and opening[-1] in ("a", "an") and all(word in groups["opener"] or word == "," for word in opening[:-1])
    many = thing.tag == "plural" and not opening
    k = thing.end
    if words[k] in ("is", "are") and k + 2 < clause.end and words[k + 1] in ("only", "just", "there") and words[k + 2] in ("there", "to", "for", "a"):
        return bool(any_one or many)
    while k + 1 < clause.end and (words[k] in groups["modal"] or words[k] in groups["adverb"]):
        k += 1
    return bool(any_one or many) and words[k] in groups["general_verb"]


def _consequents(talk: Talk) -> None:
    """What would follow from a hypothesis is as hypothetical as it ("if X ..., I'd have Y"), and so is a condition said
    without "if": "were the strut leaking I'd have ...", "any play and I would have ..."."""
    words, groups = talk.words, talk.lexicon.words
    for number, clause in enumerate(talk.clauses):
        nxt = _neighbour(talk, number, 1)
        if nxt is not None and nxt.sentence == clause.sentence and _says(talk, nxt, "would") and words[nxt.start] not in ("but", "so"):
            k = clause.start
            while k < clause.end and words[k] in groups["opener"]:
                k += 1
            inverted = words[k] in groups["inversion"] and k + 1 < clause.end and (words[k + 1] in groups["determiner"] or words[k + 1] in groups["subject_pronoun"] or talk.at[k + 1] is not None)
            if inverted and not _had_it_off(talk, clause) or words[k] == "any" and words[nxt.start] == "and":
                _flag_clause(talk, clause, "hypothetical", Mention("cue:hypothetical", "hypothetical", k, k + 1))
        if "hypothetical" not in clause.flags:
            continue
        unreal = _unreal(talk, clause)
        for step in (1, -1):
            other = _neighbour(talk, number, step)
            if other is None or other.sentence != clause.sentence:
                continue
            if _says(talk, other, "would") or step == 1 and _says(talk, other, "might"):
                other.flags.add("hypothetical")
                for mention in other.mentions:
                    mention.flags.add("hypothetical")
            if unreal and "hypothetical" in other.flags:
                for mention in other.mentions:
                    if "hypothetical" in mention.flags:
                        mention.flags.add("unreal")
        if unreal:
            for mention in clause.mentions:
                if "hypothetical" in mention.flags:
                    mention.flags.add("unreal")


def _unreal(talk: Talk, clause: Clause) -> bool:
    """Whether a hypothesis is one that did not come true: "I'd have changed it", "had it been rough", "if it had been"."""
    words, groups = talk.words, talk.lexicon.words
    for i in range(clause.start, clause.end - 1):
        if words[i] in groups["would"] and words[i + 1] in ("have", "of") or words[i] == "had" and words[i + 1] in ("been", "there"):
            return True
    return words[clause.start] == "had" and not _self_told(talk, clause)


def _had_it_off(talk: Talk, clause: Clause) -> bool:
    """ "Had the wing off" tells what was done, where "had the wing been bent" supposes."""
    verb = next((m for m in clause.mentions if m.kind == "action" and m.tag == "state"), None)
    return verb is not None and "had" in talk.words[clause.start : verb.start] and "been" not in talk.words[clause.start : verb.start]


def _says(talk: Talk, clause: Clause, group: str) -> bool:
    """Whether a word of that group stands in a clause."""
    return not talk.lexicon.words[group].isdisjoint(talk.words[clause.start : clause.end])


def _backwards(mentions: list[Mention], number: int) -> Iterator[Mention]:
    """The mentions before the one of that number, nearest first; no farther than a correction reaches at the most."""
    return itertools.islice(map(mentions.__getitem__, range(number - 1, -1, -1)), 100)


def _corrections(talk: Talk) -> None:
    """ "17, no, sorry, 19 mil": the value before the cue is retracted; "scrap that" retracts the sentence before it."""
    mentions = talk.mentions
    notes = {number: form.tag for number, m in enumerate(mentions) for form in reversed(m.forms) if form.kind == "cue:correction"}
    for number, note in notes.items():
        cue = mentions[number]
        if note == "denial":
            for said in _backwards(mentions, number):
                if talk.clauses[cue.clause].sentence - talk.clauses[said.clause].sentence > 3:
                    break
                if said.kind == "condition":
                    said.flags.add("retracted")
                    break
            continue
        if note == "statement":
            clause = cue.clause
            sentence = talk.clauses[clause].sentence
            same, target = [], []
            for m in _backwards(mentions, number):
                behind = sentence - talk.clauses[m.clause].sentence
                if behind > 1 or behind and same:
                    break
                if m.end <= cue.start and (behind or m.kind in ("condition", "action", "quantity")):
                    (target if behind else same).append(m)
            target = same or target
            if any(m.kind == "condition" for m in same) and any(words in ("so",) for words in talk.words[max(0, cue.start - 2) : cue.start]):
                target = []
            for mention in target:
                mention.flags.add("retracted")
            continue
        before = next((m for m in reversed(mentions[max(0, number - 5) : number]) if m.kind not in ("place",) and not m.kind.startswith("cue:")), None)
        after = None
        for m in mentions[number + 1 : number + 6]:
            if m.start - cue.end > 8:
                break
            if m.kind == "quantity" or m.kind in ("component", "condition", "fastener"):
                after = m
                break
        value = next((m for m in reversed(mentions[max(0, number - 5) : number]) if m.kind == "quantity" and cue.start - m.end <= 6), None)
        new = next((m for m in mentions[number + 1 : number + 5] if m.kind == "quantity" and m.start - cue.end <= 7), None)
        if value is not None and new is not None and (note != "weak" or cue.start - value.end <= 3 and new.start - cue.end <= 4):
            if value.unit == new.unit or not value.unit or not new.unit:
                value.flags.add("retracted")
                value.instead = new
                if not new.unit:
                    new.unit = value.unit
                continue
        if before is None or after is None or note == "weak":
            continue
        told = any(m.start >= after.end and m.kind in ("condition", "action", "weak") for m in talk.clauses[after.clause].mentions)
        if told and before.kind == after.kind == "component" and cue.start - before.end <= 3 and after.start - cue.end <= 3:
            before.flags.add("retracted")
