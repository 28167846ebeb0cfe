"""SubRip and WebVTT: the words of the cues with their times.

SubRip has no standard; what is read is a number, a timing line and words up to the next of these (common practice).
WebVTT is read by the rules of W3C "WebVTT: The Web Video Text Tracks Format", chapter "Parsing" (from memory). Where
these rules would drop words (a timing line that cannot be read, an empty line inside a cue) the words are kept without
a time and a warning names the line: a lost word may be a missed fault.
"""

from __future__ import annotations

import html
import re

from pysubs2.time import make_time

from ..models import MappedText, Segment
from .spoken import Spoken, line_spans, stripped

_CLOCK = r"[0-9]+:[0-9:.,]*[0-9]"
_TIMING = rf"[ \t]*({_CLOCK})[ \t]*(-{{1,3}}>|[–—]>)[ \t]*({_CLOCK})"
# Behind the times some programs put a place on the screen ("X1:100 Y1:050") or settings ("align:start"), never words.
_SRT_TIMING = re.compile(_TIMING + r"(?:[ \t]+[^\s:]+:[^\s:]+)*[ \t]*$")
_VTT_TIMING = re.compile(_TIMING + r"(?:[ \t].*)?$")
_BROKEN_TIMING = re.compile(r"(?=.*[0-9]:[0-9]).*-->")
_CUE_NUMBER = re.compile(r"[ \t]*[0-9]+[ \t]*$")
_VTT_SIGNATURE = re.compile(r"WEBVTT(?=[ \t\r\n]|$)")
_VTT_TIME = re.compile(r"(?:([0-9]+):)?([0-5][0-9]):([0-5][0-9])\.([0-9]{3})")
_SRT_TIME = re.compile(r"([0-9]+):([0-5][0-9]):([0-5][0-9])[.,]([0-9]{3})")
_LENIENT_TIME = re.compile(r"(?:([0-9]{1,3}):)?([0-5]?[0-9]):([0-5]?[0-9])(?:[.,]([0-9]{1,3}))?")
_VTT_OTHER_BLOCK = re.compile(r"NOTE(?=[ \t]|$)|(?:STYLE|REGION)[ \t]*$")
_SRT_MARKUP = re.compile(r"</?(?:[ibus]|font)(?:\s[^<>\n]*)?>|\{\\[^{}\n]*\}", re.IGNORECASE)
_VTT_MARKUP = re.compile(
    r"</?(?:[A-Za-z][^<>]*)?>|<[0-9][0-9:.]*>|&(?:#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z0-9]{1,31});"
)


def is_webvtt(text: str, start: int) -> bool:
    """Whether `text` from `start` on begins as WebVTT must: WEBVTT, then white space or the end (W3C WebVTT,
    "File structure").

    >>> is_webvtt("WEBVTT - bay 2", 0), is_webvtt("WEBVTTs", 0)
    (True, False)
    """
    return bool(_VTT_SIGNATURE.match(text, start))


def is_subrip(text: str) -> bool:
    """Whether a line of `text` is a timing line, even one whose times are wrong.

    >>> is_subrip("1\\n00:00:01,000 --> 00:00:02,500\\nthe hub is cracked"), is_subrip("camber 0.5 --> 1.5")
    (True, False)
    """
    return ">" in text and any(_SRT_TIMING.match(text, start, end) for start, end in line_spans(text))


class _Cues:
    """Collects the words, segments and warnings of a subtitle file whose timing and markup look like the patterns."""

    def __init__(self, text: str, timing: re.Pattern, time: re.Pattern, markup: re.Pattern) -> None:
        self.text = text
        self.spoken = Spoken(text)
        self.segments: list[Segment] = []
        self.warnings: list[str] = []
        self._timing, self._time, self._markup = timing, time, markup

    def is_timing(self, start: int, end: int) -> bool:
        """Whether the line `start:end` is a timing line, or was meant to be one."""
        if self.text.find(">", start, end) < 0:
            return False
        return bool(self._timing.match(self.text, start, end) or _BROKEN_TIMING.match(self.text, start, end))

    def add(self, lines: list[tuple[int, int]], times: tuple[float, float | None] | None = None) -> bool:
        """Add the words on `lines` as one cue, the lines joined by one space; False when there are none."""
        self.spoken.new_stretch()
        if not lines:
            return False
        at = 0
        marks = self._markup.finditer(self.text, lines[0][0], lines[-1][1])  # a tag may run over a line end
        mark = next(marks, None)
        for start, end in lines:
            at = max(at, start)
            while mark and mark.start() < end:
                self.spoken.keep(at, mark.start())
                self._add_markup(mark)
                at = mark.end()
                mark = next(marks, None)
            self.spoken.keep(at, end)
            self.spoken.join()
        if self.spoken.extent and times:
            self.segments.append(Segment(*self.spoken.extent, *times))
        return self.spoken.extent is not None

    def times(self, line: int, span: tuple[int, int]) -> tuple[float, float | None] | None:
        """The times of the timing line `line` (from 1) in seconds, or None with a warning."""
        shown = self.text[slice(*stripped(self.text, *span))][:60]
        found = self._timing.match(self.text, *span)
        start, end = (_seconds(found[1]), _seconds(found[3])) if found else (None, None)
        if start is None:
            self.warnings.append(
                f"line {line}: {shown!r} gives no time that can be read; its words are kept without one"
            )
            return None
        if end is None or end < start:
            why = "cannot be read" if end is None else "is before its start"
            self.warnings.append(f"line {line}: the end in {shown!r} {why}; only the start is used")
            return start, None
        if found[2] != "-->" or not (self._time.fullmatch(found[1]) and self._time.fullmatch(found[3])):
            self.warnings.append(f"line {line}: {shown!r} is not written as the format wants; it was read all the same")
        return start, end

    def _add_markup(self, mark: re.Match) -> None:
        found = mark.group()
        if found.startswith(("<v", "</v")):  # another voice: its first word is a word of its own
            self.spoken.join()
        if not found.startswith("&"):
            return
        decoded = html.unescape(found)
        if decoded == found:
            self.spoken.keep(*mark.span())
        elif decoded not in ("\u200e", "\u200f"):
            self.spoken.put(" " if decoded.isspace() else decoded, *mark.span())


