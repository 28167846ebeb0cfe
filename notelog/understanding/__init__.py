"""Understanding: in comes a heard text, out goes a spaCy Doc with mentions, clauses, qualifiers, places and facts.

The components are registered with spaCy under the names of `COMPONENTS`, one a module, and meet only in the Doc
(`doc._.talk`, see `state.py`); anyone can add them to a pipeline of their own with `nlp.add_pipe`.
"""

from __future__ import annotations

import functools

import spacy
from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import Lexicon, load
from notelog.models import Heard
from notelog.understanding import (  # noqa: F401
    clauses,
    judge,
    mentions,
    places,
    qualifiers,
    references,
    relations,
    spotter,
    state,
    tokenizer,
)

COMPONENTS = (
    "notelog_mentions",
    "notelog_spotter",
    "notelog_clauses",
    "notelog_qualifiers",
    "notelog_places",
    "notelog_references",
    "notelog_relations",
    "notelog_judge",
)
LEARNT = ("notelog_spotter", "notelog_judge")  # left out, the rules alone make the log


@functools.lru_cache(maxsize=4)
def pipeline(without: tuple[str, ...] = ()) -> Language:
    """The pipeline that `understand` runs; `without` leaves components out, for measuring what each gives.

    >>> pipeline().pipe_names[0]
    'notelog_mentions'
    """
    # Named in the configuration, so that the tokenizer of English, which takes long to make, is not made first.
    nlp = spacy.blank("en", config={"nlp": {"tokenizer": {"@tokenizers": "notelog.TradeTokenizer.v1"}}})
    for name in COMPONENTS:
        if name not in without:
            nlp.add_pipe(name)
    nlp.max_length = 10_000_000
    return nlp


def understand(
    heard: Heard, driver_side: str = "right", without: tuple[str, ...] = (), lexicon: Lexicon | None = None
) -> Doc:
    """The Doc of a heard text; its facts are in `doc._.talk.facts`. `lexicon` is the shipped one unless given."""
    nlp = pipeline(without)
    doc = nlp.make_doc(heard.mapped.text)
    doc._.heard = heard
    doc._.driver_side = driver_side
    mentions.talk_of(doc, lexicon or load())
    for _, component in nlp.pipeline:
        doc = component(doc)
    return doc
