"""A text cut into words, numbers and marks by one regular expression, and the rewriting of a mapped text."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from notelog.models import MappedText

VULGAR_SHARES = "½¼¾⅛⅜⅝⅞"

# Repetitions are possessive, so that no run of letters or digits is ever gone over twice. Most tokens are words, so they
# are tried first; letters before a digit are left to the sorts below.
_TOKEN = re.compile(
    rf"""
      (?P<word>(?![{VULGAR_SHARES}])[^\W\d_]++(?![0-9])(?:['’][^\W\d_]++)*+)
    | (?P<code>[0-9]++(?:(?:\.[0-9]++){{2,}}|(?::[0-9]++)+|(?:-[0-9]++){{2,}}|(?:/[0-9]++){{2,}})[^\W_]*+)
    | (?P<share>[0-9]++/[0-9]++[^\W_]*+)
    | (?P<count>[0-9]++(?=[xX×](?:\b|[TtMm][0-9]|[0-9]++(?:\.[0-9]++)?mm\b)))
    | (?P<number>(?:[0-9]{{1,3}}(?:,[0-9]{{3}})+(?![0-9])|[0-9]++)(?:\.[0-9]++)?[^\W_]*+
                |(?<![\w.])\.[0-9]++[^\W_]*+
                |[{VULGAR_SHARES}][^\W_]*+)
    | (?P<times>(?<![^\W0-9_])[xX](?=[0-9]|[TtMm][0-9]))
    | (?P<named>[^\W\d_]++[0-9][^\W_]*+(?:\.[0-9]++[^\W_]*+)*+)
    | (?P<mark>\S)
    """,
    re.VERBOSE,
)
_PADDING = 12


@dataclass(slots=True)
class Tokens:
    """The tokens of `text`: lower-case `words`, their `kinds`, and the spans `starts[i]:ends[i]`; `count` of them.

    Kinds: "word", "number" (digits with what is glued to them), "share" (3/8), "count" and "times" (the 4 and the x
    of 4xM8), "named" (letters with digits: E12, M12x1.5), "code" (dates, times of day), "mark" (one other character).
    Empty tokens of the kind "end" follow the last one, so that looking a few tokens ahead needs no check.
    """

    text: str
    words: list[str]
    kinds: list[str]
    starts: list[int]
    ends: list[int]
    count: int

    def glued(self, i: int) -> bool:
        """Whether nothing stands between token `i` and the one before it."""
        return 0 < i < self.count and self.starts[i] == self.ends[i - 1]

    def paragraph_before(self, i: int) -> bool:
        """Whether an empty line stands between token `i` and the one before it."""
        gap_start, gap_end = self.ends[i - 1], self.starts[i]
        return gap_end - gap_start > 1 and self.text.count("\n", gap_start, gap_end) > 1

    def opens_line(self, i: int) -> bool:
        """Whether token `i` is the first one of its line."""
        return i == 0 or "\n" in self.text[self.ends[i - 1] : self.starts[i]]


def tokenise(text: str) -> Tokens:
    """Cut `text` into tokens, in time that grows with its length.

    >>> tokenise("4xM8, don't -2.1deg").words[:8]
    ['4', 'x', 'm8', ',', "don't", '-', '2.1deg', '']
    """
    matches = list(_TOKEN.finditer(text))
    kinds = [match.lastgroup for match in matches]
    starts = [match.start() for match in matches]
    ends = [match.end() for match in matches]
    if text.isascii():
        lower = text.lower()
        words = [lower[start:end] for start, end in zip(starts, ends)]
    else:  # lower case may be longer
        words = [text[start:end].lower() for start, end in zip(starts, ends)]
    if "’" in text:
        words = [word.replace("’", "'") if len(word) > 1 else word for word in words]
    count = len(words)
    words += [""] * _PADDING
    kinds += ["end"] * _PADDING
    starts += [len(text)] * _PADDING
    ends += [len(text)] * _PADDING
    return Tokens(text, words, kinds, starts, ends, count)


def rewrite(source: MappedText, changes: Iterable[tuple[int, int, str]]) -> tuple[MappedText, list[int]]:
    """`source` with each `text[start:end]` of the ordered `changes` replaced, and where each replacement starts.

    Every character of a replacement maps to all that it replaces; what is replaced by itself keeps its mapping.

    >>> new, places = rewrite(MappedText("a mil.", [0, 1, 2, 3, 4, 5], [1, 2, 3, 4, 5, 6]), [(0, 5, "1mm")])
    >>> new, places
    (MappedText(text='1mm.', starts=[0, 0, 0, 5], ends=[5, 5, 5, 6]), [0])
    """
    parts, starts, ends, places = [], [], [], []
    done = length = 0
    for start, end, new in changes:
        kept = source.text[done:start]
        parts += (kept, new)
        places.append(length + len(kept))
        length += len(kept) + len(new)
        starts += source.starts[done:start]
        ends += source.ends[done:start]
        if source.text[start:end] == new:
            starts += source.starts[start:end]
            ends += source.ends[start:end]
        else:
            starts += [source.starts[start]] * len(new)
            ends += [max(source.ends[start:end])] * len(new)
        done = end
    parts.append(source.text[done:])
    starts += source.starts[done:]
    ends += source.ends[done:]
    return MappedText("".join(parts), starts, ends), places
