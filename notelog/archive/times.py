"""Times in a question: "last year", "since March", "2025", "between May and July 2025", "in the last 3 months".

A time becomes a first and a last day, both included. A month without its year is the newest one that has begun.
"""

from __future__ import annotations

import functools
import re
from datetime import date, timedelta
from typing import NamedTuple

_MONTHS = ("january", "february", "march", "april", "may", "june", "july", "august", "september", "october", "november", "december")
_MONTH = "|".join([*_MONTHS, *(name[:3] for name in _MONTHS if name != "may"), "sept"])
_ONE = rf"""(?:(?P<{{0}}iso>(?:19|20)\d\d-\d\d(?:-\d\d)?)|(?:(?P<{{0}}month>{_MONTH})\b\.?)(?:,?\s+(?P<{{0}}of>(?:19|20)\d\d))?
    |(?P<{{0}}year>(?:19|20)\d\d)|(?P<{{0}}which>last|this|past)\s+(?P<{{0}}unit>year|month|week)|(?P<{{0}}day>today|yesterday))(?![\w/-])"""
_NUMBERS = ("a", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve")
_FORMS = [
    ("ago", rf"(?:(?:in|over|within|during)\s+)?(?:the\s+)?(?:last|past)\s+(?P<n>\d{{1,3}}|{'|'.join(_NUMBERS)})\s+(?P<units>day|week|month|year)s?"),
    ("between", rf"(?:between|from)\s+{_ONE.format('a')}\s+(?:and|to|until|till)\s+{_ONE.format('b')}"),
    ("since", rf"(?:since|from)\s+{_ONE.format('a')}"),
    ("after", rf"after\s+{_ONE.format('a')}"),
    ("before", rf"before\s+{_ONE.format('a')}"),
    ("until", rf"(?:until|till|up\s+to)\s+{_ONE.format('a')}"),
    ("in", rf"(?:in|during|on)\s+{_ONE.format('a')}"),
    ("bare", _ONE.format("a")),
]
_SIGN = re.compile(r"\d{4}|\b(?:last|past|this|since|from|after|before|until|till|up to|in|during|on|between|today|yesterday)\b", re.IGNORECASE)


@functools.cache
def _patterns() -> list[tuple[str, re.Pattern[str]]]:
    return [(how, re.compile(rf"(?<![\w/-])(?:{pattern})(?![\w])", re.IGNORECASE | re.VERBOSE)) for how, pattern in _FORMS]


class Time(NamedTuple):
    """From which day to which (ISO 8601), either may be open; `said` are the words, `start:end` where they stand."""

    since: str | None
    until: str | None
    said: str
    start: int
    end: int


def times_in(text: str, today: date) -> list[Time]:
    """The times in a question, in their order; none of them overlap.

    >>> [(one.since, one.until) for one in times_in("bent strut last year, or since March", date(2026, 11, 25))]
    [('2025-01-01', '2025-12-31'), ('2026-03-01', None)]
    """
    found: list[Time] = []
    for how, pattern in _patterns() if _SIGN.search(text) else ():
        for match in pattern.finditer(text):
            if any(match.start() < one.end and one.start < match.end() for one in found):
                continue
            if how == "bare" and match["amonth"] and not match["aof"]:
                continue  # "may" and "march" alone are words
            if how == "bare" and match["ayear"] and int(match["ayear"]) > today.year:
                continue  # a figure
            span = _span(how, match, today)
            if span is not None:
                found.append(Time(*span, match[0], *match.span()))
    return sorted(found, key=lambda one: one.start)


def day_span(text: str, today: date) -> tuple[str, str] | None:
    """The first and the last day of a time as an option gives it ("2025", "2025-03", "March 2025", "last year").

    >>> day_span("2025-02", date(2026, 11, 25))
    ('2025-02-01', '2025-02-28')
    """
    match = re.fullmatch(_ONE.format("a"), text.strip(), re.IGNORECASE | re.VERBOSE)
    return _one(match, "a", today) if match else None


def _span(how: str, match: re.Match[str], today: date) -> tuple[str | None, str | None] | None:
    if how == "ago":
        n = int(match["n"]) if match["n"].isdigit() else _NUMBERS.index(match["n"].lower()) + 1
        days = {"day": 1, "week": 7, "month": 30.44, "year": 365.25}[match["units"].lower()]
        return (today - timedelta(days=min(round(n * days), 60_000))).isoformat(), None
    one = _one(match, "a", today)
    if one is None:
        return None
    if how == "between":
        other = _one(match, "b", today)
        if other is None:
            return None
        if match["amonth"] and not match["aof"] and other[0][:4] != one[0][:4]:
            again = _one(match, "a", today, int(other[0][:4]))
            one = again or one
        return one[0], other[1]
    first, last = date.fromisoformat(one[0]), date.fromisoformat(one[1])
    return {
        "since": (one[0], None),
        "after": ((last + timedelta(1)).isoformat(), None),
        "before": (None, (first - timedelta(1)).isoformat()),
        "until": (None, one[1]),
    }.get(how, one)


def _one(match: re.Match[str], name: str, today: date, year: int | None = None) -> tuple[str, str] | None:
    of = {key.removeprefix(name): value.lower() for key, value in match.groupdict().items() if value and key.startswith(name)}
    try:
        if "iso" in of:
            if len(of["iso"]) == 10:
                day = date.fromisoformat(of["iso"])
                return day.isoformat(), day.isoformat()
            return _month(*map(int, of["iso"].split("-")))
        if "month" in of:
            number = next(n for n, full in enumerate(_MONTHS, 1) if full.startswith(of["month"][:3]))
            named = int(of["of"]) if "of" in of else year
            return _month(named or today.year - (number > today.month), number)
        if "year" in of:
            return f"{of['year']}-01-01", f"{of['year']}-12-31"
    except ValueError:
        return None
    if "day" in of:
        day = today - timedelta(of["day"] == "yesterday")
        return day.isoformat(), day.isoformat()
    back = of["which"] != "this"
    if of["unit"] == "year":
        return f"{today.year - back}-01-01", f"{today.year - back}-12-31"
    if of["unit"] == "month":
        first = today.replace(day=1)
        if back:
            first = (first - timedelta(1)).replace(day=1)
        return _month(first.year, first.month)
    monday = today - timedelta(today.weekday() + 7 * back)
    return monday.isoformat(), (monday + timedelta(6)).isoformat()


def _month(year: int, month: int) -> tuple[str, str]:
    first = date(year, month, 1)
    after = date(year + month // 12, month % 12 + 1, 1)
    return first.isoformat(), (after - timedelta(1)).isoformat()
