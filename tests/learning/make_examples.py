"""Writes the examples that `train_judge.py` learns from: every fresh note, and its punctuated notes a second time as a
recogniser would write them (lower case, no marks).

    python tests/learning/make_examples.py OUT.json.gz [SPOTS.json.gz]

SPOTS, which `train_judge.py --spots` writes, holds what models that had not seen a note spotted in it.
"""

from __future__ import annotations

import gzip
import json
import random
import re
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parent))

from examples import example  # noqa: E402

from notelog.lexicon import load  # noqa: E402
from notelog.scoring import Names, load_gold  # noqa: E402

TESTS = Path(__file__).resolve().parents[1]


def unmarked(text: str, seed: str) -> str:
    """The text without marks and capitals; half of the time without apostrophes too."""
    text = re.sub(r"(?<!\d)[.,;:!?]|[.,;:!?](?!\d)", " ", text.lower())
    text = re.sub(r"[-–—()]", " ", text)
    if random.Random(seed).random() < 0.5:
        text = text.replace("'", "")
    return re.sub(r"\s+", " ", text)


def main() -> None:
    names = Names(load().entries())
    spots = {}
    if len(sys.argv) > 2:
        with gzip.open(sys.argv[2], "rt") as file:
            spots = json.load(file)
    said = {}
    for file in sorted((TESTS / "fresh" / "words").glob("*.json")):
        said |= json.loads(file.read_text(encoding="utf-8"))
    examples = []
    for folder in (TESTS / "fresh" / "tuned", TESTS / "fresh" / "scored", TESTS / "gold"):
        for gold in load_gold(folder):
            batch = gold.id.split("-")[1] if gold.id.startswith("fresh") else "gold"
            texts = [gold.text]
            if not gold.style.startswith(("raw", "terse")) and batch != "gold":
                texts.append(unmarked(gold.text, gold.id))
            for number, text in enumerate(texts):
                key = f"{gold.id} {number}"
                examples.append(example(gold, names, text, said.get(gold.id), spots.get(key)) | {"batch": batch, "aug": number})
    with gzip.open(sys.argv[1], "wt") as file:
        json.dump(examples, file)
    own = [each for each in examples if not each["aug"]]
    print(len(examples), "examples,", sum(len(each["rows"]) for each in examples), "candidates; of the gold entries found:",
          round(sum(each["found"] for each in own) / sum(each["gold"] for each in own), 3))  # fmt: skip


if __name__ == "__main__":
    main()
