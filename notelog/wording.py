"""Cutting text into words: one way for the lexicon and for notes, so that both always agree."""

from __future__ import annotations

import re

_WORD = re.compile(
    r"""
      [^\W\d_]++(?![\w/'])                                 # most words: tried first, only to be sooner
    | [^\W\d_]{1,2}(?:/[^\W\d_]+)+ (?![^\W\d_])             # o/s/f, n/s, d/shaft, w/reg
    | [^\W\d_]+/[^\W\d_]{1,2}(?![^\W_])                     # h/l, steer/w
    | w/(?=\s)                                              # "with"
    | \((?:s|es|ies)\)(?!\w)                                # pad(s)
    | [^\W\d_]+\d+(?:[x.]\d+)*[^\W\d_]*                     # T30, M12x1.5
    | [-+£$€]?(?:\d+(?:[.,]\d+)*|\.\d+)(?:--?\d+(?:\.\d+)?)?(?:[^\W\d_]+\d*)?%?  # 17mm, -2.1deg, 1-1.5deg, 4x4
    | [^\W\d_]*n't(?![^\W_])                                # isn't
    | '(?:s|ve|ll|re|m|d)(?![^\W_])                         # the 's of "it's"
    | [^\W\d_]+
    | [^\s]
    """,
    re.VERBOSE,
)
_HYPHEN = re.compile(r"(?<=[^\W\d_])-(?=[^\W\d_])")
_CURLY = str.maketrans("\u2018\u2019\u201b\u02bc", "''''")


def plain(text: str) -> str:
    """The text, character for character as long, with hyphens inside words opened and quotes made straight.

    >>> plain("anti-roll bar’s")
    "anti roll bar's"
    """
    if not text.isascii():
        text = text.translate(_CURLY)
    return _HYPHEN.sub(" ", text) if "-" in text else text


def word_spans(text: str) -> list[tuple[int, int]]:
    """The spans of the words and marks of a text that went through `plain`; white space lies between them.

    >>> [("o/s/f arm's bent.")[a:b] for a, b in word_spans("o/s/f arm's bent.")]
    ['o/s/f', 'arm', "'s", 'bent', '.']
    """
    return [match.span() for match in _WORD.finditer(text)]


def normal(name: str) -> str:
    """A name as it is compared: lower case, hyphens as spaces, one space between words.

    >>> normal("Anti-roll  BAR")
    'anti roll bar'
    """
    return " ".join(plain(name.lower()).split())


def words_of(name: str) -> tuple[str, ...]:
    """The words of a name, lower case, as a note's words are cut.

    >>> words_of("Driver's side")
    ('driver', "'s", 'side')
    """
    name = name.lower()
    if name.isascii() and name.replace(" ", "").isalpha():
        return tuple(name.split())  # the same, sooner: most names are letters and spaces
    return tuple(_WORD.findall(plain(name)))
