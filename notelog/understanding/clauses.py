"""The component `notelog_clauses`: cuts the talk into clauses, with or without punctuation.

Sentence marks end a clause where they can be trusted; commas, conjunctions and the start of a new subject end one
where a statement is already complete. In unpunctuated talk the new subject is the main sign: a component, a pronoun or
"no", where the clause has said something of a component already.
"""

from __future__ import annotations

from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import load
from notelog.understanding.mentions import talk_of
from notelog.understanding.state import PART_CUES, Clause, Talk

_HARD = {".", "!", "?", ";"}
_THINGS = ("component", "fastener")
_LONGEST = 100  # words; real clauses have fifty at most, and what looks at all of a clause must not grow with the note


@Language.factory("notelog_clauses", requires=["doc._.talk"])
def make_clauses(nlp: Language, name: str):
    """Factory of the component."""
    return Clauses()


class Clauses:
    """Leaves the clauses, in order, in `doc._.talk.clauses`."""

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, load())
        cuts = _cuts(talk)
        clauses: list[Clause] = []
        sentence = 0
        edges = sorted(cuts)
        edges.append((len(talk.words), False))
        start = 0
        for at, new_sentence in edges:
            if at > start:
                clauses.append(Clause(start, at, sentence))
                start = at
            if new_sentence:
                sentence += 1
        clause_of = [0] * len(talk.words)
        for number, clause in enumerate(clauses):
            for i in range(clause.start, clause.end):
                clause_of[i] = number
        for mention in talk.mentions:
            mention.clause = clause_of[mention.start]
            clauses[mention.clause].mentions.append(mention)
        talk.clauses, talk.clause_of = clauses, clause_of
        return doc


def _starts_subject(talk: Talk, i: int) -> bool:
    """Whether a noun phrase that can be a subject starts at word i: (determiner) (place) component, followed by a verb."""
    words, groups, at = talk.words, talk.lexicon.words, talk.at
    k = i
    n = len(words)
    steps = 0
    while k < n and steps < 5:
        mention = at[k]
        if mention is not None and mention.kind in _THINGS:
            return True
        if mention is not None and mention.kind in ("place", "quantity"):
            k = mention.end
        elif words[k] in groups["determiner"] or words[k] in groups["adjective"]:
            k += 1
        else:
            return False
        steps += 1
    return False


def _predicate_follows(talk: Talk, i: int) -> bool:
    """Whether the noun phrase that starts at word i is followed by a copula, verb or condition."""
    words, groups, at = talk.words, talk.lexicon.words, talk.at
    k, n = i, len(words)
    seen = False
    for _ in range(14):
        if k >= n:
            return False
        mention = at[k]
        if mention is not None and mention.kind in _THINGS:
            seen = True
            k = mention.end
            continue
        word = words[k]
        if mention is not None and mention.kind == "place" or word in groups["determiner"] or word in groups["adjective"] or word in groups["adverb"]:
            k = mention.end if mention is not None else k + 1
            continue
        if seen and (word in ("and", "on", "of", "in", "at", "for", ",")):
            k += 1
            continue
        if not seen:
            return False
        if word in groups["be"] or word in groups["have"] or word in groups["become"] or word in groups["auxiliary"]:
            return True
        if mention is not None and mention.kind in ("condition", "action") and mention.tag not in ("base",):
            return True
        return mention is not None and mention.kind.startswith("cue:") and mention.kind[4:] in ("denied", "doubted", "needed", "ordered", "on_hand", "planned")
    return False


