"""The command that compares what is understood with what people wrote down."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from notelog.cli.common import AsJson, LexiconArchive, print_json, shop_lexicon

if TYPE_CHECKING:
    from notelog.lexicon import Lexicon
    from notelog.scoring import FolderScore


def register(app: typer.Typer) -> None:
    app.command()(score)


def score(
    folder: Annotated[str, typer.Argument(metavar="DIR", help="A folder of gold notes, or one such file.")],
    misses: Annotated[bool, typer.Option("--misses", help="Name what was missed, made up or half right.")] = False,
    archive: LexiconArchive = None,
    as_json: AsJson = False,
) -> None:
    """Score what is understood against gold notes.

    Precision, recall and F1 by kind over all notes together, for the core and for the full keys.
    """
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    scored = _scored(folder, shop_lexicon(archive))
    if as_json:
        found = scored.to_dict()
        if misses:
            found["misses"] = [
                {"note": note.id, **miss._asdict(), "gold": miss.gold and miss.gold.model_dump(mode="json")}
                for note in scored.notes
                for miss in note.misses
            ]
        print_json(json_out.line(found))
        return
    terminal.say(_table(scored))
    if misses:
        from notelog.scoring import described

        rows = [
            (
                note.id,
                miss.kind,
                f"{miss.what}: {miss.field}" if miss.field else miss.what,
                described(miss.gold) if miss.gold else "",
                described(miss.predicted) if miss.predicted else "",
            )
            for note in scored.notes
            for miss in note.misses
        ]
        terminal.say("", terminal.table(("Note", "Kind", "What", "In the gold note", "Understood"), rows))


def _scored(folder: str, lexicon: Lexicon) -> FolderScore:
    from notelog.log import log_note
    from notelog.out.terminal import progress
    from notelog.reading import read_text
    from notelog.scoring import GoldNote, Names, load_gold, score_folder

    with progress("Scoring", len(load_gold(folder))) as step:

        def predict(gold: GoldNote) -> list[Any]:
            entries = log_note(read_text(gold.text, gold.id), gold.driver_side, lexicon=lexicon).entries
            step()
            return entries

        return score_folder(folder, predict, Names(lexicon.entries()))


def _table(scored: FolderScore) -> Any:
    from notelog.out import terminal

    core, full = scored.core, scored.full
    rows = [
        (
            kind,
            core[kind].tp + core[kind].fn,
            *(f"{share:.3f}" for share in (core[kind].precision, core[kind].recall, core[kind].f1)),
            *(f"{share:.3f}" for share in (full[kind].precision, full[kind].recall, full[kind].f1)),
        )
        for kind in core
    ]
    headings = ("Kind", "Gold", "Core P", "R", "F1", "Full P", "R", "F1")
    notes = terminal.counted(len(scored.notes), "note", "notes")
    return terminal.table((f"Kind ({notes})", *headings[1:]), rows, right=headings[1:])
