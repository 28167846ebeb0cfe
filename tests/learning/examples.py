"""Training examples for the judge: what gold notes say of the candidates that the rules' components find.

Gold entries name no words, so each is given to the nearest candidate that says it; the others that could say it as
well are left out of the training.
"""

from __future__ import annotations

import bisect

from notelog.hearing import hear
from notelog.reading import read_text
from notelog.scoring import GoldNote, Names, is_right, key_fields
from notelog.understanding import LEARNT, pipeline
from notelog.understanding.encoder import SPOTTED
from notelog.understanding.features import PAIRED, Candidate, candidates, singles
from notelog.understanding.judge import STATUSES
from notelog.understanding.spotter import Spot, add_spots, hint_ids

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


def label_pairs(gold: GoldNote, found: list[Candidate], names: Names, where: list | None = None) -> tuple[list[int], list[list[str]], list]:
    """For each candidate 1 (said), 0 (not said) or -1 (could be it as well), the acceptable statuses and the gold entry.
    `where` holds, for each gold entry, the word spans that say it and that name what it is about, where they are known."""
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

    for number, entry in enumerate(gold.entries):
        if entry.kind not in PAIRED:
            continue
        said_at, about = where[number] if where is not None else (None, None)
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
            there = candidate.component
            far = abs(there.start - candidate.trigger.start) if there is not None else 0
            if entry.kind != "part" and rule_status(candidate) not in entry.status:
                far += 25
            far -= 8 if candidate.fact is not None else 0
            if said_at is not None:
                trigger = candidate.trigger
                end = max(trigger.end, trigger.particle + 1)
                far += 0 if trigger.start < said_at[1] and end > said_at[0] else 40 + min(200, abs(trigger.start - said_at[0]))
            if about is not None and there is not None:
                far += 0 if there.start < about[1] and there.end > about[0] else 10
            hits.append((far, at))
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


def _letters(text: str) -> tuple[str, list[int]]:
    """The letters and figures of a text in lower case, and where each stands."""
    kept = [(c.lower(), at) for at, c in enumerate(text) if c.isalnum()]
    return "".join(c for c, _ in kept), [at for _, at in kept]


def find_words(text: str, said: list[tuple[str, str | None]], spans: list[tuple[int, int]]) -> list[tuple]:
    """For each gold entry the spans, in word numbers, of the words that say it and of those that name what it is about.

    Of several places where the words stand, the one is taken that is nearest to the other words and to the entry before.
    """
    letters, places = _letters(text)
    starts = [start for start, _ in spans]

    def all_of(part: str | None) -> list[tuple[int, int]]:
        wanted = _letters(part or "")[0]
        found, at = [], letters.find(wanted) if wanted else -1
        while at >= 0:
            start, end = places[at], places[at + len(wanted) - 1] + 1
            if not (start and text[start - 1].isalnum()) and not (end < len(text) and text[end].isalnum()):
                first = bisect.bisect_right(starts, start) - 1
                last = bisect.bisect_left(starts, end)
                while first < last and spans[first][1] <= start:
                    first += 1
                if 0 <= first < last:
                    found.append((first, last))
            at = letters.find(wanted, at + 1)
        return found

    result, before = [], 0
    for words, about in said:
        options = [(a, b) for a in all_of(words) or [None] for b in all_of(about) or [None]]
        best = min(options, key=lambda pair: (abs(pair[0][0] - pair[1][0]) if pair[0] and pair[1] else 0) + (abs(pair[0][0] - before) * 0.3 if pair[0] else 0))
        if best[0] is not None:
            before = best[0][0]
        result.append(best)
    return result


_LIGHT = {"the", "a", "an", "its", "his", "her", "this", "that", "these", "those", "it", "they", "them", "both", "one", "ones", "all", "my", "of", "same", "other", "two", "new", "old",
          "left", "right", "nearside", "offside", "side", "and", "'s", ",", ".", "on", "at", "in"}  # fmt: skip


