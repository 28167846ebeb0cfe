"""How the spoken text is put together from pieces of the verbatim text."""

from __future__ import annotations

import re

from ..models import MappedText

NEWLINE = re.compile(r"\r\n|\r|\n")
_BLANK = "".join(char for char in map(chr, range(0x3001)) if char.isspace()) + "\x1a\u200b\ufeff"
_CARRIAGE_RETURN = re.compile(r"\r\n?")
_WHITE = re.compile(r"\r\n|\s")


def line_spans(text: str) -> list[tuple[int, int]]:
    """The spans of the lines of `text` without their ends; CRLF, CR and LF end a line.

    >>> line_spans("hub\\r\\narm")
    [(0, 3), (5, 8)]
    """
    spans, at = [], 0
    for end in NEWLINE.finditer(text):
        spans.append((at, end.start()))
        at = end.end()
    spans.append((at, len(text)))
    return spans


def line_number(text: str, at: int) -> int:
    """The number of the line, from 1, in which character `at` of `text` stands.

    >>> line_number("hub\\r\\narm", 5)
    2
    """
    return sum(1 for end in NEWLINE.finditer(text, 0, at)) + 1


def blank(text: str) -> bool:
    """Whether `text` holds nothing but white space, marks of no width, and the old end-of-file mark.

    >>> blank("\\n\\ufeff "), blank(" hub ")
    (True, False)
    """
    return not text.strip(_BLANK)


def stripped(text: str, start: int, end: int) -> tuple[int, int]:
    """The span `start:end` without white space at its ends; an empty span lies at `start`.

    >>> stripped("  hub ", 0, 6)
    (2, 5)
    """
    piece = text[start:end]
    kept = piece.strip(_BLANK)
    if not kept:
        return start, start
    start += len(piece) - len(piece.lstrip(_BLANK))
    return start, start + len(kept)


class Spoken:
    """Collects the spoken text in order.

    `extent` is the verbatim span from the first to the last word added since `new_stretch` was last called, None
    while there is none.

    >>> spoken = Spoken("ball [0:42] joint")
    >>> spoken.keep(0, 4)
    >>> spoken.new_stretch()
    >>> spoken.keep(12, 17)
    >>> mapped = spoken.mapped()
    >>> mapped.text, mapped.source_span(5, 10), spoken.extent
    ('ball joint', (12, 17), (12, 17))
    """

    def __init__(self, text: str) -> None:
        self._text = text
        self._pieces: list[str] = []
        self._starts: list[int] = []
        self._ends: list[int] = []
        self._gap = False
        self.extent: tuple[int, int] | None = None

    def keep(self, start: int, end: int) -> None:
        """Add `text[start:end]` as it stands, line ends as `\\n`; an empty span adds nothing."""
        first, last = stripped(self._text, start, end)
        if self._gap:
            start = first
        if start >= end or (self._gap and first == last):
            return
        self._fill_gap(start)
        if first < last:
            self._extend(first, last)
        if self._text.find("\r", start, end) < 0:
            self._run(start, end)
            return
        for line_end in _CARRIAGE_RETURN.finditer(self._text, start, end):
            self._run(start, line_end.start())
            self._one("\n", *line_end.span())
            start = line_end.end()
        self._run(start, end)

    def put(self, chars: str, start: int, end: int) -> None:
        """Add `chars`, each mapped to the whole of `start:end`: what an escape or an entity stands for."""
        white = blank(chars)
        if not chars or (white and self._gap):
            return
        self._fill_gap(start)
        if not white:
            self._extend(start, end)
        for char in chars:
            self._one(char, start, end)

    def join(self) -> None:
        """Part what was added from what comes next by one space, mapped to white space that lies between them."""
        self._gap = True
        while self._pieces:
            piece = self._pieces[-1]
            kept = piece.rstrip(_BLANK)
            if kept == piece:
                return
            del self._starts[len(kept) - len(piece) :], self._ends[len(kept) - len(piece) :]
            self._pieces[-1:] = [kept] if kept else []

    def new_stretch(self) -> None:
        """Join, and begin a new `extent`."""
        self.join()
        self.extent = None

    def mapped(self) -> MappedText:
        """What was collected so far."""
        return MappedText("".join(self._pieces), self._starts, self._ends)

    def _extend(self, start: int, end: int) -> None:
        self.extent = (self.extent[0] if self.extent else start, end)

    def _run(self, start: int, end: int) -> None:
        if start < end:
            self._pieces.append(self._text[start:end])
            places = list(range(start, end + 1))  # one object for each place: the end of a character starts the next
            self._starts += places[:-1]
            self._ends += places[1:]

    def _one(self, char: str, start: int, end: int) -> None:
        self._pieces.append(char)
        self._starts.append(start)
        self._ends.append(end)

    def _fill_gap(self, start: int) -> None:
        if self._gap and self._pieces:
            last = self._ends[-1]
            white = _WHITE.search(self._text, last, start)
            self._one(" ", *(white.span() if white else (last, start)))
        self._gap = False
