"""Training examples for the judge: what gold notes say of the candidates that the rules' components find.

Gold entries name no words, so each is given to the nearest candidate that says it; the others that could say it as
well are left out of the training.
"""

from __future__ import annotations

from notelog.hearing import hear
from notelog.reading import read_text
from notelog.scoring import GoldNote, Names, is_right, key_fields
from notelog.understanding import understand
from notelog.understanding.features import PAIRED, Candidate, candidates, singles
from notelog.understanding.judge import STATUSES, hint_ids

_VALUE = {"finding": "condition", "operation": "action", "part": "state"}


def _named(mention) -> dict | None:
    if mention is None:
        return None
    return {"id": "unknown", "label": mention.id} if mention.kind == "fastener" else {"id": mention.id, "label": mention.label}


def rule_status(candidate: Candidate) -> str:
    """How the rules would read the statement."""
    flags = candidate.trigger.flags
    if candidate.kind == "finding":
        return "absent" if "denied" in flags else "suspected" if "doubted" in flags else "present"
    if candidate.fact is not None and candidate.fact.status:
        return candidate.fact.status
    return "not_done" if "not_done" in flags else "planned" if "planned" in flags else "done"


def label_pairs(gold: GoldNote, found: list[Candidate], names: Names) -> tuple[list[int], list[list[str]], list]:
    """For each candidate 1 (said), 0 (not said) or -1 (could be it as well), the acceptable statuses and the gold entry."""
    labels, statuses = [0] * len(found), [[] for _ in found]
    entries = [None] * len(found)
    known: dict[tuple, bool] = {}

    def same(mention, accepted) -> bool:
        if mention is None:
            return None in accepted
        for name in accepted:
            key = (mention.kind, mention.id, mention.label, name)
            if key not in known:
                known[key] = names.same("component", _named(mention), name)
            if known[key]:
                return True
        return False

    for entry in gold.entries:
        if entry.kind not in PAIRED:
            continue
        values = getattr(entry, _VALUE[entry.kind])
        hits = []
        for at, candidate in enumerate(found):
            if candidate.kind != entry.kind:
                continue
            said = candidate.value in values or (
                "good" in values and candidate.value in ("damaged", "inoperative") and "denied" in candidate.trigger.flags
            )
            if not said or not same(candidate.component, entry.component):
                continue
            far = abs(candidate.component.start - candidate.trigger.start) if candidate.component is not None else 0
            if entry.kind != "part" and rule_status(candidate) not in entry.status:
                far += 25
            hits.append((far - (8 if candidate.fact is not None else 0), at))
        for rank, (_, at) in enumerate(sorted(hits)):
            if rank == 0:
                labels[at] = 1
                entries[at] = entry
                turned = entry.kind == "finding" and found[at].value not in values
                statuses[at] = ["absent"] if turned else list(getattr(entry, "status", ()))
            elif labels[at] == 0:
                labels[at] = -1
    return labels, statuses, entries


def place_options(gold_positions, options: list[tuple[str, str]]) -> tuple[list[int], list[int]]:
    """Which of the candidate's places give an acceptable side, and which an acceptable axle."""
    sides = {side or "" for position in gold_positions for side in position.side}
    axles = {axle or "" for position in gold_positions for axle in position.axle}
    return [n for n, (side, _) in enumerate(options) if side in sides], [n for n, (_, axle) in enumerate(options) if axle in axles]


def label_singles(gold: GoldNote, found: list[Candidate], entry_of, names: Names) -> tuple[list[int], list]:
    """For each fact judged by itself 1 (in the gold) or 0; the first of several that say the same is the one."""
    labels, entries = [0] * len(found), [None] * len(found)
    taken: set[int] = set()
    for at, candidate in enumerate(found):
        entry = entry_of(candidate.fact)
        if entry is None:
            continue
        data = entry.model_dump()
        for number, of_gold in enumerate(gold.entries):
            if of_gold.kind == candidate.kind and all(is_right(of_gold, data, name, names) for name in key_fields(candidate.kind, False)):
                labels[at] = -1 if number in taken else 1
                entries[at] = of_gold if number not in taken else None
                taken.add(number)
                break
    return labels, entries


def example(gold: GoldNote, names: Names, text: str | None = None) -> dict:
    """One note as the trainer takes it: words, hints, candidates with their spans, features and labels."""
    from notelog.log.build import _Builder, _mishearings

    note = read_text(text if text is not None else gold.text)
    heard = hear(note.spoken, gold.driver_side, _mishearings())
    talk = understand(heard, gold.driver_side, ("notelog_judge",))._.talk
    builder = _Builder(note, talk)
    pairs, alone = candidates(talk), singles(talk)
    labels, statuses, entries = label_pairs(gold, pairs, names)
    more, of_singles = label_singles(gold, alone, builder.entry, names)
    labels += more
    entries += of_singles
    statuses += [[] for _ in alone]
    rows = []
    for number, (candidate, label, status, entry) in enumerate(zip(pairs + alone, labels, statuses, entries)):
        positions = getattr(entry, "position", None) if entry is not None else None
        sides, axles = place_options(positions, candidate.places(talk)) if positions else ([], [])
        component = candidate.component
        rows.append(
            {
                "kind": candidate.kind if number < len(pairs) else "single " + candidate.kind,
                "value": candidate.value,
                "trigger": [candidate.trigger.start, max(candidate.trigger.end - 1, candidate.trigger.particle)],
                "component": [component.start, component.end - 1] if component is not None else None,
                "features": candidate.features,
                "label": label,
                "status": [STATUSES.index(name) for name in status],
                "side": sides,
                "axle": axles,
            }
        )
    return {"id": gold.id, "words": talk.words, "hints": hint_ids(talk), "rows": rows}
