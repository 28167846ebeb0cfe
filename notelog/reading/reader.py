"""The way in: bytes, a file, standard input or pasted text become a Note; the format is found from the content."""

from __future__ import annotations

import hashlib
import sys
from pathlib import Path

from ..errors import InputError
from ..models import Note
from .encoding import MAX_BYTES, called, decode, refuse_control_characters
from .recogniser import is_json, read_json
from .spoken import blank
from .stamps import find_stamps, read_plain, read_stamped
from .subtitles import is_subrip, is_webvtt, read_subrip, read_webvtt


def read_bytes(data: bytes, source: str) -> Note:
    """Read the content of a file; `source` is the name that the note carries and that messages call it by.

    `Note.text` is `data.decode(note.encoding)`, line ends and all; `Note.sha256` is that of `data`.
    Raises InputError when `data` is empty, larger than MAX_BYTES, no text, broken JSON, or holds no words.

    >>> note = read_bytes(b"\\xef\\xbb\\xbf[0:42] both hubs are cracked", "bay2.txt")
    >>> note.format, note.spoken.text, note.encoding
    ('stamped', 'both hubs are cracked', 'utf-8-sig')
    """
    _refuse_size(len(data), source)
    if not data:
        raise InputError(f"{called(source)} is empty: give a file with the words of the note")
    text, encoding, warnings = decode(data, source)
    return _read(text, source, hashlib.sha256(data).hexdigest(), encoding, warnings)


def read_file(path: str) -> Note:
    """Read the file at `path`, or the bytes of standard input for "-"; the note's source is `path`.

    Raises InputError when there is no such file, it is a folder, may not be read, or for the reasons of `read_bytes`.

    >>> read_file("no-such-note.txt")
    Traceback (most recent call last):
    notelog.errors.InputError: no-such-note.txt does not exist: check the path
    """
    if path == "-":
        return read_bytes(sys.stdin.buffer.read(MAX_BYTES + 1), path)
    try:
        with Path(path).open("rb") as file:
            data = file.read(MAX_BYTES + 1)
    except FileNotFoundError:
        raise InputError(f"{path} does not exist: check the path") from None
    except IsADirectoryError:
        raise InputError(f"{path} is a folder: give a file in it") from None
    except PermissionError:
        raise InputError(f"{path} may not be read: check its permissions") from None
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or error
        raise InputError(f"{path!r} cannot be read ({reason}): check the path") from None
    return read_bytes(data, path)


def read_text(text: str, source: str = "") -> Note:
    """Read pasted text; `Note.sha256` is that of the text in UTF-8.

    Raises InputError for the reasons of `read_bytes`.

    >>> note = read_text("the ball [0:42] joint is worn")
    >>> note.spoken.text, note.segments[0].t_start
    ('the ball joint is worn', 42.0)
    """
    if not text:
        raise InputError(f"{called(source)} is empty: give the words of the note")
    refuse_control_characters(text, source)
    data = text.encode()
    _refuse_size(len(data), source)
    return _read(text, source, hashlib.sha256(data).hexdigest(), "utf-8", [])


def _refuse_size(size: int, source: str) -> None:
    if size > MAX_BYTES:
        raise InputError(f"{called(source)} is larger than {MAX_BYTES // 1_000_000} MB: give one note at a time")


def _read(text: str, source: str, sha256: str, encoding: str, warnings: list[str]) -> Note:
    if blank(text):
        raise InputError(f"{called(source)} holds only white space: give the words of the note")
    start = 1 if text.startswith("\ufeff") else 0
    begin = len(text) - len(text[start:].lstrip())
    segments = []
    if is_webvtt(text, begin):
        form = "vtt"
        spoken, segments, more = read_webvtt(text, begin)
    elif is_json(text, start):
        form = "json"
        spoken, segments, more = read_json(text, start, source)
    elif is_subrip(text):
        form = "srt"
        spoken, segments, more = read_subrip(text, start)
    elif stamps := find_stamps(text):
        form, more = "stamped", []
        spoken, segments = read_stamped(text, start, stamps)
    else:
        form, more = "text", []
        spoken = read_plain(text, start)
    if blank(spoken.text):
        raise InputError(f"{called(source)} holds time stamps or headings but no words: give the words of the note")
    return Note(text, spoken, form, source, sha256, encoding, segments, warnings + more)
