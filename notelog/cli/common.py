"""What several commands share: their options, and the way from files to logs."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from enum import Enum
from typing import TYPE_CHECKING, Annotated

import typer

from notelog.errors import InputError

if TYPE_CHECKING:
    from notelog.archive import Archive
    from notelog.lexicon import Lexicon
    from notelog.models import Log, Note

STDIN = "-"


class Side(str, Enum):
    """The side that the driver sits on."""

    left = "left"
    right = "right"


def complete_reference(incomplete: str) -> list[str]:
    from notelog.archive import Archive, archive_path

    try:
        with Archive(archive_path()) as archive:
            return [job.reference for job in archive.jobs() if job.reference.lower().startswith(incomplete.lower())]
    except InputError:
        return []


Files = Annotated[list[str], typer.Argument(metavar="FILE", help='Notes to read; "-" reads standard input.')]
DriverSide = Annotated[
    Side | None, typer.Option("--driver-side", help="Side that the driver sits on; else that of the settings.")
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]
LexiconArchive = Annotated[
    str | None,
    typer.Option("--archive", metavar="FILE", help="The archive beside which the shop's own lexicon lies; else as ever."),
]
ArchiveFile = Annotated[
    str | None,
    typer.Option("--archive", metavar="FILE", help="The archive; else NOTELOG_ARCHIVE, else one in your data folder."),
]
Reference = Annotated[
    str, typer.Argument(metavar="REF", help="The job's reference.", autocompletion=complete_reference)
]
JobOption = Annotated[
    str, typer.Option("--job", metavar="REF", help="The job's reference.", autocompletion=complete_reference)
]


def open_archive(named: str | None, *, create: bool = False) -> Archive:
    """The archive that the options and the environment name."""
    from notelog.archive import Archive, archive_path

    return Archive(archive_path(named), create=create)


def shop_lexicon(named: str | None) -> Lexicon:
    """The lexicon with the shop's own components, those beside the archive that the options and the environment name."""
    from notelog import lexicon
    from notelog.archive import archive_path, shop_lexicon

    return lexicon.load(None, shop_lexicon(archive_path(named)))


def driver_side(given: Side | None) -> str:
    """The side given, else that of the settings."""
    if given is not None:
        return given.value
    from notelog.settings import load

    return load().driver_side


def read_notes(files: Sequence[str]) -> list[Note]:
    """Read every file before anything is made of any of them, so that bad input stops all of it."""
    from notelog.reading import MAX_BYTES, read_bytes, read_file

    if files.count(STDIN) > 1:
        raise InputError('Standard input ("-") can be read only once: give it once.')
    notes = []
    for name in files:
        if name == STDIN:
            if sys.stdin.isatty():
                print("Type or paste the note; Ctrl-D on a line of its own ends it.", file=sys.stderr)
            note = read_bytes(sys.stdin.buffer.read(MAX_BYTES + 1), STDIN)
        else:
            note = read_file(name)
        # A file name that is no UTF-8 can be neither stored nor printed as it is.
        note.source = note.source.encode("utf-8", "backslashreplace").decode()
        notes.append(note)
    return notes


def log_notes(notes: Sequence[Note], side: str, lexicon: Lexicon) -> list[Log]:
    """Understand every note, with progress on standard error."""
    from notelog.out.terminal import progress

    logs = []
    with progress("Understanding", len(notes)) as step:
        from notelog.log import log_note

        for note in notes:
            logs.append(log_note(note, side, lexicon=lexicon))
            step()
    return logs


def print_utf8(text: str) -> None:
    """Print text for other programs: in UTF-8 with its own line ends, whatever the terminal has."""
    print_bytes(text.encode("utf-8"))


def print_bytes(data: bytes) -> None:
    """Print bytes as they are."""
    sys.stdout.flush()
    left = memoryview(data)
    # Python's unbuffered standard output may take only a piece at a time.
    while left:
        left = left[sys.stdout.buffer.write(left) :]
    sys.stdout.buffer.flush()


def print_json(text: str) -> None:
    """Print one JSON text, in UTF-8 as RFC 8259 asks for it."""
    print_utf8(text + "\n")
