"""The component `notelog_spotter`: a small learnt model reads the note once and points at what no list holds.

It adds components that the lexicon does not know ("emergency door") or knows only under a shorter name, words that say a
condition, an action or a part's state in a way that no list has ("has let go"), and what a reading measures. The encoder's
view of every word stays in `doc._.talk.states` for the judge, so that a note is read once. Without the weights file it
adds nothing.
"""

from __future__ import annotations

import functools
from dataclasses import dataclass

from spacy.language import Language
from spacy.tokens import Doc

from notelog.lexicon import Form, load
from notelog.understanding.encoder import HINTS, Encoder, load_encoder
from notelog.understanding.mentions import component_mention, hear_again, singular, talk_of
from notelog.understanding.state import KIND_OF, PART_CUES, Mention, Talk

MIN_WORDS = 30  # the model learnt from whole notes; a sentence or two is too little for it to judge by, and easy for the rules
MAX_WORDS = 12_000  # more than an hour and a half of talk; longer texts are left to the rules
LIKELY = 0.15  # the probability from which a meaning is put before the judge
LONGER = 0.5  # the probability from which a longer name takes the place of the one that the lexicon found
_HINT = {name: number for number, name in enumerate(HINTS)}
_FORM = {kind: form for form, kind in KIND_OF.items()}


@dataclass(frozen=True, slots=True)
class Spot:
    """Words `start:end` that the model takes for a trade word of `kind` (component, finding, operation, part, tool,
    material, fastener) or for a reading (quantity); `values` are what they may say, the likeliest first."""

    kind: str
    start: int
    end: int
    probability: float
    values: tuple[tuple[str, float], ...] = ()


def hint_ids(talk: Talk) -> list[int]:
    """For each word the number (in `HINTS`) of what the lexicon found there; a line's first word is told too where
    nothing was found."""
    hints = [0] * len(talk.words)
    for at in talk.breaks:
        if at < len(hints):
            hints[at] = _HINT["break"]
    for mention in talk.mentions:
        kind = "unknown" if mention.kind == "component" and mention.id == "unknown" else mention.kind
        number = _HINT.get(kind, 0)
        for i in range(mention.start, min(mention.end, len(hints))):
            hints[i] = number
    return hints


@functools.lru_cache(maxsize=1)
def encoder() -> Encoder | None:
    """The encoder of the weights that ship with the package; None where they are missing."""
    return load_encoder()


@Language.factory("notelog_spotter", requires=["doc._.talk"], assigns=["doc._.talk"])
def make_spotter(nlp: Language, name: str):
    """Factory of the component; the weights are those that ship with the package."""
    return Spotter()


class Spotter:
    """Adds to a Doc's mentions what the model finds beside the lexicon's."""

    def __call__(self, doc: Doc) -> Doc:
        talk = talk_of(doc, load())
        model = encoder() if MIN_WORDS <= len(talk.words) <= MAX_WORDS else None
        if model is not None:
            talk.states = model.read(talk.words, hint_ids(talk))
            quantities = [(m.start, m.end) for m in talk.mentions if m.kind == "quantity"]
            add_spots(talk, [Spot(*spot) for spot in model.spots(talk.states, quantities)])
        return doc


class _Shelf:
    """The talk's mentions by the words that they take up, so that each spot looks only where it stands."""

    def __init__(self, talk: Talk):
        self.talk = talk
        self.at: list[list[Mention]] = [[] for _ in talk.words]
        self.gone: set[int] = set()
        self.added: list[Mention] = []
        for mention in talk.mentions:
            self._place(mention)

    def _place(self, mention: Mention) -> None:
        for own in self.at[mention.start : mention.end]:
            own.append(mention)

    def here(self, start: int, end: int) -> list[Mention]:
        found = {id(m): m for own in self.at[start:end] for m in own if id(m) not in self.gone}
        return sorted(found.values(), key=lambda m: (m.start, m.end))

    def add(self, mention: Mention) -> None:
        self.added.append(mention)
        self._place(mention)

    def close(self) -> None:
        kept = [m for m in self.talk.mentions + self.added if id(m) not in self.gone]
        self.talk.mentions = sorted(kept, key=lambda m: (m.start, m.end))


