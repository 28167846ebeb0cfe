"""Writes the examples that `train_judge.py` learns from: every fresh note, and its punctuated notes a second time as a
recogniser would write them (lower case, no marks).

    python tests/learning/make_examples.py OUT.json.gz
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


def unmarked(text: str) -> str:
    """The text without marks and capitals; half of the time without apostrophes too."""
    text = re.sub(r"(?<!\d)[.,;:!?]|[.,;:!?](?!\d)", " ", text.lower())
    text = re.sub(r"[-–—()]", " ", text)
    if random.random() < 0.5:
        text = text.replace("'", "")
    return re.sub(r"\s+", " ", text)


def main() -> None:
    random.seed(7)
    names = Names(load().entries())
    examples = []
    for folder in (TESTS / "fresh" / "tuned", TESTS / "fresh" / "scored"):
        for gold in load_gold(folder):
            batch = gold.id.split("-")[1]
            texts = [gold.text]
            if not gold.style.startswith(("raw", "terse")):
                texts.append(unmarked(gold.text))
            for number, text in enumerate(texts):
                examples.append(example(gold, names, text) | {"batch": batch, "aug": number})
    with gzip.open(sys.argv[1], "wt") as file:
        json.dump(examples, file)
    print(len(examples), "examples,", sum(len(each["rows"]) for each in examples), "candidates")


if __name__ == "__main__":
    main()
