"""Sizes, readings, times and prices: a number with its unit, its sign, and the range it is part of."""

from __future__ import annotations

import re
from dataclasses import dataclass

from notelog.hearing.numbers import Number, NumberReader, NumberWords
from notelog.hearing.tokens import Tokens
from notelog.hearing.units import Unit, Units

_TORX = re.compile(r"tx?([0-9]{1,3})(s?)")
_THREAD = re.compile(r"m([0-9]{1,2}(?:\.[0-9])?)(?:x([0-9](?:\.[0-9]{1,3})?))?(s?)")
_CLOCKED = re.compile(r"(?:h|hr|hrs|hour|hours)([0-9]{1,2})(?:m|min|mins)?")
_RESISTOR = re.compile(r"(k|r)([0-9])")
_DASHES = frozenset("-–—−")
_MINUS_MARKS = frozenset("-–−")
_STROKES = frozenset("-/.·")
_MONEY = frozenset({"GBP", "USD", "EUR"})
_NAMES_WITHOUT_ARTICLE = 2  # names up to this length are no words: "a h", "an mm"
_WORDS_BACK_TO_A_CUE = 6


@dataclass(slots=True)
class Phrase:
    """A quantity in the tokens `first` to `stop`; `low` and `high` are in `unit`.

    `number` is the number that was read, None for a torx size or a thread. `row` is the unit as it was said, `said_low` the number as it was said, so that the low end of a range can take
    its unit from the high end. `bare`: a number that nothing more is known of. `keep`: how many last characters of
    the phrase are kept behind the quantity ("two 13s"). `misheard`: what was said for the T or M of a size.
    """

    first: int
    stop: int
    low: float
    high: float
    unit: str = ""
    row: Unit | None = None
    number: Number | None = None
    said_low: float = 0.0
    pitch: float | None = None
    keep: int = 0
    misheard: str = ""
    lead: int = 0
    lead_at: int = 0
    is_range: bool = False

    def canonical(self) -> str:
        """The phrase as one token.

        >>> Phrase(0, 3, -2.0, -1.5, "deg").canonical(), Phrase(0, 1, 12, 12, "M", pitch=1.5).canonical()
        ('-2--1.5deg', 'M12x1.5')
        """
        low, high = shortest(self.low), shortest(self.high)
        number = low if low == high else f"{low}-{high}"
        if self.unit in ("T", "M"):
            return self.unit + number + (f"x{shortest(self.pitch)}" if self.pitch else "")
        return number + self.unit


def shortest(value: float) -> str:
    """`value` in plain decimals, at most six of them, without trailing noughts.

    >>> shortest(41.25), shortest(180.0), shortest(1 / 3), shortest(62000.0)
    ('41.25', '180', '0.333333', '62000')
    """
    text = f"{value:.6f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


