"""The figures of the archive as a picture, drawn by matplotlib where that is installed."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from notelog.errors import InputError
from notelog.out.terminal import plain

if TYPE_CHECKING:
    from notelog.archive.figures import Figures

FORMS = (".svg", ".png")
_SHOWN = {"component": "by component", "condition": "by condition", "place": "by place", "month": "by month"}


def drawn(figures: Figures, form: str) -> bytes:
    """The counts of jobs as bars, in the form ".svg" or ".png". The same figures give the same bytes.

    Raises InputError for another form, and where matplotlib is not installed.
    """
    if form.lower() not in FORMS:
        raise InputError(f"A picture cannot be written as {form or 'a file without an ending'!r}: end its name with .svg or .png.")
    try:
        import matplotlib
    except ImportError as error:
        raise InputError("Pictures need matplotlib: install it with `pip install 'notelog[pictures]'`.") from error
    matplotlib.use("agg")
    from matplotlib.figure import Figure

    with matplotlib.rc_context({"svg.hashsalt": "notelog", "svg.fonttype": "none"}):
        sheet = Figure(figsize=(12, 8), layout="constrained")
        for place, (name, title) in enumerate(_SHOWN.items(), start=1):
            axes = sheet.add_subplot(2, 2, place)
            counts = figures.counts[name]
            names, jobs = [plain(one.name).replace("$", r"\$") for one in counts], [one.jobs for one in counts]
            if name == "month":
                axes.bar(names, jobs)
                axes.tick_params(axis="x", labelrotation=90)
            else:
                axes.barh(names[::-1], jobs[::-1])
            axes.set_title(f"jobs with damage, {title}")
        out = io.BytesIO()
        metadata = {"Date": None} if form.lower() == ".svg" else {"Software": None}
        sheet.savefig(out, format=form.lower().removeprefix("."), metadata=metadata)
    return out.getvalue()
