"""Numbers as they are said and typed, read from tokens: "a hundred and ten", "one eighty", "two and a half", "62k".

What the words mean stands in `lexicon/number_words.csv` (`word,kind,value`). A word may have several kinds. The
kinds of number words are digit, oh (a zero only between digits), teen, teens ("two thirteens"), ten, scale,
thousands, group, and the shares: "share" (of anything), "inch share" (eighths and finer are inches), "split share"
(the second word of thirty-second and sixty-fourth) and "other share" (thirds: left alone). The other kinds are words
that join numbers, or that beside a number say what it is or that it is none.
"""

from __future__ import annotations

import re
from collections import defaultdict
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from notelog.errors import InputError
from notelog.hearing.tables import read_rows
from notelog.hearing.tokens import VULGAR_SHARES, Tokens
from notelog.paths import data_folder

_HEADER = ["word", "kind", "value"]
_TYPED = re.compile(rf"([0-9,]*(?:\.[0-9]+)?)([{VULGAR_SHARES}]?)(.*)", re.DOTALL)
_TYPED_SHARE = re.compile(r"([0-9]{1,2})/([0-9]{1,2})(?:ths?|nds?)?([^\W\d_]*)")
_TYPED_DECIMALS = re.compile(r"([0-9]{1,6})([^\W\d_]*)")
_VULGAR = dict(zip(VULGAR_SHARES, (0.5, 0.25, 0.75, 0.125, 0.375, 0.625, 0.875)))
_INCH_SHARES = frozenset({8, 16, 32, 64})
_MOST_DIGITS = 12
_MOST_DECIMALS = 6
_MOST_HESITATIONS = 3


class NumberWords(defaultdict[str, dict[str, float]]):
    """Kind to the words of that kind, each with its value (0 where it has none)."""

    def __init__(self) -> None:
        super().__init__(dict)


def load_number_words(folder: Path | None = None) -> NumberWords:
    """The table `number_words.csv` of `folder`, or of the package's lexicon.

    Raises InputError when the file cannot be read, or a cell is empty or no number where it must be one.

    >>> load_number_words()["teen"]["eleven"]
    11.0
    """
    return _load(Path(folder) if folder else data_folder("lexicon"))


@lru_cache(maxsize=8)
def _load(folder: Path) -> NumberWords:
    path = folder / "number_words.csv"
    words = NumberWords()
    for line, row in read_rows(path, _HEADER):
        if not row["word"] or not row["kind"]:
            raise InputError(f"{path}, line {line} has an empty cell: fill in the word and its kind.")
        try:
            value = float(row["value"] or 0)
        except ValueError:
            raise InputError(f"{path}, line {line} has the value {row['value']!r}: write a number.") from None
        words[row["kind"]][row["word"].lower()] = value
    return words


@dataclass(slots=True)
class Number:
    """An unsigned number read from tokens, up to the token `stop`.

    `whole`: no fraction was said. `inches`: its share is one that only inches have. `part`: a share with no whole
    number before it ("three quarters"). `base`: the whole number before a share. `scale`: 100 or 1000 when such a
    word ended it. `lead`: the first digit of "two twenty". `glued`: letters glued behind its digits. `one`: the bare
    word "one". `spoken`: said in words.
    """

    value: float
    stop: int
    whole: bool = True
    inches: bool = False
    part: bool = False
    base: float | None = None
    scale: int = 1
    lead: int = 0
    glued: str = ""
    one: bool = False
    spoken: bool = False


