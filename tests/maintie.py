"""The real maintenance texts of `tests/external/maintie_dev.json`, with what their annotators marked, and our mentions.

Source: MaintIE gold corpus, Bikaun et al., "MaintIE: A Fine-Grained Annotation Schema and Benchmark for Information
Extraction from Low-Quality Maintenance Short Texts", LREC-COLING 2024; MIT licence.
"""

import json
import random
from pathlib import Path

import notelog

FILE = Path(__file__).parent / "external" / "maintie_dev.json"

# What our kinds of mention are compared with. A mention of "good" says that nothing is undesirable, and is left out. The
# data set files fitting, removing and disconnecting under its supporting activities, ours are actions like the others:
# a mention of such a one is neither right nor wrong, except in the strict figure.
WANTED = {
    "condition": ("State/UndesirableState", "Process/UndesirableProcess"),
    "action": ("Activity/MaintenanceActivity",),
}
NEITHER = {"condition": (), "action": ("Activity/SupportingActivity",)}


def load() -> list[tuple[str, list[tuple[int, int, str]]]]:
    """Each text with its annotations as (start, end, type), counted in characters."""
    texts = []
    for record in json.loads(FILE.read_text(encoding="utf-8")):
        starts, at = [], 0
        for token in record["tokens"]:
            starts.append(at)
            at += len(token) + 1
        marked = [
            (starts[one["start"]], starts[one["end"] - 1] + len(record["tokens"][one["end"] - 1]), one["type"])
            for one in record["entities"]
        ]
        texts.append((" ".join(record["tokens"]), marked))
    return texts


def halves() -> tuple[list[int], list[int]]:
    """The numbers of the texts that the vocabulary was worked on with, and of those that were held out (seed 0)."""
    order = list(range(len(load())))
    random.Random(0).shuffle(order)
    middle = len(order) // 2
    return sorted(order[:middle]), sorted(order[middle:])


def compared(kind: str, strict: bool = False, only: list[int] | None = None):
    """What `notelog.scoring.score_spans` takes, for the mentions of that kind in the log's contract."""
    texts = load()
    for number in range(len(texts)) if only is None else only:
        text, marked = texts[number]
        mentions = [m for m in notelog.extract(text).mentions if m.kind == kind and m.id != "good"]
        yield (
            text,
            [(start, end) for start, end, type_ in marked if type_.startswith(WANTED[kind])],
            [(start, end) for start, end, type_ in marked if not strict and type_.startswith(NEITHER[kind] or ("-",))],
            [(mention.start, mention.end) for mention in mentions],
        )