class QuantityReader:
    """Reads the quantities of one text; every method looks ahead by a bounded number of tokens.

    `starters` are the `starting_words` of the tables, when they are known already.

    >>> from notelog.hearing.numbers import load_number_words
    >>> from notelog.hearing.tokens import tokenise
    >>> from notelog.hearing.units import load_units
    >>> reader = QuantityReader(tokenise("two to three mil, M8"), load_number_words(), load_units())
    >>> [phrase.canonical() for phrase in reader.phrases()]
    ['2-3mm', 'M8']
    """

    def __init__(
        self, tokens: Tokens, number_words: NumberWords, units: Units, starters: frozenset[str] | None = None
    ) -> None:
        self.tokens = tokens
        self.words = tokens.words
        self.numbers = NumberReader(tokens, number_words)
        self.kinds = number_words
        self.units = units
        self.starters = starters or starting_words(number_words, units)
        self.last_stop = -1
        self.quote_open = False

    def phrases(self) -> list[Phrase]:
        """All quantities of the text, in order."""
        tokens, words, starters = self.tokens, self.words, self.starters
        found = []
        for i in [i for i, word in enumerate(words) if word in starters or word == '"' or tokens.kinds[i] in _NUMBER_KINDS]:
            if i < self.last_stop:
                continue
            word = words[i]
            phrase = self.phrase(i) if word in starters or tokens.kinds[i] in _NUMBER_KINDS else None
            if phrase is not None:
                found.append(phrase)
                self.last_stop = phrase.stop
            elif word == '"':
                self.quote_open = not self.quote_open
        return found

    def phrase(self, i: int) -> Phrase | None:
        """The quantity at token `i`, or None."""
        phrase = self._attempt(i, combine=True)
        if phrase is not None and phrase.lead and not self._may_combine(phrase):
            phrase = self._attempt(i, combine=False)
        return phrase

    def _attempt(self, i: int, combine: bool) -> Phrase | None:
        if self.words[i] in self.kinds["between"]:
            return self._between(i, combine)
        phrase = self._simple(i, combine)
        if phrase is None:
            return None
        phrase = self._ranged(phrase, combine) or phrase
        return phrase if phrase.unit or phrase.is_range or self._bare_is_number(phrase) else None

    def _may_combine(self, phrase: Phrase) -> bool:
        """Whether "two twenty" is 220 here, and not two of twenty."""
        if phrase.lead == 1 and phrase.lead_at and self.words[phrase.lead_at - 1] in self.kinds["pronoun before"]:
            return False
        if phrase.lead >= 10:
            return phrase.unit in _MONEY
        if phrase.row is not None:
            return phrase.row.hundreds == "yes" or (phrase.row.hundreds == "one" and phrase.lead == 1)
        return not (phrase.unit or self.words[phrase.stop] in self.kinds["sized"])

    # --- one quantity --------------------------------------------------------------------------------

    def _simple(self, i: int, combine: bool) -> Phrase | None:
        """A quantity that is no range."""
        words = self.words
        word = words[i]
        sized = self._thread_or_torx(i)
        if sized is not None:
            return sized
        if word in self.kinds["teens"]:
            value = self.kinds["teens"][word]
            return Phrase(i, i + 1, value, value, number=Number(value, i + 1, spoken=True), keep=1)
        sign, at = self._sign(i)
        if at == i:
            special = self._typed_share_of_drive(i) or self._single(i) or self._unit_and_share(i)
            if special is not None:
                return special
        elif sign < 0 and (single := self._single(at)) and not single.is_range:
            single.first, single.low, single.high = i, -single.low, -single.high
            single.said_low = -single.said_low
            return single
        currency = self._currency(words[at]) if word and not word[0].isalnum() else None
        if currency is not None:
            at += 1
        if at >= self.tokens.count:
            return None
        number = self.numbers.read(at, combine)
        if number is None:
            return None
        phrase = Phrase(i, number.stop, number.value, number.value, number=number, lead=number.lead, lead_at=at)
        if currency is not None:
            if number.glued:
                return None
            phrase.row, phrase.unit = currency, currency.unit
            self._skip_same_money(phrase)
        elif not self._add_unit(phrase, number):
            return None
        value = phrase.low
        if sign and not self._sign_belongs(i, sign, phrase):
            return None
        if sign < 0:
            value = -value
        phrase.said_low = sign * number.value if sign else number.value
        phrase.low = phrase.high = round(value, 6) + 0.0
        return phrase

    def _sign(self, i: int) -> tuple[int, int]:
        """-1, 1 or 0 for the sign at token `i`, and the token after it."""
        words, tokens = self.words, self.tokens
        word = words[i]
        if word in self.kinds["minus"] or word in self.kinds["negative"]:
            if i > 1 and words[i - 1] in self.kinds["or"] and words[i - 2] in self.kinds["plus"]:
                return 0, i
            return -1, self.numbers.after(i, over_stop=True)
        if word in self.kinds["plus"]:
            return 1, self.numbers.after(i)
        if word in _MINUS_MARKS or word == "+":
            apart = i == 0 or not tokens.glued(i) or words[i - 1] in ("(", "=", ":", ",")
            if apart and tokens.glued(i + 1) and tokens.kinds[i + 1] in ("number", "share"):
                return (1 if word == "+" else -1), i + 1
        return 0, i

    def _sign_belongs(self, i: int, sign: int, phrase: Phrase) -> bool:
        """Whether the sign word or mark at token `i` is one, and no list mark, cable or conjunction."""
        word, number = self.words[i], phrase.number
        reading = phrase.unit in ("deg", "arcmin", "C", "F") or (not number.whole and phrase.unit in ("", "mm", "in"))
        if word in self.kinds["plus"]:
            return reading
        if word in self.kinds["negative"]:
            named = i > 0 and self.words[i - 1] in self.kinds["negative cable"]
            return reading or (not phrase.unit and not named)
        if word in _MINUS_MARKS and number.whole and not phrase.unit:
            return not self.tokens.opens_line(i)
        return True

    def _currency(self, mark: str) -> Unit | None:
        if mark in ("£", "$", "€"):
            return self.units.names[mark][0][1] if mark in self.units.names else None
        return None

    def _skip_same_money(self, phrase: Phrase) -> None:
        """Go on over "grand" or "quid" after "£2"."""
        found = self._name_at(self.numbers.after(phrase.stop - 1))
        if found and found[0].unit == phrase.unit and not found[0].measured_in:
            phrase.low = phrase.low * max(1, found[0].times)
            phrase.stop = found[1]

    def _thread_or_torx(self, i: int) -> Phrase | None:
        """T30, T thirty, T-30, M12, M12x1.5, M twelve by one point five, M12-1.75."""
        words, tokens, kinds = self.words, self.tokens, self.kinds
        word = words[i]
        misheard = ""
        if tokens.kinds[i] == "named":
            if match := _TORX.fullmatch(word):
                size = float(match[1])
                return Phrase(i, i + 1, size, size, "T", keep=len(match[2])) if 0 < size <= 100 else None
            if match := _THREAD.fullmatch(word):
                size, pitch = float(match[1]), float(match[2] or 0) or None
                if not size:
                    return None
                if pitch and not _is_pitch(size, pitch):
                    return None
                phrase = Phrase(i, i + 1, size, size, "M", pitch=pitch, keep=len(match[3]))
                return phrase if pitch or phrase.keep else self._with_pitch(phrase)
            return None
        torx = word in kinds["torx"] or word in kinds["misheard torx"]
        if not torx and word not in kinds["thread"] and word not in kinds["misheard thread"]:
            return None
        if i and tokens.glued(i) and words[i - 1] in ("/", "-", "'", "."):
            return None
        at = self.numbers.after(i, hyphen=True)
        size = self._plain_size(at)
        if size is None:
            return None
        value, stop = size
        if torx:
            if word in kinds["misheard torx"]:
                if shortest(value) not in kinds["torx size"] or self._name_at(self.numbers.after(stop - 1)):
                    return None
                misheard = word
            return Phrase(i, stop, value, value, "T", misheard=misheard) if 0 < value <= 100 else None
        metres = i and tokens.kinds[i - 1] == "number" and tokens.text[tokens.starts[i]] == "m"
        if not 2 <= value <= 64 or metres:
            return None
        phrase = self._with_pitch(Phrase(i, stop, value, value, "M"))
        if word in kinds["misheard thread"]:
            if phrase.pitch is None:
                return None
            phrase.misheard = word
        return phrase

    def _plain_size(self, i: int) -> tuple[float, int] | None:
        """A whole number below 101 without a unit, as in "T thirty" and "M 12"."""
        number = self.numbers.read(i, combine=False)
        if number is None or not number.whole or number.glued or number.value > 100:
            return None
        return number.value, number.stop

    def _with_pitch(self, phrase: Phrase) -> Phrase:
        """`phrase` with the pitch that follows it: "x 1.5", "by one point five", "-1.75"."""
        at = self.numbers.after(phrase.stop - 1)
        if self.words[at] == "-" and self.tokens.glued(at) and self.tokens.glued(at + 1):
            at += 1
        elif self.words[at] in self.kinds["by"]:
            at = self.numbers.after(at)
        else:
            return phrase
        pitch = self.numbers.read(at, combine=False)
        if pitch and not pitch.part and pitch.glued in ("", "mm") and _is_pitch(phrase.low, pitch.value):
            phrase.pitch, phrase.stop = pitch.value, pitch.stop
        return phrase

    def _typed_share_of_drive(self, i: int) -> Phrase | None:
        """ "3 8 drive" and "nine sixteen socket": a share of an inch whose stroke was lost."""
        over = self._small_whole(i)
        under = self._small_whole(i + 1) if over else 0
        if not under or over >= under or over % 2 == 0 or under not in (2, 4, 8, 16, 32):
            return None
        following = self.numbers.after(i + 1, hyphen=True)
        inch = self._name_at(following)
        inch = inch if inch and inch[0] is self.units.canonical["in"] else None
        if under < 8 or over == 1:
            typed = self.words[i].isdigit() and self.words[i + 1].isdigit()
            if not typed or not (inch or self.words[following] in self.kinds["square"]):
                return None
        elif not inch and self.words[following] not in self.kinds["tool"]:
            return None
        value, row = over / under, self.units.canonical["in"]
        number = Number(value, i + 2, whole=False, inches=True, part=True)
        return Phrase(i, inch[1] if inch else i + 2, value, value, "in", row=row, number=number, said_low=value)

    def _small_whole(self, i: int) -> int:
        word = self.words[i]
        if len(word) < 3 and word.isascii() and word.isdigit():
            return int(word)
        return int(self.numbers.digits.get(word) or self.numbers.teens.get(word) or 0)

    def _single(self, i: int) -> Phrase | None:
        """ "an hour", "a mil", "a good hour", "an inch and a half", "an hour or two"."""
        words = self.words
        if words[i] not in self.numbers.articles:
            return None
        at = self.numbers.after(i)
        if words[at] in self.kinds["measure adjective"]:
            at += 1
        found = self._name_at(at)
        if found is None or (at + 1 == found[1] and len(words[at]) <= _NAMES_WITHOUT_ARTICLE):
            return None
        row, stop = found
        if not self._is_unit(Number(1.0, at, spoken=True), at, row, stop):
            return None
        # "forty quid an hour" and "fifty mile an hour" are rates; "the sixteenth of an inch" is no whole one.
        if self.last_stop == i or (i and self._is_distance(words[i - 1])):
            return None
        if i > 1 and words[i - 1] in self.numbers.ofs and words[i - 2] in self.numbers.inch_shares:
            return None
        phrase = Phrase(i, stop, 1.0, 1.0, row.unit, row=row, number=Number(1.0, stop, spoken=True), said_low=1.0)
        phrase.low = phrase.high = row.convert(1.0)
        self._add_more(phrase)
        if not row.single and (row.unit not in _MONEY or phrase.stop == stop):
            return None
        phrase.low = phrase.high = round(phrase.low, 6)
        or_two = words[phrase.stop] in self.kinds["or"] and self.kinds["digit"].get(words[phrase.stop + 1]) == 2
        if or_two and self._name_at(phrase.stop + 2) is None:
            phrase.high = round(row.convert(2.0), 6)
            phrase.stop += 2
            phrase.is_range = True
        return phrase

    def _unit_and_share(self, i: int) -> Phrase | None:
        """ "hour and a half", "inch and a quarter", with no number or article before."""
        if self.tokens.kinds[i] != "word" or len(self.words[i]) <= _NAMES_WITHOUT_ARTICLE:
            return None
        found = self._name_at(i)
        if found is None or not found[0].single or found[0].unit not in ("h", "in", "mm", "deg"):
            return None
        row, stop = found
        phrase = Phrase(i, stop, row.convert(1.0), 0.0, row.unit, row=row, number=Number(1.0, stop), said_low=1.0)
        self._add_more(phrase)
        if phrase.stop == stop:
            return None
        phrase.low = phrase.high = round(phrase.low, 6)
        return phrase

    def _is_distance(self, word: str) -> bool:
        return any(row.unit in ("mi", "km") for _, row in self.units.names.get(word, ()))

    # --- the unit behind a number --------------------------------------------------------------------

    def _name_at(self, i: int) -> tuple[Unit, int] | None:
        """The unit whose name stands at token `i`, and where it stops."""
        rows = self.units.names.get(self.words[i])
        return self._name_in(rows, i + 1) if rows else None

    def _name_in(self, rows: list[tuple[tuple[str, ...], Unit]], following: int) -> tuple[Unit, int] | None:
        """The first of `rows` whose words after the first one stand from token `following` on."""
        words, tokens = self.words, self.tokens
        for name, row in rows:
            at = following
            for word in name[1:]:
                if words[at] in _STROKES and tokens.glued(at):
                    at += 1
                else:
                    at = self.numbers.after(at - 1)
                if words[at] != word:
                    break
                at += 1
            else:
                if len(name[-1]) == 1 and name[-1].isalpha() and self.numbers._compounded(at):
                    continue
                return row, at
        return None

    def _add_unit(self, phrase: Phrase, number: Number) -> bool:
        """Give `phrase` the unit behind its number; False where what is glued to the number says it is none."""
        if number.glued:
            found = self._glued_unit(phrase, number)
            if found is None:
                return phrase.unit != "" or phrase.keep > 0
        else:
            found = self._spaced_unit(phrase, number)
            if found is None:
                # "of" goes on to what is no length: "an eighth of a turn".
                plain_inches = number.inches and self.words[number.stop] not in self.numbers.ofs
                if plain_inches or (number.part and self._sizes_a_tool(phrase)):
                    phrase.row, phrase.unit = self.units.canonical["in"], "in"
                return True
        row, phrase.stop = found
        if number.part and not row.single and row.unit not in ("lbft", "Nm", "bar", "mi", "km", "psi"):
            return False
        phrase.row, phrase.unit = row, row.unit
        phrase.low = row.convert(number.value)
        self._add_more(phrase)
        return True

    def _glued_unit(self, phrase: Phrase, number: Number) -> tuple[Unit, int] | None:
        """The unit glued to the digits: 17mm, 12V, 88C, 2h15, 4k7. `phrase` is filled in for the last two."""
        glued = number.glued
        rows = self.units.names.get(glued)
        found = self._name_in(rows, number.stop) if rows else None
        if found:
            return found
        lower = self.tokens.text[self.tokens.ends[number.stop - 1] - 1].islower()
        if glued in ("c", "f") and lower and number.value < 30:
            return None
        if glued in self.units.close:
            return self.units.close[glued], number.stop
        hours, ohms = self.units.canonical["h"], self.units.canonical["ohm"]
        if (match := _CLOCKED.fullmatch(glued)) and number.whole and int(match[1]) < 60:
            phrase.row, phrase.unit, phrase.low = hours, "h", number.value + int(match[1]) / 60
        elif (match := _RESISTOR.fullmatch(glued)) and number.whole:
            value = float(f"{number.value:.0f}.{match[2]}") * (1000 if match[1] == "k" else 1)
            phrase.row, phrase.unit, phrase.low = ohms, "ohm", value
        elif number.whole and (glued in self.kinds["count after"] or (glued == "s" and 5 <= number.value <= 60)):
            phrase.keep = len(glued)
        return None

    def _spaced_unit(self, phrase: Phrase, number: Number) -> tuple[Unit, int] | None:
        """The unit in the words after the number."""
        words, numbers = self.words, self.numbers
        at = numbers.after(number.stop - 1, hyphen=True)
        found = self._pounds(at) or self._name_at(at)
        if found is None and number.value < 1:
            # "half a mil", "three quarters of an inch", "point eight of a mil"
            beyond = at + 1 if words[at] in numbers.ofs else at
            if words[beyond] in numbers.articles:
                found = self._name_at(beyond + 1)
                bar = words[beyond + 1] == "bar"
                found = found if found and (found[0].single or bar) else None
        if found is None:
            found = self._over_stop(phrase, number) or self._inch_abbreviation(number, at) or self._capital(number, at)
        if found is None or not self._is_unit(number, at, *found):
            return None
        return found

    def _over_stop(self, phrase: Phrase, number: Number) -> tuple[Unit, int] | None:
        """A unit that a recogniser's full stop, or an empty line, cut off from its number."""
        if not number.spoken and self.tokens.opens_line(phrase.first):
            return None
        at = self.numbers.after(number.stop - 1, over_stop=True)
        found = self._name_at(at) if at > number.stop or self.tokens.paragraph_before(number.stop) else None
        if found is None:
            return None
        name = " ".join(word for word in self.words[at : found[1]] if word not in _STROKES)
        return found if name in found[0].over_stop else None

    def _inch_abbreviation(self, number: Number, i: int) -> tuple[Unit, int] | None:
        """ "0.015 in. play": "in" after a fraction, where the next word does not make it the preposition."""
        words = self.words
        if words[i] != "in" or (number.whole and not number.inches):
            return None
        stop = i + 1
        if words[stop] == "." and self.tokens.glued(stop):
            text, end = self.tokens.text, self.tokens.ends[stop]
            following = text[end : self.tokens.starts[stop + 1] + 1]
            if following[:1] == " " and "\n" not in following and following[-1:].islower():
                stop += 1
        return None if words[stop] in self.kinds["no inch before"] else (self.units.canonical["in"], stop)

    def _capital(self, number: Number, i: int) -> tuple[Unit, int] | None:
        """ "88 C" at the end of a clause."""
        start, end = self.tokens.starts[i], self.tokens.ends[i]
        letter = self.tokens.text[start:end]
        if letter in ("C", "F") and number.value >= 30 and self.tokens.kinds[i + 1] in ("mark", "end"):
            return None if self.numbers._compounded(i + 1) else (self.units.canonical[letter], i + 1)
        return None

    def _pounds(self, i: int) -> tuple[Unit, int] | None:
        """Pounds that are no money in this note: a torque or a pressure where the words before say so."""
        if self.words[i] not in self.kinds["pounds"]:
            return None
        named = self._name_at(i)
        unit = "" if named and named[0].unit not in _MONEY else self._cued_pounds(i)
        return (self.units.canonical[unit], i + 1) if unit else None

    def _cued_pounds(self, i: int) -> str:
        for back in range(i - 1, max(i - 1 - _WORDS_BACK_TO_A_CUE, -1), -1):
            word = self.words[back]
            if self.tokens.kinds[back] == "mark":
                break
            if self.words[back + 1] in self.kinds["tool"]:
                continue
            if word in self.kinds["torque cue"]:
                return "lbft"
            if word in self.kinds["pressure cue"]:
                return "psi"
        return ""

    def _is_unit(self, number: Number, at: int, row: Unit, stop: int) -> bool:
        """Whether the unit's name found at token `at` is meant as one."""
        words = self.words
        if words[at] == "bar":
            if number.one or number.value == 1:
                return words[stop] in self.kinds["bar of"]
            return words[stop] not in self.kinds["sized"]
        if words[stop - 1] == "grand" and words[stop] in self.kinds["after grand"]:
            return False
        if words[at] in ('"', "”"):
            return not number.whole or number.inches or not self.quote_open
        if row.unit in ("mi", "km") and words[stop] in self.kinds["rate"]:
            following = self._name_at(stop + 1)
            return not (following and following[0].unit == "h")
        return True

    def _sizes_a_tool(self, phrase: Phrase) -> bool:
        """Whether a bare half or quarter sizes a tool: "3/4 breaker bar", "three quarter socket", "nuts 3/4"."""
        number, following = phrase.number, self.words[self.numbers.after(phrase.number.stop - 1, hyphen=True)]
        if following in self.kinds["square"]:
            return True
        if number.spoken and number.value != 0.75:
            return False
        before = self.words[phrase.first - 1] if phrase.first else ""
        if following in self.kinds["tool"] or following in self.kinds["sized"]:
            return True
        return not number.spoken and before in self.kinds["sized"]

    # --- what follows a unit ---------------------------------------------------------------------------

    def _add_more(self, phrase: Phrase) -> None:
        """Add what is said behind a unit: the minutes of an hour, the pence of a pound, "and a half"."""
        row = phrase.row
        if row is self.units.canonical.get("h"):
            added = self._minutes(phrase.stop) or self._half_more(phrase)
        elif row.unit in _MONEY and row.times == 1:
            added = self._small_change(phrase) or self._half_more(phrase)
        elif row.unit == "deg":
            added = self._arc_minutes(phrase.stop) or self._half_more(phrase)
        else:
            added = self._half_more(phrase)
        if added:
            phrase.low, phrase.stop = phrase.low + added[0], added[1]
            phrase.high = phrase.low

    def _half_more(self, phrase: Phrase) -> tuple[float, int] | None:
        """The "and a half" of "an hour and a half" and "two inches and three eighths"."""
        if not phrase.row.single or (phrase.number and not phrase.number.whole):
            return None
        at = self.numbers.after(phrase.stop - 1, over_stop=True)
        if self.words[at] not in self.numbers.ands:
            return None
        share = self.numbers.share(self.numbers.after(at))
        if share is None or share.glued or (share.inches and phrase.unit != "in"):
            return None
        if share.part and self._unit_behind(share) or self._sizes_a_tool(Phrase(at + 1, 0, 0, 0, number=share)):
            return None
        return phrase.row.convert(share.value), share.stop

    def _unit_behind(self, number: Number) -> bool:
        at = self.numbers.after(number.stop - 1, hyphen=True)
        if self.words[at] in self.numbers.ofs:
            return True
        return bool(self._name_at(at) or (self.words[at] in self.numbers.articles and self._name_at(at + 1)))

    def _minutes(self, i: int) -> tuple[float, int] | None:
        """Minutes behind hours: "two hours fifteen", "1hr 45", "an hour and forty minutes"."""
        at = self.numbers.after(i - 1)
        joined = self.words[at] in self.numbers.ands or self.words[at] == ","
        if joined:
            at = self.numbers.after(at)
        number = self.numbers.read(at, combine=False)
        if number is None or not number.whole or number.value >= 60 or number.one:
            return None
        if number.glued:
            minutes = number.glued in ("m", "min", "mins")
            return (number.value / 60, number.stop) if minutes else None
        found = self._name_at(self.numbers.after(number.stop - 1))
        if found:
            minutes = found[0].measured_in == "minute"
            return (number.value / 60, found[1]) if minutes else None
        if self.words[at - 1] == "," or number.value % 5 or not number.value or self.tokens.paragraph_before(at):
            return None
        if joined and not self._clause_ends(number.stop):
            return None
        following = self.words[number.stop]
        if following in self.kinds["sized"] or following in self.kinds["torx"] or following in ("x", "to", "or", "-"):
            return None
        return number.value / 60, number.stop

    def _clause_ends(self, i: int) -> bool:
        return self.tokens.kinds[i] in ("mark", "end") or self.words[i] in self.kinds["goes on"]

    def _small_change(self, phrase: Phrase) -> tuple[float, int] | None:
        """Pence or cents behind pounds or dollars: "forty eight pound fifty", "two pounds and 20p"."""
        if not phrase.number or not phrase.number.whole:
            return None
        at = self.numbers.after(phrase.stop - 1)
        joined = self.words[at] in self.numbers.ands
        number = self.numbers.read(self.numbers.after(at) if joined else at, combine=False)
        if number is None or not number.whole or not 0 < number.value < 100 or number.one:
            return None
        rows = self.units.names.get(number.glued)
        found = self._name_in(rows, number.stop) if rows else self._name_at(self.numbers.after(number.stop - 1))
        if found:
            return (number.value / 100, found[1]) if found[0].unit == phrase.unit and found[0].times == 0.01 else None
        if number.glued or joined or number.value < 10 or (number.value % 5 and number.value != 99):
            return None
        following = self.words[number.stop]
        return None if following in self.kinds["sized"] or following == "x" else (number.value / 100, number.stop)

    def _arc_minutes(self, i: int) -> tuple[float, int] | None:
        """The minutes of 1°30' and "one degree thirty minutes"."""
        at = self.numbers.after(i - 1)
        joined = self.words[at] in self.numbers.ands
        number = self.numbers.read(self.numbers.after(at) if joined else at, combine=False)
        if number is None or not number.whole or number.glued or number.value >= 60:
            return None
        if self.words[number.stop] in ("'", "′", "’") and self.tokens.glued(number.stop):
            return number.value / 60, number.stop + 1
        found = self._name_at(self.numbers.after(number.stop - 1))
        minutes = found and found[0].measured_in in ("minute", "arcminute")
        return (number.value / 60, found[1]) if minutes else None

    # --- ranges and bare numbers -----------------------------------------------------------------------

    def _between(self, i: int, combine: bool) -> Phrase | None:
        low = self._simple(self.numbers.after(i), combine)
        if low is None or low.number is None or low.keep:
            return None
        at = self.numbers.after(low.stop - 1)
        if self.words[at] not in self.numbers.ands:
            return None
        high = self._simple(self.numbers.after(at), combine)
        joined = self._join(low, high) if high and high.number and not high.keep else None
        if joined:
            joined.first = i
        return joined

    def _ranged(self, low: Phrase, combine: bool) -> Phrase | None:
        """The range that `low` is the beginning of, or None."""
        if low.number is None or low.keep or low.is_range:
            return None
        words, tokens, kinds = self.words, self.tokens, self.kinds
        at = self.numbers.after(low.stop - 1)
        word = words[at]
        spaced_dash = False
        if word in _DASHES:
            tight = tokens.glued(at) and tokens.glued(at + 1)
            spaced_dash = not tokens.glued(at) and not tokens.glued(at + 1)
            if not tight and not spaced_dash:
                return None
            following = at + 1
        elif word in kinds["to"] or word in kinds["or"]:
            following = self.numbers.after(at)
        else:
            return None
        high = self._simple(following, combine)
        if high is None or high.number is None or high.keep:
            return None
        bare_end = not high.unit
        if bare_end:
            if word in kinds["or"] or spaced_dash or high.number.one or high.number.part or low.number.part:
                return None
            if self.numbers._compounded(high.stop) or (high.number.glued and not high.keep):
                return None
            if low.unit and word in kinds["to"] and not self._clause_ends(high.stop):
                return None
            if not low.unit and word in _DASHES and high.high <= low.low:
                return None
        if not low.unit and low.number.one and low.first and words[low.first - 1] in kinds["pronoun before"]:
            return None
        if not low.unit and low.number.part and not bare_end and not high.row.single:
            return None
        if not low.unit and not low.number.spoken and self._tied_before(low.first):
            return None
        return self._join(low, high)

    def _join(self, low: Phrase, high: Phrase) -> Phrase | None:
        """The range from `low` to `high`, the unit taken from whichever has one; None where the two differ."""
        if low.unit and high.unit and low.unit != high.unit:
            return None
        scale = high.number.scale
        if not low.unit and low.number.scale == 1 < scale and low.number.value < high.number.value / scale:
            # "two to three hundred": the scale word holds for both.
            low.said_low *= scale
            low.low = low.said_low
        row = high.row or low.row
        first, last = low.low, high.high
        if row is not None:
            if not low.unit:
                first = row.convert(low.said_low)
            elif not high.unit:
                last = row.convert(high.said_low)
        smaller, greater = sorted((round(first, 6) + 0.0, round(last, 6) + 0.0))
        lead, lead_at = (low.lead, low.lead_at) if low.lead else (high.lead, high.lead_at)
        return Phrase(
            low.first, high.stop, smaller, greater, low.unit or high.unit, row=row, number=high.number,
            lead=lead, lead_at=lead_at, is_range=True,
        )  # fmt: skip

    def _tied_before(self, i: int) -> bool:
        """Whether a hyphen, stroke or stop ties token `i` to a word before it: "B-2", "5W-30"."""
        tokens = self.tokens
        return tokens.glued(i) and self.words[i - 1] in ("-", "/", ".", "_", "'") and tokens.glued(i - 1)

    def _bare_is_number(self, phrase: Phrase) -> bool:
        """Whether a number with no unit is worth noting: not "one", "two-door", "two thirds", "the other two"."""
        number, words, kinds = phrase.number, self.words, self.kinds
        if number.one or (number.part and phrase.low > 0) or (number.glued and not phrase.keep):
            return False
        if self._tied_before(phrase.first) or (self.numbers._compounded(number.stop) and words[number.stop] == "-"):
            return False
        following = words[self.numbers.after(number.stop - 1)]
        if following in kinds["other share"] or (following in kinds["share"] and number.value in (1, 3)):
            return False
        if not number.spoken:
            return True
        before = words[phrase.first - 1] if phrase.first else ""
        if before in kinds["kept before"]:
            return False
        if before == "in" and number.value == 2 and self._clause_ends(number.stop):
            return False
        if before == "in" and following in kinds["in pieces"]:
            return False
        if words[number.stop - 1] in kinds["ten"] and following in kinds["ordinal"]:
            return False
        # "zero play" denies; it counts nothing.
        return number.value != 0 or self._clause_ends(number.stop)


_NUMBER_KINDS = frozenset({"number", "share", "count", "named"})
_STARTING_KINDS = (
    "digit", "oh", "teen", "teens", "ten", "scale", "group", "share", "point", "minus", "negative", "plus", "between", "article",
    "torx", "misheard torx", "thread", "misheard thread",
)  # fmt: skip


def starting_words(number_words: NumberWords, units: Units) -> frozenset[str]:
    """The words and marks that a quantity can begin with."""
    words = {word for kind in _STARTING_KINDS for word in number_words[kind]}
    single = {first for first, rows in units.names.items() if any(unit.single for _, unit in rows)}
    return frozenset(words | single | {"£", "$", "€", "+"} | _MINUS_MARKS)


def _is_pitch(diameter: float, pitch: float) -> bool:
    """Whether a thread of that diameter can have that pitch, mm: no coarse pitch of ISO 262 is over a quarter of it."""
    return 0.2 <= pitch <= diameter / 4
