"""Plurals of nouns and the forms of verbs, for building the spoken forms of the lexicon."""

from __future__ import annotations

_PLURAL_IRREGULAR = {"shoe": "shoes", "leaf": "leaves", "half": "halves", "knife": "knives", "foot": "feet", "axis": "axes",
                     "chassis": "chassis", "glass": "glasses", "loom": "looms", "gas": "gases"}  # fmt: skip
_DOUBLING = set("bdgklmnprt")


def plural(noun: str) -> str:
    """The regular English plural of a noun (its last word).

    >>> plural("bush"), plural("track rod end"), plural("battery"), plural("main leaf")
    ('bushes', 'track rod ends', 'batteries', 'main leaves')
    """
    head, _, last = noun.rpartition(" ")
    if last in _PLURAL_IRREGULAR:
        last = _PLURAL_IRREGULAR[last]
    elif last.endswith(("s", "x", "z", "ch", "sh")):
        last += "es"
    elif last.endswith("y") and last[-2:-1] not in "aeiou":
        last = last[:-1] + "ies"
    else:
        last += "s"
    return f"{head} {last}" if head else last


def verb_forms(verb: str, irregular: dict[str, tuple[tuple[str, ...], tuple[str, ...], str]]) -> list[tuple[str, str]]:
    """The forms of a one-word verb with their tags: base, s, past, part (participle), ed (past and participle), ing.

    `irregular` maps a verb to its pasts, participles and -ing form.

    >>> verb_forms("seal", {})
    [('seal', 'base'), ('seals', 's'), ('sealed', 'ed'), ('sealing', 'ing')]
    >>> verb_forms("take", {"take": (("took",), ("taken",), "taking")})
    [('take', 'base'), ('takes', 's'), ('took', 'past'), ('taken', 'part'), ('taking', 'ing')]
    """
    if verb in irregular:
        pasts, participles, ing = irregular[verb]
        forms = [(verb, "base"), (plural(verb) if not verb.endswith("o") else verb + "es", "s")]
        for form in dict.fromkeys(pasts + participles):
            tag = "ed" if form in pasts and form in participles else "past" if form in pasts else "part"
            if form == verb:
                tag = "same"
            forms.append((form, tag))
        return forms + [(ing, "ing")]
    if verb.endswith("e"):
        past, ing = verb + "d", (verb[:-1] if not verb.endswith(("ee", "ye", "oe", "ie")) else verb) + "ing"
    elif verb.endswith("y") and verb[-2:-1] not in "aeiou":
        past, ing = verb[:-1] + "ied", verb + "ing"
    else:
        past, ing = verb + "ed", verb + "ing"
    return [(verb, "base"), (plural(verb), "s"), (past, "ed"), (ing, "ing")]
