"""The command that compares what is understood with what people wrote down."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

import typer

from notelog.cli.common import AsJson, LexiconArchive, print_json, shop_lexicon

if TYPE_CHECKING:
    from notelog.causes import Caused
    from notelog.lexicon import Lexicon
    from notelog.models import Log
    from notelog.scoring import FolderScore


def register(app: typer.Typer) -> None:
    app.command()(score)


def score(
    folder: Annotated[str, typer.Argument(metavar="DIR", help="A folder of gold notes, or one such file.")],
    misses: Annotated[
        bool, typer.Option("--misses", help="Sort what was missed, made up or half right by the kind of its cause.")
    ] = False,
    examples: Annotated[
        int, typer.Option(min=0, max=100_000, help="The most examples of each cause that are printed; JSON has all.")
    ] = 5,
    archive: LexiconArchive = None,
    as_json: AsJson = False,
) -> None:
    """Score what is understood against gold notes.

    Precision, recall and F1 by kind over all notes together, for the core and for the full keys.
    """
    from notelog.out import as_json as json_out
    from notelog.out import terminal

    lexicon = shop_lexicon(archive)
    scored, logs = _scored(folder, lexicon)
    caused = _caused(folder, scored, logs, lexicon) if misses else []
    if as_json:
        found = scored.to_dict()
        if misses:
            from notelog.causes import counted

            found["causes"] = counted([one for _, one in caused])
            found["misses"] = [
                {"note": note, **one.miss._asdict(), "gold": one.miss.gold and one.miss.gold.model_dump(mode="json")}
                | {"cause": one.cause, "words": one.words}
                for note, one in caused
            ]
        print_json(json_out.line(found))
        return
    terminal.say(_table(scored))
    if misses:
        terminal.say(*_misses(caused, examples))


def _scored(folder: str, lexicon: Lexicon) -> tuple[FolderScore, list[Log]]:
    from notelog.log import log_note
    from notelog.out.terminal import progress
    from notelog.reading import read_text
    from notelog.scoring import GoldNote, Names, load_gold, score_folder

    logs: list[Log] = []
    with progress("Scoring", len(load_gold(folder))) as step:

        def predict(gold: GoldNote) -> list[Any]:
            logs.append(log_note(read_text(gold.text, gold.id), gold.driver_side, lexicon=lexicon))
            step()
            return logs[-1].entries

        return score_folder(folder, predict, Names(lexicon.entries())), logs


def _caused(folder: str, scored: FolderScore, logs: list[Log], lexicon: Lexicon) -> list[tuple[str, Caused]]:
    """Every miss with its cause and its note."""
    from notelog import causes
    from notelog.out.terminal import progress
    from notelog.scoring import load_gold

    found: list[tuple[str, Caused]] = []
    with progress("Looking for causes", len(logs)) as step:
        for gold, note, log in zip(load_gold(folder), scored.notes, logs, strict=True):
            if note.misses:
                told = causes.causes(gold, note.misses, causes.read(gold, log, lexicon), lexicon)
                found += [(gold.id, one) for one in told]
            step()
    return found


def _misses(caused: list[tuple[str, Caused]], examples: int) -> list[Any]:
    """The causes with their counts, then examples of each."""
    from collections import Counter

    from notelog.causes import CAUSES, counted
    from notelog.out import terminal
    from notelog.scoring import described

    counts = counted([one for _, one in caused])
    rows = []
    for cause, count in counts.items():
        kinds = Counter(one.miss.kind for _, one in caused if one.cause == cause)
        rows.append((cause, count, ", ".join(f"{number} {kind}" for kind, number in kinds.most_common()), CAUSES[cause]))
    lines: list[Any] = ["", terminal.table(("Cause", "Times", "Of which", "What it means"), rows, right=("Times",))]
    for cause, count in counts.items() if examples else ():
        of_cause = [(note, one) for note, one in caused if one.cause == cause]
        rows = [
            (
                note,
                one.miss.kind,
                described(one.miss.gold) if one.miss.gold else "",
                described(one.miss.predicted) if one.miss.predicted else "",
                one.words,
            )
            for note, one in of_cause[:examples]
        ]
        lines += ["", terminal.heading(cause, terminal.counted(count, "miss", "misses"))]
        lines.append(terminal.table(("Note", "Kind", "In the gold note", "Understood", "Words"), rows))
        if count > examples:
            lines.append(f"... and {count - examples} more; --examples {count} prints all of them, and JSON has them.")
    return lines


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