def _cuts(talk: Talk) -> set[tuple[int, bool]]:
    words, at, groups = talk.words, talk.at, talk.lexicon.words
    n = len(words)
    cuts: set[tuple[int, bool]] = set()
    has_thing = has_predicate = False
    start = 0
    particles = {m.particle for m in talk.mentions if m.particle >= 0}

    def cut(i: int, sentence: bool) -> None:
        nonlocal has_thing, has_predicate, start
        cuts.add((i, sentence))
        has_thing = has_predicate = False
        start = i

    i = 0
    while i < n:
        word = words[i]
        mention = at[i]
        inside = mention is not None and mention.start < i
        if i in talk.breaks and i > start:
            cut(i, True)
        if i - start >= _LONGEST and not inside:
            cut(i, False)
        if not inside and word in _HARD and i > start:
            if talk.stops or word == ";":
                cut(i + 1, True)
                i += 1
                continue
            # an untrusted stop counts when the words around it can stand apart
            right = words[i + 1] if i + 1 < n else "."
            if has_predicate and (right in groups["opener"] or right in groups["subject_pronoun"]):
                cut(i + 1, True)
            i += 1
            continue
        if not inside and word in (",", ":", "-", "–", "—", "(", ")") and i > start:
            nxt = words[i + 1] if i + 1 < n else "."
            if word in (":", "–", "—", "-", "(", ")"):
                cut(i + 1, False)
            else:
                k = i + 1
                while k < n and words[k] in ("and", "but", "so", "then"):
                    k += 1
                new_subject = k < n and (words[k] in groups["subject_pronoun"] or _predicate_follows(talk, k))
                verb_next = k < n and at[k] is not None and at[k].kind == "action" and at[k].tag not in ("noun", "state")
                if nxt in groups["break"] or new_subject and has_thing and has_predicate or new_subject and (k > i + 1 or not has_thing) or verb_next:
                    cut(i + 1, False)
                elif has_thing and has_predicate and not _coordination(talk, i):
                    cut(i + 1, False)
            i += 1
            continue
        if not inside and i > start + 1:
            if word in groups["break"] and not (word in ("so", "then", "before", "after", "since", "as") and (i + 1 >= n or words[i + 1] in (",", "."))):
                if not (word == "once" and words[i - 1] in ("at", "for")) and not (word == "before" and mention is not None):
                    cut(i, False)
            elif word in ("which", "who"):
                cut(i, False)
            elif word == "and" and has_predicate:
                k = i + 1
                if k < n and (words[k] in groups["subject_pronoun"] or words[k] in ("then", "now", "there") or _predicate_follows(talk, k)
                              or at[k] is not None and at[k].kind == "action" and at[k].tag != "noun"):  # fmt: skip
                    cut(i, False)
            elif not talk.punctuated and has_predicate and (
                word in groups["self"] or word in groups["clause_opener"]
                or word in ("it", "that", "its", "they", "thats") and words[i - 1] not in groups["preposition"] and i + 1 < n
                and (words[i + 1] in groups["be"] or words[i + 1] in groups["have"] or words[i + 1] in groups["auxiliary"] or words[i + 1] in groups["become"] or word in ("its", "thats"))
            ) and not (mention is not None and mention.kind == "place") and not _object_here(talk, i):
                cut(i, False)
            elif not talk.punctuated and has_thing and has_predicate and _opens_condition(talk, i):
                cut(i, False)
            elif not talk.punctuated and has_thing and has_predicate and (mention is None or mention.start == i) and (words[i - 1] not in groups["preposition"] or i - 1 in particles) and words[i - 1] not in ("and", "or", "no", ",") \
                    and words[i - 1] not in groups["determiner"] and words[i - 1] not in groups["adjective"] and _subject_breaks(talk, i):  # fmt: skip
                cut(i, False)
        if mention is not None and mention.start == i:
            if mention.kind in _THINGS:
                has_thing = True
            elif mention.kind in ("condition", "action") or mention.kind in PART_CUES:
                has_predicate = True
        i += 1
    return cuts


def _object_here(talk: Talk, i: int) -> bool:
    """Whether the pronoun at i is the object of the verb before it ("unplugged it and ...")."""
    before = talk.at[i - 1]
    return before is not None and before.kind == "action" and talk.words[i] in talk.lexicon.words["object_pronoun"] and not (
        i + 1 < len(talk.words) and talk.words[i + 1] in talk.lexicon.words["be"]
    )


def _opens_condition(talk: Talk, i: int) -> bool:
    """Whether a condition without "if" starts at word i: "were the strut leaking I'd ...", "any play and I'd ..."."""
    words, groups = talk.words, talk.lexicon.words
    before = talk.at[i - 1]
    if i + 1 >= len(words) or before is None or before.kind != "condition" or before.end != i:
        return False
    return words[i] == "any" or words[i] in groups["inversion"] and (words[i + 1] in groups["determiner"] or words[i + 1] in groups["subject_pronoun"])


def _subject_breaks(talk: Talk, i: int) -> bool:
    mention = talk.at[i]
    if mention is not None and mention.kind not in ("component", "place", "fastener"):
        return False
    if mention is None and talk.words[i] not in talk.lexicon.words["determiner"] and talk.words[i] not in talk.lexicon.words["adjective"]:
        return False
    before = talk.at[i - 1]
    if before is not None and before.kind in ("component", "place", "quantity", "part_word") and (mention is not None and mention.kind != "place" or before.kind == "place"):
        return False
    if before is not None and before.kind == "condition" and before.tag == "pred" and (talk.words[before.start - 1] if before.start else "") in talk.lexicon.words["determiner"]:
        return False
    if before is not None and before.kind == "action" and before.tag not in ("state",) and before.particle < i:
        return False
    return _predicate_follows(talk, i) or before is not None and before.kind == "condition" and _starts_subject(talk, i)


def _coordination(talk: Talk, i: int) -> bool:
    """Whether the comma at i only stands between members of a list (components, conditions, adjectives)."""
    left, right = talk.at[i - 1] if i else None, None
    k = i + 1
    groups = talk.lexicon.words
    n = len(talk.words)
    steps = 0
    while k < n and steps < 4 and (talk.words[k] in groups["determiner"] or talk.words[k] in ("and", "or", "nor") or talk.at[k] is not None and talk.at[k].kind in ("place", "quantity", "cue:denied")):
        k = talk.at[k].end if talk.at[k] is not None else k + 1
        steps += 1
    if k < n:
        right = talk.at[k]
    if left is None or right is None:
        return False
    same = left.kind == right.kind or {left.kind, right.kind} <= {"component", "fastener"}
    if same and left.kind == "component":
        return not _predicate_follows(talk, i + 1) or not _has_verb_before(talk, i)
    return same


def _has_verb_before(talk: Talk, i: int) -> bool:
    k = i - 1
    groups = talk.lexicon.words
    while k >= 0 and talk.words[k] not in _HARD and i - k < 20:
        if talk.words[k] in groups["be"] or talk.words[k] in groups["have"]:
            return True
        mention = talk.at[k]
        if mention is not None and mention.kind in ("condition", "action"):
            return True
        k -= 1
    return False
