"""The component `notelog_judge`: a small learnt model decides which statements stand, about what, and how they are meant.

The rules' components propose pairs of a trigger and a component (`features.candidates`); a six-layer encoder reads the
words around them, told at each word what the lexicon found there, and gives each pair a probability and a status. The
lexicon still decides names and values. Without the weights file, or left out of the pipeline, the rules' own facts stand.
Data, script, seed and scores: the model card beside the weights.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import load
from notelog.understanding.encoder import Encoder
from notelog.understanding.features import PAIRED, Candidate, candidates, singles
from notelog.understanding.mentions import talk_of
from notelog.understanding.relations import Fact, fastener_component, span_of
from notelog.understanding.spotter import MAX_WORDS, MIN_WORDS, encoder, hint_ids

STATUSES = ("present", "absent", "suspected", "past", "done", "planned", "not_done")
KINDS = ("finding", "operation", "part", "single finding", "single operation", "single part", "single fastener", "single tool", "single measurement", "single material",
         "single labour", "single cost")  # fmt: skip
_DROPPED = {"retracted", "unreal"}  # what the rules know not to be so: of figures and things named only the first counts
DOUBTFUL = {"hypothetical", "general", "other_vehicle"}  # what the rules take for no statement about this vehicle
RULED = 1  # which of a candidate's places is the rules'
OPEN = 0.7  # how sure the model must be to leave open a side or an axle that the rules give
SURE = 0.97  # the probability from which the model may say otherwise


@Language.factory("notelog_judge", requires=["doc._.talk"])
def make_judge(nlp: Language, name: str):
    """Factory of the component; the weights are those that ship with the package."""
    return Judge()


class Judge:
    """Replaces the rules' facts by those that the model believes, each with its probability."""

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, load())
        model = encoder() if MIN_WORDS <= len(talk.words) <= MAX_WORDS else None
        if model is None:
            return doc
        states = talk.states if talk.states is not None else model.read(talk.words, hint_ids(talk))
        pairs, alone = candidates(talk), singles(talk)
        found = pairs + alone
        if not found:
            return doc
        spans = [
            (
                candidate.trigger.start,
                max(candidate.trigger.end - 1, candidate.trigger.particle),
                candidate.component.start if candidate.component is not None else -1,
                candidate.component.end - 1 if candidate.component is not None else -1,
            )
            for candidate in found
        ]
        kinds = [candidate.kind for candidate in pairs] + ["single " + candidate.kind for candidate in alone]
        probability, status, side, axle = model.judge(states, spans, [KINDS.index(kind) for kind in kinds], [c.value for c in found], [c.features for c in found])
        talk.facts = _facts(found, kinds, len(pairs), probability, status, model)
        for number, candidate in enumerate(found):
            if candidate.fact is not None and candidate.fact.probability and candidate.kind in (*PAIRED, "measurement"):
                sides, axles = zip(*candidate.places)
                candidate.fact.place = (_likeliest(sides, side[number]), _likeliest(axles, axle[number]), *candidate.fact.place[2:])
        return doc


def _likeliest(values: Sequence[str], shares: np.ndarray) -> str:
    """The side or the axle that its places together make the likeliest. Where the rules give one, the model may leave it open,
    never turn it: a part for the wrong side is worse than one whose side is asked for (full F1 is lower by 0.003).

    >>> _likeliest(["", "left", "right"], np.array([0.0, 0.1, 0.9])), _likeliest(["", "left", "right"], np.array([0.8, 0.1, 0.1]))
    ('left', '')
    """
    summed: dict[str, float] = {}
    for value, share in zip(values, shares):
        summed[value] = summed.get(value, 0.0) + float(share)
    best = max(summed, key=lambda value: summed[value])
    ruled = values[RULED]
    return best if not ruled or not best and summed[best] >= OPEN else ruled


def _facts(found: list[Candidate], kinds: list[str], paired: int, probability: np.ndarray, status: np.ndarray, model: Encoder) -> list[Fact]:
    facts: list[Fact] = []
    sense: dict[int, tuple[float, str, str]] = {}
    for number, candidate in enumerate(found):
        # words say one thing, and a figure measures one: the likeliest of their meanings
        if number >= paired and candidate.kind != "measurement":
            continue
        own = (float(probability[number]), candidate.kind, candidate.value)
        if own > sense.get(id(candidate.trigger), (0.0, "", "")):
            sense[id(candidate.trigger)] = own
    for number, candidate in enumerate(found):
        share = float(probability[number])
        if (number < paired or candidate.kind == "measurement") and sense[id(candidate.trigger)][1:] != (candidate.kind, candidate.value):
            continue
        limit = model.thresholds[kinds[number]]
        if candidate.trigger.flags & DOUBTFUL:
            limit = max(limit, SURE)
        if candidate.fact is not None and candidate.fact.rule == "same again":
            share = max(share, limit)  # what it repeats was judged
        if share < limit or candidate.trigger.flags & (_DROPPED if number < paired else {"retracted"}):
            continue
        fact = candidate.fact
        if fact is None:
            component = candidate.component
            if component is not None and component.kind == "fastener":
                component = fastener_component(component)
            fact = candidate.fact = Fact(candidate.kind, candidate.value, *span_of(candidate.trigger, candidate.component), "learnt", component, mention=candidate.trigger, clause=candidate.trigger.clause)
            if candidate.component is not None:
                fact.place = candidate.component.place
                fact.why += candidate.component.why
            fact.why += candidate.trigger.why
            fact.count = 1 if candidate.kind == "part" else None
        if number >= paired:
            fact.flags -= {"hypothetical", "general", "other_vehicle"}
        else:
            fact.flags = {"retracted"} & fact.flags
        if number < paired and candidate.kind != "part":
            allowed = STATUSES[:4] if candidate.kind == "finding" else STATUSES[4:]
            best = max(allowed, key=lambda name: status[number, STATUSES.index(name)])
            fact.status = best
            if candidate.kind == "finding":
                fact.flags |= {"absent": {"denied"}, "suspected": {"doubted"}, "past": {"past"}}.get(best, set())
        elif candidate.kind == "part":
            fact.status = candidate.value
        fact.probability = model.confidence(share)
        fact.why.append(f"judged {share:.2f}")
        facts.append(fact)
    return sorted(facts, key=lambda fact: (fact.start, fact.end))
