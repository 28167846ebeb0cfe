"""What each part of understanding gives: the score without it, each qualifier by itself, and whether confidence is true.

    python tests/bench/bench_parts.py [FOLDER ...]

For each folder (the gold notes unless others are named) it prints

(a) the core and the full score of the whole pipeline, and with one component switched off at a time;
(b) precision, recall and F1 of each qualifier by itself. For denied, doubted, past, planned and not done that is among the
    statements whose part and value are right, so that what was not found at all counts for none of them. For what must not
    be logged (supposed, general, of another vehicle) precision is the share of the statements held back that are in no
    gold note, and recall is of all such statements: those held back rightly, and the false entries in whose sentence a cue
    for it stands (`notelog.causes`);
(c) how many of the entries are right, by their confidence.
"""

from __future__ import annotations

import sys
from collections import defaultdict
from collections.abc import Iterator
from pathlib import Path

from notelog.causes import causes, read
from notelog.lexicon import load
from notelog.log import held_back, log_note
from notelog.models import Log
from notelog.reading import read_text
from notelog.scoring import Counts, GoldNote, Names, as_dict, compare, load_gold, misses, score_note, with_all
from notelog.understanding import COMPONENTS, LEARNT

TESTS = Path(__file__).resolve().parents[1]
NEEDED = ("notelog_mentions", "notelog_clauses")
REMOVABLE = [(name,) for name in COMPONENTS if name not in NEEDED]  # without mentions and clauses the others have nothing to work on
QUALIFIERS = {"denied": "absent", "doubted": "suspected", "past": "past", "planned": "planned", "not done": "not_done"}
NOT_LOGGED = ("hypothetical", "general", "other_vehicle")
LEXICON = load()
NAMES = Names(LEXICON.entries())


def log_of(gold: GoldNote, without: tuple[str, ...] = ()) -> Log:
    """The log of a gold note's text, with components left out."""
    return log_note(read_text(gold.text, gold.id), gold.driver_side, without, LEXICON)


def ablation(notes: list[GoldNote]) -> Iterator[tuple[str, Counts, Counts]]:
    """The core and the full counts of the whole pipeline, of each component left out, and of each left out of the rules."""
    for without in [(), *REMOVABLE, LEARNT, *((*LEARNT, *more) for more in REMOVABLE if not set(more) & set(LEARNT))]:
        logs = [(gold, log_of(gold, without).entries) for gold in notes]
        core, full = (with_all(score_note(gold, found, NAMES, wide) for gold, found in logs)["all"] for wide in (False, True))
        yield " and ".join(name.removeprefix("notelog_") for name in without) or "nothing", core, full


def by_status(notes: list[GoldNote], without: tuple[str, ...]) -> dict[str, Counts]:
    """Each qualifier that is a status, among the findings and operations whose other fields are right."""
    found: dict[str, Counts] = defaultdict(Counts)
    for gold in notes:
        entries = log_of(gold, without).entries
        for kind, of_gold, predicted, matching in compare(gold, entries, NAMES, without=("status",)):
            for number, at in matching.items() if kind in ("finding", "operation") else ():
                wanted, given = of_gold[number].status, predicted[at]["status"]
                if given in wanted:
                    found[given] += Counts(tp=1)
                else:
                    found[given] += Counts(fp=1)
                    found[wanted[0]] += Counts(fn=1)
    return {name: found[status] for name, status in QUALIFIERS.items()}


def not_logged(notes: list[GoldNote], without: tuple[str, ...]) -> Counts:
    """What must not be logged: held back rightly, held back though it is in the gold note, and let through."""
    found = Counts()
    for gold in notes:
        log = log_of(gold, without)
        held = [as_dict(one.entry) for one in held_back(read_text(gold.text, gold.id), gold.driver_side, LEARNT, LEXICON) if one.by in NOT_LOGGED]
        logged = {_told(as_dict(entry)) for entry in log.entries}
        held = [entry for entry in held if _told(entry) not in logged]  # the learnt component may let it through
        for _, _, predicted, matching in compare(gold, held, NAMES, without=("status",)):
            found += Counts(tp=len(predicted) - len(matching), fp=len(matching))
        missed = [miss for miss in misses(gold, log.entries, NAMES) if miss.what == "false"]
        told = causes(gold, missed, read(gold, log, LEXICON), LEXICON) if missed else []
        found += Counts(fn=sum(one.cause == "supposed or general talk taken for fact" for one in told))
    return found


def _told(entry: dict) -> str:
    return str({name: value for name, value in entry.items() if name not in ("evidence", "confidence", "status", "position")})


def reliability(notes: list[GoldNote]) -> list[tuple[float, int, int]]:
    """For each tenth of confidence: where it begins, how many entries are right by the core keys, and how many there are."""
    right: dict[int, list[int]] = defaultdict(lambda: [0, 0])
    for gold in notes:
        for _, _, predicted, matching in compare(gold, log_of(gold).entries, NAMES):
            good = set(matching.values())
            for at, entry in enumerate(predicted):
                bin_ = right[min(9, int(entry["confidence"] * 10))]
                bin_[0] += at in good
                bin_[1] += 1
    return [(step / 10, *right[step]) for step in sorted(right)]


def _shares(counts: Counts) -> str:
    return f"P {counts.precision:.3f}  R {counts.recall:.3f}  F1 {counts.f1:.3f}"


def main() -> None:
    for folder in [Path(name) for name in sys.argv[1:]] or [TESTS / "gold"]:
        notes = load_gold(folder)
        print(f"{folder}: {len(notes)} notes\n\n(a) without            core                           full F1")
        for name, core, full in ablation(notes):
            print(f"  {name:20} {_shares(core)}  {full.f1:.3f}")
        print("\n(b) qualifiers         with the learnt component                     rules alone")
        whole, ruled = by_status(notes, ()), by_status(notes, LEARNT)
        whole["must not be logged"], ruled["must not be logged"] = not_logged(notes, ()), not_logged(notes, LEARNT)
        for name in whole:
            told = [f"{_shares(counts)} ({counts.tp + counts.fn:3} of them)" for counts in (whole[name], ruled[name])]
            print(f"  {name:20} {told[0]}   {told[1]}")
        print("\n(c) confidence         right")
        for begin, right, of in reliability(notes):
            print(f"  {begin:.1f} to {begin + 0.1:.1f}           {right} of {of} ({right / of:.2f})")
        print()


if __name__ == "__main__":
    main()
