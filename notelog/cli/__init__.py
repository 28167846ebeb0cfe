"""The command line: arguments come in, calls of the package's functions and printed results go out.

Nothing is decided here. Each module holds one group of commands; a new command goes into the module of its
group, and a new group is registered below. What a command needs is imported when it runs, so that `--help` and
`notelog find` start at once.
"""

from __future__ import annotations

import errno
import io
import sys

import typer

from notelog.cli import answers, correct, demo, extract, keeping, lexicon, look, score, settings, store
from notelog.cli.quick import QuickGroup
from notelog.errors import InputError

BAD_INPUT = 2
"""The exit code for input that cannot be used."""

_NO_ROOM = {errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO}

app = typer.Typer(
    cls=QuickGroup,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        from notelog import __version__

        typer.echo(f"notelog {__version__}")
        raise typer.Exit()


@app.callback()
def notelog(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Print the version and stop."
    ),
) -> None:
    """Turn a technician's dictated repair note into a repair log: understood, stored, found again, exported."""


for _group in (extract, store, look, answers, correct, score, settings, demo):
    _group.register(app)
app.add_typer(lexicon.app, name="lexicon")
app.add_typer(keeping.app, name="archive")


def main(arguments: list[str] | None = None) -> int:
    """Run one command (of `arguments`, or of the command line) and return its exit code.

    Bad input and a full disk are told in one sentence on standard error, without a traceback.
    """
    for stream in (sys.stdout, sys.stderr):
        # A terminal that lacks a character of a note gets a "?" for it.
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        try:
            app(args=arguments, prog_name="notelog")
        finally:
            sys.stdout.flush()
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else int(bool(stop.code))
    except InputError as problem:
        return _tell(str(problem))
    except BrokenPipeError:
        _let_go_of_stdout()
        return 1
    except OSError as problem:
        if problem.errno not in _NO_ROOM:
            raise
        _let_go_of_stdout()
        return _tell(f"The output cannot be written ({problem.strerror}): look at where it goes.")
    except KeyboardInterrupt:
        return 130
    return 0


def _tell(sentence: str) -> int:
    print(f"notelog: {sentence}", file=sys.stderr)
    return BAD_INPUT


def _let_go_of_stdout() -> None:
    # What is still buffered would fail once more when Python ends, with a message of its own.
    import os

    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
