"""Bytes to text: UTF-8, UTF-16 or Windows-1252; what is no text is refused with a sentence that says what it is."""

from __future__ import annotations

import codecs
import re

from ..errors import InputError
from .spoken import line_number

MAX_BYTES = 5_000_000
"""The largest note that is read, in bytes of its file or of its text in UTF-8 (5 MB)."""

_SIGNATURES: tuple[tuple[int, bytes, str], ...] = (
    (0, b"\x89PNG\r\n", "a PNG image"),
    (0, b"\xff\xd8\xff", "a JPEG image"),
    (0, b"GIF87a", "a GIF image"),
    (0, b"GIF89a", "a GIF image"),
    (0, b"II*\0", "a TIFF image"),
    (0, b"MM\0*", "a TIFF image"),
    (8, b"WEBP", "a WebP image"),
    (8, b"WAVE", "a sound recording (WAV)"),
    (0, b"OggS", "a sound recording (Ogg)"),
    (0, b"fLaC", "a sound recording (FLAC)"),
    (0, b"ID3\x02", "a sound recording (MP3)"),
    (0, b"ID3\x03", "a sound recording (MP3)"),
    (0, b"ID3\x04", "a sound recording (MP3)"),
    (0, b"\xff\xfb", "a sound recording (MP3)"),
    (4, b"ftyp", "a sound or video recording (MP4)"),
    (0, b"\x1aE\xdf\xa3", "a video recording (Matroska or WebM)"),
    (0, b"%PDF-", "a PDF document"),
    (0, b"{\\rtf", "a rich text (RTF) document"),
    (0, b"PK\x03\x04", "a ZIP archive or an office document"),
    (0, b"\xd0\xcf\x11\xe0", "an office document"),
    (0, b"\x1f\x8b", "a gzip archive"),
    (0, b"SQLite format 3\0", "a database"),
)
"""Leading bytes of files that get mistaken for notes: offset, bytes, what it is (from the formats' own definitions)."""

_BYTE_ORDER_MARKS = (
    (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF32_LE, "utf-32"),  # before UTF-16 LE, whose mark it begins with
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)

# Tab, the line ends, vertical tab, form feed and the old end-of-file mark are met in honest text files.
_CONTROL = re.compile(r"[\x00-\x08\x0e-\x19\x1b-\x1f\x7f]")


def called(source: str) -> str:
    """What an error message calls a source: its path, "standard input" for "-", "the text" for none.

    >>> called("bay2.txt"), called("-"), called("")
    ('bay2.txt', 'standard input', 'the text')
    """
    return {"": "the text", "-": "standard input"}.get(source, source)


def decode(data: bytes, source: str) -> tuple[str, str, list[str]]:
    """The text in `data`, the Python codec that gives it, and warnings.

    A byte order mark decides first (The Unicode Standard, 23.8) and is no part of the text. Without one: UTF-16 when
    nearly all bytes at even or at odd places are zero, else UTF-8 when it is valid, else UTF-8 with a few torn
    characters when most others are whole, else Windows-1252. Line ends are left as they are.

    Raises InputError when the bytes are no text: an image, a recording, a document, control characters.

    >>> decode("45° knuckle".encode("cp1252"), "bay2.txt")
    ('45° knuckle', 'windows-1252', [])
    """
    for offset, signature, what in _SIGNATURES:
        if data.startswith(signature, offset) and not (signature == b"\xff\xfb" and len(data) < 4):
            raise InputError(
                f"{called(source)} is {what}, not text: give the note as a plain text, subtitle or JSON file"
            )
    codec = _marked_codec(data) or _unmarked_utf16(data) or "utf-8"
    warnings: list[str] = []
    try:
        text = data.decode(codec)
    except UnicodeDecodeError as error:
        text = data.decode(codec, "replace")
        torn = text.count("\ufffd")
        if codec == "utf-8" and torn >= sum(char > "\x7f" for char in text) - torn:
            codec, text = "windows-1252", _windows_1252(data, source)
        else:
            bad = data[: error.start].decode(codec, "replace")
            line = line_number(bad, len(bad))
            warnings.append(f"line {line}: {torn} damaged character(s) from here on, shown as \ufffd")
    refuse_control_characters(text, source)
    return text, codec, warnings


def refuse_control_characters(text: str, source: str) -> None:
    """Raise InputError when `text` holds a control character that no text file has, or half of a surrogate pair."""
    found = _CONTROL.search(text)
    if found:
        raise InputError(
            f"{called(source)} holds a control character ({ord(found.group()):#04x}) in line "
            f"{line_number(text, found.start())}, so it is no text: give a plain text, subtitle or JSON file"
        )
    try:
        text.encode()
    except UnicodeEncodeError as error:
        raise InputError(
            f"{called(source)} holds half a character in line {line_number(text, error.start)}: copy the text again"
        ) from None


def _marked_codec(data: bytes) -> str | None:
    return next((codec for mark, codec in _BYTE_ORDER_MARKS if data.startswith(mark)), None)


def _unmarked_utf16(data: bytes) -> str | None:
    """UTF-16 without a mark shows as ASCII with a zero byte before or after each character."""
    sample = data[:4096]
    half = len(sample) // 2
    if half < 2:
        return None
    even, odd = sample[0 : 2 * half : 2].count(0), sample[1 : 2 * half : 2].count(0)
    if odd >= 0.7 * half and even == 0:
        return "utf-16-le"
    if even >= 0.7 * half and odd == 0:
        return "utf-16-be"
    return None


def _windows_1252(data: bytes, source: str) -> str:
    try:
        return data.decode("windows-1252")
    except UnicodeDecodeError as error:
        line = len(re.findall(rb"\r\n|\r|\n", data[: error.start])) + 1
        raise InputError(
            f"{called(source)} is in no encoding that is read here (byte {data[error.start]:#04x} in line {line}): "
            "save it as UTF-8"
        ) from None
