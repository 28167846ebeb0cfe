"""Plain text, and plain text with time stamps in it.

In brackets or parentheses a time is a stamp wherever it stands (`[0:42]`, `(2:10)`, `[1:02:03]`, also a
range such as `[00:00.000 --> 00:05.900]`). A bare time is one only where at least two lines begin with a time and most
of these times run on; then a bare time inside a line counts too when it lies between that line's time and the next
line's. So "came in at 10:30" stays text.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import pairwise

from ..models import MappedText, Segment
from .spoken import NEWLINE, Spoken, line_spans, stripped

_TIME = r"(?:[0-9]{1,2}:[0-5][0-9]|[0-9]{1,3}):[0-5][0-9](?:[.,][0-9]{1,3})?"
_RANGE = rf"({_TIME})(?:[ \t]{{0,3}}(?:-{{1,2}}>|-|–|—)[ \t]{{0,3}}({_TIME}))?"
_BRACKETED = re.compile(rf"\[[ \t]{{0,3}}{_RANGE}[ \t]{{0,3}}\]|\([ \t]{{0,3}}{_RANGE}[ \t]{{0,3}}\)")
_LEADING = re.compile(
    rf"[ \t]*{_RANGE}(?![0-9:.,]?[0-9A-Za-z])(?!\s*(?:[ap]\.?m\b|to\s+[0-9]))"
    r"(?:[ \t]*[-–—:|](?=[ \t])(?![ \t]*[0-9]))?(?=\s|$)",
    re.IGNORECASE,
)
_INNER = re.compile(rf"(?<=[ \t])({_TIME})(?=[ \t])")


@dataclass(slots=True)
class Stamp:
    """A time stamp at `start:end` of the verbatim text; times in seconds, `until` where it is a range."""

    start: int
    end: int
    time: float
    until: float | None = None
    leads: bool = False


def seconds(stamp: str) -> float:
    """The seconds of "0:42", "1:02:03" or "00:42.5".

    >>> seconds("1:02:03"), seconds("00:42,5")
    (3723.0, 42.5)
    """
    total = 0.0
    for field in stamp.replace(",", ".").split(":"):
        total = total * 60 + float(field)
    return round(total, 3)


def find_stamps(text: str) -> list[Stamp]:
    """The time stamps of `text` in order; none in text that only mentions times.

    >>> [stamp.time for stamp in find_stamps("the ball [0:42] joint")]
    [42.0]
    >>> find_stamps("it came in at 10:30, and the owner wants it by 16:00")
    []
    """
    stamps = [
        Stamp(found.start(), found.end(), seconds(found[1] or found[3]), _until(found[2] or found[4]))
        for found in _BRACKETED.finditer(text)
    ]
    spans = line_spans(text)
    first_of_line = {stripped(text, start, end)[0] for start, end in spans}
    for stamp in stamps:
        stamp.leads = stamp.start in first_of_line
    bare = _bare_stamps(text, spans)
    return _without_overlaps(sorted(stamps + bare, key=lambda stamp: stamp.start)) if bare else stamps


def read_plain(text: str, start: int) -> MappedText:
    """What was said in plain text from character `start` on: everything, line ends as `\\n`.

    >>> read_plain("hub\\r\\narm", 0).text
    'hub\\narm'
    """
    spoken = Spoken(text)
    spoken.keep(start, len(text))
    return spoken.mapped()


def read_stamped(text: str, start: int, stamps: list[Stamp]) -> tuple[MappedText, list[Segment]]:
    """What was said around `stamps`, and a segment from each stamp to the next.

    The words on both sides of a stamp are joined by one space, so a phrase runs on through it. Where two or more lines
    begin with a stamp the other line ends are joined too; otherwise they are kept.

    >>> mapped, segments = read_stamped("the ball [0:42] joint", 0, find_stamps("the ball [0:42] joint"))
    >>> mapped.text, segments
    ('the ball joint', [Segment(start=16, end=21, t_start=42.0, t_end=None)])
    """
    lines_run_on = sum(stamp.leads for stamp in stamps) >= 2
    spoken, segments = Spoken(text), []
    borders = [stamp.start for stamp in stamps] + [len(text)]
    _keep_words(spoken, text, start, borders[0], lines_run_on)
    for number, stamp in enumerate(stamps):
        spoken.new_stretch()
        _keep_words(spoken, text, stamp.end, borders[number + 1], lines_run_on)
        if not spoken.extent:
            continue
        until = stamp.until
        if until is None and number + 1 < len(stamps):
            until = stamps[number + 1].time
        if until is not None and until < stamp.time:
            until = None
        segments.append(Segment(*spoken.extent, stamp.time, until))
    return spoken.mapped(), segments


def _keep_words(spoken: Spoken, text: str, start: int, end: int, lines_run_on: bool) -> None:
    first, last = stripped(text, start, end)
    if lines_run_on:
        for line_end in NEWLINE.finditer(text, first, last):
            spoken.keep(*stripped(text, first, line_end.start()))
            spoken.join()
            first = line_end.end()
        first, last = stripped(text, first, last)
    spoken.keep(first, last)


def _without_overlaps(stamps: list[Stamp]) -> list[Stamp]:
    """A time inside brackets is found twice; the stamp that begins first, at the bracket, is kept."""
    kept = stamps[:1]
    for stamp in stamps[1:]:
        if stamp.start >= kept[-1].end:
            kept.append(stamp)
    return kept


def _until(stamp: str | None) -> float | None:
    return None if stamp is None else seconds(stamp)


def _bare_stamps(text: str, spans: list[tuple[int, int]]) -> list[Stamp]:
    leading = []
    for start, end in spans:
        found = _LEADING.match(text, start, end)
        if found:
            leading.append((end, Stamp(found.start(1), found.end(), seconds(found[1]), _until(found[2]), True)))
    times = [stamp.time for _, stamp in leading]
    in_order = sum(earlier <= later for earlier, later in pairwise(times))
    if len(leading) < 2 or in_order <= (len(times) - 1) / 2:
        return []
    stamps = []
    for (line_end, stamp), following in zip(leading, times[1:] + [None]):
        stamps.append(stamp)
        previous = stamp.time
        for found in _INNER.finditer(text, stamp.end, line_end):
            time = seconds(found[1])
            if following is not None and previous < time < following:
                stamps.append(Stamp(found.start(1), found.end(1), time))
                previous = time
    return stamps
