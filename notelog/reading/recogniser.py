"""The JSON of speech recognisers: a list of objects with `start`, `end` and `text`, or an object that holds such a list
under `segments`, whatever else it holds. An object with a `text` and no such list is read without times.
"""

from __future__ import annotations

import json
import math
import re
from dataclasses import dataclass
from json.decoder import scanstring

from ..errors import InputError
from ..models import MappedText, Segment
from .encoding import called
from .spoken import NEWLINE, Spoken, blank, line_number

_OPENING = re.compile(r"[ \t\r\n]*(?:\{\s*[\"'}]|\[\s*[\[{\"'\]])")
_NUMBERS = re.compile(r"[ \t\r\n]*\[\s*-?[0-9]")
_TOKEN = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"|[{}\[\],:]|[^\s{}\[\],:"]+')
_ESCAPE = re.compile(r"\\(?:u[dD][89abAB][0-9a-fA-F]{2}\\u[dD][c-fC-F][0-9a-fA-F]{2}|u[0-9a-fA-F]{4}|.)")


@dataclass(slots=True)
class _String:
    """A JSON string where it stands: `start:end` is its span with the quotes."""

    start: int
    end: int


def is_json(text: str, start: int) -> bool:
    """Whether `text` from `start` on is JSON or plainly meant to be: an object, or a list of objects, lists or strings.

    >>> is_json('[{"text": "hub"', 0), is_json("[0:42] the hub", 0), is_json("[hub]", 0)
    (True, False, False)
    """
    if _OPENING.match(text, start):
        return True
    if not _NUMBERS.match(text, start):
        return False
    try:
        json.loads(text[start:])
    except (ValueError, RecursionError):
        return False
    return True


def read_json(text: str, start: int, source: str) -> tuple[MappedText, list[Segment], list[str]]:
    """What was said in the JSON text from `start` on, its segments (seconds), and warnings.

    The words of the segments are joined by one space; a character written as an escape maps to the whole escape.
    Raises InputError when the JSON is broken (with line and column) or holds no text.

    >>> text = '{"segments": [{"start": 0, "end": 1.5, "text": " the \\\\u0022hub\\\\u0022 "}]}'
    >>> mapped, segments, _ = read_json(text, 0, "bay2.json")
    >>> mapped.text, (segments[0].t_start, segments[0].t_end)
    ('the "hub"', (0.0, 1.5))
    """
    _validate(text, start, source)
    tree = _parse(text, start)
    spoken, segments, warnings = Spoken(text), [], []
    rows = tree.get("segments") if isinstance(tree, dict) else tree
    wordless, timeless = [], []
    for number, row in enumerate(rows if isinstance(rows, list) else [], 1):
        words = row.get("text") if isinstance(row, dict) else None
        if not isinstance(words, _String):
            wordless.append(number)
            continue
        spoken.new_stretch()
        _say(spoken, text, words, lines_run_on=True)
        begin, end = _seconds(text, row.get("start")), _seconds(text, row.get("end"))
        if spoken.extent and begin is None:
            timeless.append(number)
        elif spoken.extent:
            segments.append(Segment(*spoken.extent, begin, end if end is not None and end >= begin else None))
    if wordless:
        warnings.append(f"{len(wordless)} segment(s) without text are left out; the first is number {wordless[0]}")
    if timeless:
        warnings.append(
            f"{len(timeless)} segment(s) have no start in seconds, their words are kept without a time; "
            f"the first is number {timeless[0]}"
        )
    spoken.join()
    mapped = spoken.mapped()
    if not mapped.text and isinstance(tree, dict) and isinstance(tree.get("text"), _String):
        _say(spoken, text, tree["text"], lines_run_on=False)
        mapped = spoken.mapped()
    if blank(mapped.text):
        raise InputError(
            f'{called(source)} is JSON without text: it needs a list of objects with "start", "end" and "text", '
            'or such a list under "segments"'
        )
    return mapped, segments, warnings


def _validate(text: str, start: int, source: str) -> None:
    try:
        json.loads(text[start:])
    except json.JSONDecodeError as error:
        at = start + error.pos
        column = at - max((end.end() for end in NEWLINE.finditer(text, 0, at)), default=0) + 1
        raise InputError(
            f"{called(source)} looks like JSON but breaks in line {line_number(text, at)}, column {column} "
            f"({error.msg}): export it again, or give the note as plain text"
        ) from None
    except (ValueError, RecursionError):  # a number of thousands of digits, or brackets thousands deep
        raise InputError(
            f"{called(source)} looks like JSON but is no speech recogniser's: export it again, or give plain text"
        ) from None


def _parse(text: str, start: int) -> dict | list | _String | str:
    """The valid JSON text as dicts and lists whose strings are `_String` and whose other values are their raw text."""
    root: list = []
    stack: list[dict | list] = [root]
    keys: list[str | None] = [None]

    def add(value: object) -> None:
        if isinstance(stack[-1], list):
            stack[-1].append(value)
        elif keys[-1] is None:
            keys[-1] = scanstring(text, value.start + 1)[0]
        else:
            stack[-1][keys[-1]] = value
            keys[-1] = None

    for token in _TOKEN.finditer(text, start):
        first = token[0][0]
        if first == '"':
            add(_String(*token.span()))
        elif first in "{[":
            inner: dict | list = {} if first == "{" else []
            add(inner)
            stack.append(inner)
            keys.append(None)
        elif first in "}]":
            stack.pop()
            keys.pop()
        elif first not in ",:":
            add(token[0])
    return root[0]


def _say(spoken: Spoken, text: str, words: _String, lines_run_on: bool) -> None:
    at, end = words.start + 1, words.end - 1
    for escape in _ESCAPE.finditer(text, at, end):
        spoken.keep(at, escape.start())
        at = escape.end()
        char = scanstring(text[escape.start() : at] + '"', 0)[0]
        if char.isspace():
            if lines_run_on:
                spoken.join()
            else:
                spoken.put("\n" if char == "\r" else char, *escape.span())
        elif "\ud800" <= char <= "\udfff":
            spoken.put("\ufffd", *escape.span())
        elif char >= " ":
            spoken.put(char, *escape.span())
    spoken.keep(at, end)


def _seconds(text: str, value: object) -> float | None:
    """A time given as a number, or as a number in a string; None for anything else."""
    raw = text[value.start + 1 : value.end - 1] if isinstance(value, _String) else value
    try:
        seconds = float(raw)
    except (TypeError, ValueError):
        return None
    return seconds if math.isfinite(seconds) and seconds >= 0 else None