class NumberReader:
    """Reads numbers from the tokens of one text, looking ahead by a bounded number of tokens.

    >>> from notelog.hearing.tokens import tokenise
    >>> NumberReader(tokenise("a hundred and um ten point five Nm"), load_number_words()).read(0).value
    110.5
    """

    def __init__(self, tokens: Tokens, number_words: NumberWords) -> None:
        self.tokens = tokens
        self.words = tokens.words
        kinds = number_words
        self.digits = kinds["digit"]
        self.ohs = kinds["oh"]
        self.teens = kinds["teen"]
        self.tens = kinds["ten"]
        self.scales = kinds["scale"]
        self.thousands = kinds["thousands"]
        self.groups = kinds["group"]
        self.shares = kinds["share"]
        self.inch_shares = kinds["inch share"]
        self.split_shares = kinds["split share"]
        self.articles = kinds["article"]
        self.hesitations = kinds["hesitation"]
        self.points = kinds["point"]
        self.ands = kinds["and"]
        self.ofs = kinds["of"]
        self.bits = kinds["bit"]
        self.not_after_share = kinds["after share"]
        self.no_decimal_after = kinds["no decimal after"]
        self.after_couple_of = kinds["couple of"]
        self.squares = kinds["square"]
        self.plural_sized = frozenset(word for word in kinds["sized"] if word.endswith("s"))

    def after(self, i: int, hyphen: bool = False, over_stop: bool = False) -> int:
        """The token that goes on after token `i`: hesitations are passed over, and a hyphen or full stop where asked.

        An empty line counts as a full stop; where there is one, the answer is past the last token.
        """
        tokens, words = self.tokens, self.words
        j = i + 1
        if hyphen and words[j] == "-" and tokens.glued(j) and tokens.glued(j + 1):
            return j + 1
        if over_stop and words[j] == "." and tokens.glued(j) and not tokens.glued(j + 1):
            j += 1
        passed = 0
        while passed < _MOST_HESITATIONS:
            if words[j] in self.hesitations:
                j += 1
            elif words[j] == "," and words[j + 1] in self.hesitations:
                j += 2
            else:
                break
            passed += 1
        if passed and words[j] == ",":
            j += 1
        if not over_stop and tokens.paragraph_before(j):
            return tokens.count
        return j

    def read(self, i: int, combine: bool = True) -> Number | None:
        """The number at token `i`, or None. `combine` reads "two twenty" as 220, else as 2."""
        kind = self.tokens.kinds[i]
        if kind == "share" or self.words[i][:1] in _VULGAR:
            return self.share(i)
        if kind == "number" or kind == "count":
            number = self.share(i) or self._typed(i)
            if number is None or number.glued or number.part:
                return number
        else:
            number = self._group(i) or self.share(i) or self._words(i, combine)
            if number is None or number.part:
                return number
        if number.whole:
            self._add_decimals(number)
            if number.glued:
                return number
        if number.whole and number.scale == 1:
            self._add_scale(number)
        if number.whole:
            self._add_share(number)
            if not number.whole:
                self._add_scale(number)
        elif number.scale == 1:
            self._add_scale(number)
        return number

    def _typed(self, i: int) -> Number | None:
        """A number in digits, with the letters glued behind it; none where it has more digits than any quantity."""
        word = self.words[i]
        digits, vulgar, glued = _TYPED.fullmatch(word).groups()
        digits = digits.replace(",", "")
        if len(digits) > _MOST_DIGITS:
            return None
        value = float(digits or 0) + _VULGAR.get(vulgar, 0)
        number = Number(value, i + 1, whole="." not in digits and not vulgar, inches=vulgar in "⅛⅜⅝⅞" and bool(vulgar))
        number.base = float(digits or 0) if vulgar else None
        if glued in self.thousands:
            number.value, number.scale = round(value * self.thousands[glued], 6), 1000
        else:
            number.glued = glued
        return number

    def _small(self, i: int) -> tuple[float, int] | None:
        """A whole number below a hundred at token `i` and where it stops: in words, or in digits."""
        word = self.words[i]
        if word in self.tens:
            following = self.after(i, hyphen=True)
            digit = self.digits.get(self.words[following])
            return (self.tens[word] + digit, following + 1) if digit else (self.tens[word], i + 1)
        if word in self.teens:
            return self.teens[word], i + 1
        if word in self.digits:
            return self.digits[word], i + 1
        if len(word) < 3 and word.isascii() and word.isdigit():
            return float(word), i + 1
        return None

    def _words(self, i: int, combine: bool) -> Number | None:
        """A whole number in words below a million."""
        words = self.words
        word = words[i]
        if word in self.points:
            if i and words[i - 1] in self.no_decimal_after:
                return None
            return Number(0, i, spoken=True) if self._decimals(self.after(i)) else None
        if word in self.ohs:
            return Number(0, i + 1, spoken=True) if words[self.after(i)] in self.points else None
        number = Number(0, i, spoken=True)
        if word in self.articles:
            number.stop = self.after(i)
            if words[number.stop] not in self.scales:
                return None
            number.value = 1
        elif word in self.scales:
            number.value = 1
        else:
            small = self._small(i)
            if small is None:
                return None
            number.value, number.stop = small
            number.one = number.value == 1
            if combine and number.value:
                self._combine(number)
        self._add_scale(number, here=number.stop == i or word in self.articles)
        return number

    def _combine(self, number: Number) -> None:
        """Go on from "two" to "two twenty", from "one" to "one oh five", and from "fifteen" to "fifteen fifty"."""
        following = number.stop
        word = self.words[following]
        if self.tokens.paragraph_before(following):
            return
        if word in self.tens or word in self.teens:
            small = self._small(following)
        elif number.value < 10 and word in self.ohs and self.digits.get(self.words[following + 1]):
            small = self.digits[self.words[following + 1]], following + 2
        else:
            return
        number.lead = int(number.value)
        number.value = number.value * 100 + small[0]
        number.stop = small[1]
        number.one = False

    def _add_scale(self, number: Number, here: bool = False) -> None:
        """Go on over "hundred", "thousand" and "k". `here`: the scale word is at `number.stop` itself."""
        at = number.stop if here else self.after(number.stop - 1)
        word = self.words[at]
        if self.scales.get(word) == 100:
            number.value = round(number.value * 100, 6)
            number.scale, number.stop, number.one = 100, at + 1, False
            if number.whole:
                self._add_small(number)
            at = self.after(number.stop - 1)
            word = self.words[at]
        if self.scales.get(word) == 1000:
            number.value = round(number.value * 1000, 6)
            number.scale, number.stop, number.one = 1000, at + 1, False
            if number.whole:
                self._add_below_thousand(number)
        elif word in self.thousands and not self._compounded(at + 1):
            number.value = round(number.value * self.thousands[word], 6)
            number.scale, number.stop, number.one = 1000, at + 1, False

    def _and_next(self, number: Number) -> tuple[int, bool]:
        """The token that may be added to `number`, and whether an "and" stands before it."""
        at = self.after(number.stop - 1)
        if self.words[at] in self.ands:
            return self.after(at), True
        over = self.after(number.stop - 1, over_stop=True)
        return (self.after(over), True) if self.words[over] in self.ands else (at, False)

    def _add_small(self, number: Number) -> None:
        """Add the tens and ones of "a hundred and ten"."""
        at, _ = self._and_next(number)
        small = self._small(at)
        over_stop = self.words[number.stop] == "." or self.tokens.paragraph_before(number.stop)
        if small and small[0] >= (10 if over_stop else 1):
            number.value += small[0]
            number.stop = small[1]
            number.scale = 1

    def _add_below_thousand(self, number: Number) -> None:
        """Add the hundreds, tens and ones of "two thousand five hundred"."""
        at, _ = self._and_next(number)
        if self.words[at] in self.articles and self.scales.get(self.words[at + 1]) == 100:
            rest = Number(1, at + 1)
        elif small := self._small(at):
            rest = Number(small[0], small[1])
        else:
            return
        hundred = rest.stop if rest.stop == at + 1 and self.words[at] in self.articles else self.after(rest.stop - 1)
        if self.scales.get(self.words[hundred]) == 100:
            rest.value, rest.stop = rest.value * 100, hundred + 1
            self._add_small(rest)
        if rest.value:
            number.value += rest.value
            number.stop = rest.stop
            number.scale = 1

    def _add_decimals(self, number: Number) -> None:
        at = number.stop if self.words[number.stop] in self.points else self.after(number.stop - 1)
        if self.words[at] not in self.points:
            return
        found = self._decimals(self.after(at, over_stop=True))
        if found:
            number.value = float(f"{number.value:.0f}.{found[0]}")
            number.stop, number.glued = found[1:]
            number.whole = number.one = False

    def _decimals(self, i: int) -> tuple[str, int, str] | None:
        """The decimals said after "point", where they stop, what is glued on: "one two", "oh five", "fifteen", "5mm"."""
        decimals, at = "", i
        while len(decimals) < _MOST_DECIMALS:
            word = self.words[at]
            if word in self.digits or word in self.ohs:
                if decimals and self.words[at + 1] in self.points:
                    break
                decimals += f"{self.digits.get(word, 0):.0f}"
            elif word in self.teens or word in self.tens:
                if decimals.strip("0"):
                    break
                value, stop = self._small(at)
                return f"{decimals}{value:.0f}", stop, ""
            elif not decimals and (typed := _TYPED_DECIMALS.fullmatch(word)):
                return typed[1], at + 1, typed[2]
            else:
                break
            stop, at = at + 1, self.after(at)
        return (decimals, stop, "") if decimals else None

    def _group(self, i: int) -> Number | None:
        """ "a dozen", "half a dozen", "two dozen", "a couple (of)"."""
        words = self.words
        at, times = i, 1.0
        if words[i] in self.articles:
            at = i + 1
        elif self.shares.get(words[i]) == 2:
            at, times = (i + 2 if words[i + 1] in self.articles else i + 1), 0.5
        elif words[i] in self.digits and self.groups.get(words[i + 1], 0) > 2:
            at, times = i + 1, self.digits[words[i]]
        size = self.groups.get(words[at])
        if not size or (size == 2 and times != 1):
            return None
        number = Number(times * size, at + 1, spoken=True)
        if words[at + 1] in self.ofs and words[at + 2] not in self.after_couple_of and at + 2 < self.tokens.count:
            number.stop = at + 2
        elif size == 2 and at == i:
            return None
        return number

    def _add_share(self, number: Number) -> None:
        """Go on from "two" to "two and a half", and from 1 to "1 1/8" and "1-1/8"."""
        typed = number.stop
        if self.words[typed] == "-" and self.tokens.glued(typed) and self.tokens.glued(typed + 1):
            typed += 1
        hyphened = typed > number.stop
        joined = self.tokens.kinds[typed] == "share" or self.words[typed][:1] in _VULGAR
        at, said_and = (typed, False) if joined and not number.spoken else self._and_next(number)
        if not (said_and or (joined and not number.spoken)):
            return
        if said_and and self.words[at] in self.articles and self.words[at + 1] in self.bits:
            return
        share = self.share(at)
        if share is None or not share.part:
            return
        counted = number.value >= 2 and self.words[share.stop] in self.plural_sized
        if counted and not said_and and not hyphened:  # "4 3/8 bolts" are four
            return
        # In "a 17 and a three eighths drive ratchet" the share is another tool's.
        if number.value >= 2 and said_and and self._drives(share.stop):
            return
        number.base = number.value
        number.value += share.value
        number.stop, number.glued = share.stop, share.glued
        number.inches = share.inches or hyphened
        number.whole = number.one = False

    def _drives(self, i: int) -> bool:
        return any(self.words[at] in self.squares for at in range(i, i + 3))

    def share(self, i: int) -> Number | None:
        """A share with no whole number at token `i`: "3/8", "three eighths", "an eighth", "half", "3 8ths"."""
        words = self.words
        word = words[i]
        if self.tokens.kinds[i] == "share":
            match = _TYPED_SHARE.fullmatch(word)
            if not match:
                return None
            over, under = int(match[1]), int(match[2])
            if not 0 < over < under or under not in _INCH_SHARES | {2, 4}:
                return None
            inches = under in _INCH_SHARES
            return Number(over / under, i + 1, whole=False, inches=inches, part=True, glued=match[3])
        if word[:1] in _VULGAR:
            inches = word[0] in "⅛⅜⅝⅞"
            return Number(_VULGAR[word[0]], i + 1, whole=False, inches=inches, part=True, glued=word[1:])
        at, over, counted = i, 1.0, False
        if word in self.articles:
            at = i + 1
        elif small := self._small(i):
            over, at, counted = small[0], self.after(small[1] - 1, hyphen=True), True
        under, stop, inches = self._denominator(at, counted)
        if not 0 < over < under or (under > 4 and at == i) or words[stop] in self.not_after_share:
            return None
        # "two quarter panels" and "two eighths" are no shares, "four tenths" is.
        if over % 2 == 0 and under not in (10, 100):
            return None
        return Number(over / under, stop, whole=False, inches=inches, part=True, spoken=True)

    def _denominator(self, i: int, counted: bool) -> tuple[float, int, bool]:
        """What a share is a share of, where it stops, and whether only inches have it; (0, 0, False) if it is none."""
        word = self.words[i]
        if word in self.shares:
            return self.shares[word], i + 1, False
        if word in self.inch_shares:
            return self.inch_shares[word], i + 1, True
        following = self.after(i, hyphen=True)
        split = self.split_shares.get(self.words[following])
        if counted and split and self.tens.get(word) == (30 if split == 32 else 60):
            return split, following + 1, True
        return 0, 0, False

    def _compounded(self, i: int) -> bool:
        """Whether a hyphen or stroke at token `i` ties the token before it to a word ("V-belt", "h/lamp")."""
        return self.words[i] in ("-", "/") and self.tokens.glued(i) and self.tokens.glued(i + 1)