def _tags(gold: GoldNote, talk, where: list, pairs: list[Candidate], entries: list, complete: bool) -> tuple[dict, list]:
    """The spans to be spotted, by kind, and the meanings of spans: (first, last + 1, acceptable meanings)."""
    spans: dict[str, set] = {kind: set() for kind in SPOTTED}
    meanings = []

    def component(start: int, end: int) -> None:
        while start < end and talk.words[start] in _LIGHT:
            start += 1
        while end > start and talk.words[end - 1] in _LIGHT:
            end -= 1
        if start < end:
            spans["component"].add((start, end))

    if complete:
        readings = {}
        for entry, (said_at, about) in zip(gold.entries, where):
            if about is not None and entry.kind not in ("tool", "material", "labour"):
                component(*about)
            if said_at is None:
                continue
            if entry.kind in _VALUE:
                spans[entry.kind].add(said_at)
                meanings.append([*said_at, [f"{entry.kind} {value}" for value in getattr(entry, _VALUE[entry.kind])]])
            elif entry.kind in SPOTTED:
                spans[entry.kind].add(said_at)
            elif entry.kind == "measurement":
                readings[said_at] = list(entry.quantity)
        for mention in talk.mentions:
            if mention.kind == "quantity":
                own = next((values for (start, end), values in readings.items() if mention.start < end and mention.end > start), ["none"])
                meanings.append([mention.start, mention.end, [f"quantity {value}" for value in own]])
    else:
        for candidate, entry in zip(pairs, entries):
            if entry is None:
                continue
            trigger, there = candidate.trigger, candidate.component
            spans[entry.kind].add((trigger.start, trigger.end))
            meanings.append([trigger.start, trigger.end, [f"{entry.kind} {value}" for value in getattr(entry, _VALUE[entry.kind])]])
            if there is not None and there.kind == "component":
                component(there.start, there.end)
    return spans, meanings


def _bio(spans: set, length: int) -> list[int]:
    """0 outside, 1 at the first word, 2 inside; of overlapping spans the longer."""
    marks = [0] * length
    for start, end in sorted(spans, key=lambda span: span[1] - span[0]):
        for i in range(start, min(end, length)):
            marks[i] = 1 if i == start else 2
    return marks


def example(gold: GoldNote, names: Names, text: str | None = None, said: list | None = None, spots: list | None = None) -> dict:
    """One note as the trainer takes it: words, hints, what is to be spotted, candidates with their spans, features and
    labels. `said` holds for each gold entry the words that say it and those that name what it is about; `spots` what a
    model that has not seen the note spotted in it."""
    from notelog.log.build import _Builder, _mishearings

    note = read_text(text if text is not None else gold.text)
    heard = hear(note.spoken, gold.driver_side, _mishearings())
    nlp = pipeline(LEARNT)
    doc = nlp.make_doc(heard.mapped.text)
    doc._.heard, doc._.driver_side = heard, gold.driver_side
    for name, component in nlp.pipeline:
        doc = component(doc)
        if name == "notelog_mentions":
            hints = hint_ids(doc._.talk)
            if spots is not None:
                add_spots(doc._.talk, [Spot(kind, start, end, share, tuple(map(tuple, values))) for kind, start, end, share, values in spots])
    talk = doc._.talk
    builder = _Builder(note, talk)
    where = None
    if said is not None:
        where = find_words(note.text, said, [builder.span(i, i + 1) for i in range(len(talk.words))])
    pairs, alone = candidates(talk), singles(talk)
    labels, statuses, entries = label_pairs(gold, pairs, names, where)
    spans, meanings = _tags(gold, talk, where, pairs, entries, said is not None)
    more, of_singles = label_singles(gold, alone, builder.entry, names)
    labels += more
    entries += of_singles
    statuses += [[] for _ in alone]
    rows = []
    for number, (candidate, label, status, entry) in enumerate(zip(pairs + alone, labels, statuses, entries)):
        positions = getattr(entry, "position", None) if entry is not None else None
        sides, axles = place_options(positions, candidate.places) if positions else ([], [])
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
    return {
        "id": gold.id, "words": talk.words, "hints": hints, "rows": rows, "complete": said is not None,
        "tags": [_bio(spans[kind], len(talk.words)) for kind in SPOTTED], "meanings": meanings,
        "quantities": [[m.start, m.end] for m in talk.mentions if m.kind == "quantity"],
        "gold": len(gold.entries), "found": sum(entry is not None for entry in entries),
    }  # fmt: skip