def read_subrip(text: str, start: int) -> tuple[MappedText, list[Segment], list[str]]:
    """What was said in the SubRip text from `start` on, its segments, and warnings that name broken lines.

    Tags (`<i>`, `<font ...>`, `{\\\\an8}`) are left out; the cues are joined by one space.

    >>> read_subrip("1\\n00:00:01,000 --> 00:00:02,500\\nthe <i>hub</i>\\nis cracked\\n", 0)[0].text
    'the hub is cracked'
    """
    cues = _Cues(text, _SRT_TIMING, _SRT_TIME, _SRT_MARKUP)
    lines = line_spans(text)
    lines[0] = (start, lines[0][1])
    timing = [index for index, span in enumerate(lines) if cues.is_timing(*span)]
    words_end = [index - bool(index and _CUE_NUMBER.match(text, *lines[index - 1])) for index in timing] + [len(lines)]
    if cues.add(lines[: words_end[0]]):
        cues.warnings.append("line 1: words before the first cue; they are kept without a time")
    for index, end in zip(timing, words_end[1:]):
        cues.add(lines[index + 1 : end], cues.times(index + 1, lines[index]))
    return cues.spoken.mapped(), cues.segments, cues.warnings


def read_webvtt(text: str, start: int) -> tuple[MappedText, list[Segment], list[str]]:
    """What was said in the WebVTT text from `start` on, its segments, and warnings that name broken lines.

    The header, NOTE, STYLE and REGION blocks, cue identifiers, settings and tags are left out, entities are decoded.

    >>> read_webvtt("WEBVTT\\n\\n1\\n00:01.000 --> 00:02.500 align:start\\n<v Sam>hub &amp; bearing</v>", 0)[0].text
    'hub & bearing'
    """
    cues = _Cues(text, _VTT_TIMING, _VTT_TIME, _VTT_MARKUP)
    lines = line_spans(text)
    arrow = [cues.is_timing(*span) for span in lines]
    empty = [first == last for first, last in lines]
    index = next(number for number, (_, end) in enumerate(lines) if end > start) + 1
    while index < len(lines) and not empty[index] and not arrow[index]:
        index += 1
    while index < len(lines):
        begin = index
        while index < len(lines) and not empty[index]:
            # Cue words end at the next timing line, even without an empty line before it.
            if arrow[index] and (index > begin + 1 or (index > begin and arrow[begin])):
                break
            index += 1
        _read_block(cues, lines, arrow, begin, index)
        index += index < len(lines) and empty[index]
    return cues.spoken.mapped(), cues.segments, cues.warnings


def _read_block(cues: _Cues, lines: list[tuple[int, int]], arrow: list[bool], begin: int, end: int) -> None:
    if begin == end:
        return
    text = cues.text
    timing = next((at for at in range(begin, min(begin + 2, end)) if arrow[at]), None)
    if timing is not None:
        if end < len(lines) and arrow[end] and end > timing + 1 and _CUE_NUMBER.match(text, *lines[end - 1]):
            cues.warnings.append(f"line {end}: no empty line before this cue; it was read all the same")
            end -= 1
        cues.add(lines[timing + 1 : end], cues.times(timing + 1, lines[timing]))
    elif _VTT_OTHER_BLOCK.match(text, *lines[begin]):
        return
    elif end - begin == 1 and _CUE_NUMBER.match(text, *lines[begin]):
        cues.warnings.append(f"line {begin + 1}: a cue number without a cue; it is left out")
    elif cues.add(lines[begin:end]):
        cues.warnings.append(f"line {begin + 1}: words that belong to no cue; they are kept without a time")


def _seconds(time: str) -> float | None:
    """The seconds of a time as WebVTT or SubRip write it, or as they are often miswritten; None for no time."""
    found = _VTT_TIME.fullmatch(time) or _LENIENT_TIME.fullmatch(time)
    if not found:
        return None
    hours, minutes, seconds, fraction = found.groups(default="0")
    milliseconds = int(fraction.ljust(3, "0"))
    return make_time(h=int(hours), m=int(minutes), s=int(seconds), ms=milliseconds) / 1000
