"""notelog: a dictated repair note becomes a structured, traceable repair log.

>>> import notelog
>>> log = notelog.extract("n/s/f lower arm bent, new one ordered")
>>> [entry.kind for entry in log.entries]
['finding', 'part']
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable
    from datetime import datetime
    from pathlib import Path

    from notelog.job import JobNote, Ledger, Limits
    from notelog.models import Log

__all__ = ["__version__", "extract", "ledger"]


def extract(text: str, driver_side: str = "right", *, lexicon: str | Path | None = None) -> Log:
    """The log of a note's text, in any format that `notelog.reading` knows. Nothing is stored.

    `driver_side` is "left" or "right": the side that the driver sits on. `lexicon` is a file of the shop's own components
    (`notelog lexicon add` writes it beside the archive), to be known beside those that ship. Raises
    `notelog.errors.InputError` when the text holds no note, the side is neither, or the file cannot be used.
    """
    from notelog.errors import InputError
    from notelog.lexicon import load
    from notelog.log import log_note
    from notelog.reading import read_text

    if driver_side not in ("left", "right"):
        raise InputError(f"The driver's side is {driver_side!r}; give left or right.")
    return log_note(read_text(text), driver_side, lexicon=load(None, lexicon))


def ledger(
    notes: Iterable[JobNote | Log],
    limits: Limits | None = None,
    *,
    answered: Collection[str] = (),
    now: datetime | None = None,
    lexicon: str | Path | None = None,
) -> Ledger:
    """The ledger of a job from its notes, given as `notelog.job.JobNote` or as what `extract` gives.

    Logs carry no time, so they are taken in the order in which they are given, after all notes that have one. `lexicon`
    is as for `extract`, the rest as for `notelog.job.ledger`. Raises `notelog.errors.InputError` when two notes or entries have one id.

    >>> monday, friday = extract("n/s/f lower arm bent, new one ordered"), extract("Lower arm is here.")
    >>> [(line.component.label, line.state) for line in ledger([monday, friday]).parts_to_buy]
    [('lower arm', 'on_hand')]
    """
    from notelog.job import JobNote
    from notelog.job import ledger as made
    from notelog.lexicon import load

    given = [
        note if isinstance(note, JobNote) else JobNote.of_log(f"log {number}", note)
        for number, note in enumerate(notes, start=1)
    ]
    return made(given, load(None, lexicon), limits, answered=answered, now=now)


def __getattr__(name: str) -> str:
    """The version, looked up when it is first asked for: that takes longer than starting a light command."""
    if name != "__version__":
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    import importlib.metadata

    try:
        version = importlib.metadata.version("notelog")
    except importlib.metadata.PackageNotFoundError:
        version = "0"
    return globals().setdefault("__version__", version)