def add_spots(talk: Talk, spots: list[Spot]) -> None:
    """Puts what was spotted among the talk's mentions, where the lexicon has nothing as good."""
    shelf = _Shelf(talk)
    for spot in spots:
        here = shelf.here(spot.start, spot.end)
        if spot.kind == "component":
            _add_component(shelf, spot, here)
        elif spot.kind == "quantity":
            for mention in here:
                if mention.kind == "quantity":
                    mention.guesses = (*mention.guesses, *spot.values)
        elif spot.kind in ("finding", "operation", "part"):
            _add_trigger(shelf, spot, here)
        elif spot.kind in ("tool", "material"):
            _add_thing(shelf, spot, here)
        elif spot.kind in ("cost", "labour"):
            _add_amount(spot, here)
    shelf.close()


def _add_component(shelf: _Shelf, spot: Spot, here: list[Mention]) -> None:
    talk = shelf.talk
    if any(at in talk.breaks for at in range(spot.start + 1, spot.end)):
        return
    blocking = [m for m in here if m.kind not in ("place", "weak", "part_word", "quantity_word")]
    if blocking:
        known = blocking[0]
        longer = len(blocking) == 1 and known.kind in ("component", "fastener", "tool", "material") and spot.start <= known.start and known.end <= spot.end
        if not longer or spot.end - spot.start == known.end - known.start or spot.probability < LONGER:
            return
    mention = component_mention(talk, spot.start, spot.end)
    if mention is not None and mention.id == "unknown" and not (talk.punctuated and talk.stops):
        hear_again(talk, mention, mention.end, len(talk.words), dict(enumerate(talk.at[mention.end : mention.end + 1], mention.end)))
    if mention is None or blocking and mention.id == "unknown" and blocking[0].id != "unknown" and blocking[0].end == mention.end:
        return  # where only words before a known name are new, the known name is enough
    mention.why.append(f"spotted {spot.probability:.2f}")
    shelf.gone |= {id(m) for m in here if m in blocking or m.kind in ("part_word", "weak")}
    shelf.add(mention)
    for i in range(mention.start, mention.end):
        talk.at[i] = mention


def _add_trigger(shelf: _Shelf, spot: Spot, here: list[Mention]) -> None:
    kind = _FORM.get(spot.kind)
    forms = [Form(kind, value, "spotted") if kind else Form(f"cue:{value}", value, "spotted") for value, share in spot.values if share >= LIKELY]
    if not forms:
        return
    for mention in here:
        if mention.kind in ("condition", "action", "weak", *PART_CUES):
            known = {(form.kind, form.id) for form in mention.forms} | {(mention.kind, mention.id)}
            mention.forms = [*mention.forms, *(form for form in forms if (form.kind, form.id) not in known)]
            return
    if any(m.kind in ("component", "quantity", "tool", "fastener", "cue:pseudo") and m.start <= spot.start and m.end >= spot.end for m in here):
        return
    mention = Mention("weak", forms[0].id, spot.start, spot.end, "spotted", forms=forms)
    mention.why.append(f"spotted {spot.probability:.2f}")
    shelf.add(mention)


def _add_thing(shelf: _Shelf, spot: Spot, here: list[Mention]) -> None:
    """A tool or a material that no list has, or that the lexicon's longest form hid ("air line" is a part too)."""
    if any(m.kind == spot.kind for m in here):
        return
    words, lexicon = shelf.talk.words, shelf.talk.lexicon
    start, end = spot.start, spot.end
    while start < end and (words[start] in lexicon.words["determiner"] or not words[start][0].isalpha()):
        start += 1
    if start == end:
        return
    label = singular(" ".join(words[start:end]), lexicon)
    term = lexicon.by_name(spot.kind).get(label)
    mention = Mention(spot.kind, term.id if term else "unknown", start, end, "name", term.label if term else label)
    mention.why.append(f"spotted {spot.probability:.2f}")
    shelf.add(mention)


def _add_amount(spot: Spot, here: list[Mention]) -> None:
    """A price or a time said without its unit ("four hundred for the pair")."""
    for mention in here:
        if mention.kind == "quantity" and not mention.unit and "retracted" not in mention.flags:
            mention.guesses = (*mention.guesses, (spot.kind, spot.probability))
