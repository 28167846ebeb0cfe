"""Spoken forms: every way in which a term can stand in a note, as tuples of words, and their lookup."""

from __future__ import annotations

import functools
import sys
from dataclasses import dataclass, field

from notelog.lexicon.inflect import plural, verb_forms
from notelog.lexicon.load import Lexicon
from notelog.lexicon.words import words_of
from notelog.sweeping import unswept


@dataclass(slots=True, frozen=True)
class Form:
    """What a run of words can mean: a term (or cue, place) and the grammatical shape it stands in.

    `tag` is, for components: name, plural or short; for conditions: pred, noun, or a verb tag; for actions: a verb tag
    (base, s, past, part, ed, same, ing), state or noun; for cues: their note.
    """

    kind: str
    id: str
    tag: str = ""


@dataclass(slots=True)
class Forms:
    """`whole` maps words to what they can mean; `lengths` gives, by the first and the second word of longer forms, how long
    they are, longest first; `single` has the forms of one word; `split` maps the first word of a separable verb to its tails ("take ... off"). `weak` holds words that say a condition only
    where the learnt judge thinks so."""

    whole: dict[tuple[str, ...], list[Form]] = field(default_factory=dict)
    lengths: dict[str, dict[str, tuple[int, ...]]] = field(default_factory=dict)
    single: dict[str, list[Form]] = field(default_factory=dict)
    split: dict[str, list[tuple[tuple[str, ...], Form]]] = field(default_factory=dict)
    joined: frozenset[str] = frozenset()
    abbreviations: dict[str, str] = field(default_factory=dict)
    weak: dict[tuple[str, ...], list[Form]] = field(default_factory=dict)
    longest_weak: dict[str, int] = field(default_factory=dict)
    alone: dict[int, list[Form]] = field(default_factory=dict)  # by a form's identity the list that holds only it, shared

    def lengths_at(self, words: list[str], i: int) -> list[int]:
        """How many words forms may take that start with the i-th word and the next, longest first, one word last."""
        after = self.lengths.get(words[i])
        longer = after.get(words[i + 1], ()) if after is not None and i + 1 < len(words) else ()
        return [length for length in (*longer, 1) if i + length <= len(words)]

    def add(self, words: tuple[str, ...], form: Form) -> None:
        """One more meaning for these words; the first one given comes first."""
        if not words:
            return
        for word in words:
            if word in self.abbreviations:
                words = tuple(self.abbreviations.get(word, word) for word in words)
                break
        known = self.whole.get(words)
        if known is None:
            words = tuple(map(sys.intern, words))  # a word stands in many forms, and is kept once
            self.whole[words] = self.alone.setdefault(id(form), [form])
            if len(words) > 1:
                after = self.lengths.setdefault(words[0], {})
                lengths = after.get(words[1], ())
                if len(words) not in lengths:
                    after[words[1]] = tuple(sorted((*lengths, len(words)), reverse=True))
        elif form not in known:
            self.whole[words] = [*known, form]
        else:
            return
        if len(words) == 1:
            self.single[words[0]] = self.whole[words]


def _joined_words(lexicon: Lexicon) -> frozenset[str]:
    """Long single words of component names, which talk also cuts in two ("inter cooler", "head board")."""
    words = set()
    for term in lexicon.terms["component"].values():
        for name in term.names:
            for word in words_of(name):
                if len(word) >= 7 and word.isalpha():
                    words.add(word)
                    words.add(plural(word))
    return frozenset(words)


def _verb_phrases(phrase: str, lexicon: Lexicon) -> list[tuple[tuple[str, ...], str]]:
    first, *rest = phrase.split(" ")
    return [(words_of(" ".join([form, *rest])), tag) for form, tag in verb_forms(first, lexicon.irregular)]


@functools.lru_cache(maxsize=8)
@unswept
def forms_of(lexicon: Lexicon) -> Forms:
    """All spoken forms of a lexicon.

    >>> from notelog.lexicon import load
    >>> [form.id for form in forms_of(load()).whole[("drop", "links")]]
    ['anti_roll_bar_link']
    """
    forms = Forms(abbreviations=lexicon.abbreviations)
    particles = lexicon.words["particle"]
    forms.joined = _joined_words(lexicon)
    for kind in ("component", "tool", "material", "fastener"):
        for term in lexicon.terms[kind].values():
            short = set(term.short)
            own = {tag: Form(kind, term.id, tag) for tag in ("name", "short", "plural")}
            for name in term.names:
                forms.add(words_of(name), own["short" if name in short else "name"])
                if len(name) > 1:
                    forms.add(words_of(plural(name)), own["plural"])
    for term in lexicon.terms["drive"].values():
        for name in term.names:
            forms.add(words_of(name), Form("drive", term.id))
    for term in lexicon.terms["condition"].values():
        for name in term.fields["predicates"]:
            words = words_of(name)
            forms.add(words, Form("condition", term.id, "pred"))
            if len(words) == 2 and words[1] in particles:
                for adverb in lexicon.words["intensifier"]:
                    forms.add((words[0], adverb, words[1]), Form("condition", term.id, "pred"))
            pasts = lexicon.simple_pasts.get(words[0], ()) if words else ()
            for past in pasts:
                forms.add((past, *words[1:]), Form("condition", term.id, "past"))
        for name in term.fields["weak"]:
            words = words_of(name)
            forms.weak.setdefault(words, []).append(Form("condition", term.id, "weak"))
            forms.longest_weak[words[0]] = max(len(words), forms.longest_weak.get(words[0], 0))
        for name in term.fields["nouns"]:
            forms.add(words_of(name), Form("condition", term.id, "noun"))
            forms.add(words_of(plural(name)), Form("condition", term.id, "noun"))
        for verb in term.fields["verbs"]:
            for words, tag in _verb_phrases(verb, lexicon):
                forms.add(words, Form("condition", term.id, tag))
    for term in lexicon.terms["action"].values():
        for verb in term.fields["verbs"]:
            for words, tag in _verb_phrases(verb, lexicon):
                form = Form("action", term.id, tag)
                forms.add(words, form)
                if len(words) > 1 and words[-1] in particles:
                    split = 1
                    while words[split] not in particles and split < len(words) - 1:
                        split += 1
                    if split == 1:
                        forms.split.setdefault(words[0], []).append((words[1:], form))
        for name in term.fields["states"]:
            forms.add(words_of(name), Form("action", term.id, "state"))
        for name in term.fields["nouns"]:
            forms.add(words_of(name), Form("action", term.id, "noun"))
        for name in term.fields["abbreviations"]:
            forms.add(words_of(name), Form("action", term.id, "ed"))
    for tails in forms.split.values():
        tails.sort(key=lambda tail: -len(tail[0]))
    for cue, kind, note in lexicon.cues:
        forms.add(words_of(cue), Form("cue:" + kind, kind, note))
    for number, place in enumerate(lexicon.places):
        forms.add(words_of(place["said"]), Form("place", str(number)))
    for said, quantity in lexicon.quantity_words.items():
        forms.add(words_of(said), Form("quantity_word", quantity))
    for word in lexicon.part_words:
        forms.add((word,), Form("part_word", word, "name"))
        forms.add((plural(word),), Form("part_word", word, "plural"))
    return forms
