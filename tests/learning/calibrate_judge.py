"""Measures how often entries of each probability are right on the fresh notes that are only scored, and writes the table
into the weights file: a probability becomes the confidence that is printed.

    python tests/learning/calibrate_judge.py

Isotonic regression by pool-adjacent-violators (Barlow et al. 1972), as scikit-learn does it.
"""

from __future__ import annotations

import io
import json
from pathlib import Path

import numpy as np
from sklearn.isotonic import IsotonicRegression

from notelog.lexicon import load
from notelog.log import log_note
from notelog.reading import read_text
from notelog.scoring import Names, compare, load_gold
from notelog.understanding.encoder import WEIGHTS

STEPS = (0.0, 0.3, 0.5, 0.6, 0.7, 0.8, 0.85, 0.9, 0.93, 0.95, 0.97, 0.98, 0.99, 0.995, 1.0)


def write(path: Path, table: list[list[float]]) -> None:
    with np.load(path) as file:
        arrays = {name: file[name] for name in file.files}
    meta = json.loads(bytes(arrays["meta"]).decode())
    meta["calibration"] = table
    arrays["meta"] = np.frombuffer(json.dumps(meta).encode(), np.uint8)
    buffer = io.BytesIO()
    np.savez_compressed(buffer, **arrays)
    path.write_bytes(buffer.getvalue())


def main() -> None:
    write(WEIGHTS, [[0.0, 0.0], [1.0, 1.0]])
    names = Names(load().entries())
    probability, right = [], []
    for gold in load_gold(Path(__file__).resolve().parents[1] / "fresh" / "scored"):
        found = [entry.model_dump() for entry in log_note(read_text(gold.text), gold.driver_side).entries]
        for _, _, predicted, matching in compare(gold, found, names, False):
            matched = set(matching.values())
            for at, entry in enumerate(predicted):
                probability.append(entry["confidence"])
                right.append(at in matched)
    fitted = IsotonicRegression(out_of_bounds="clip").fit(probability, right)
    table = [[step, round(float(share), 3)] for step, share in zip(STEPS, fitted.predict(STEPS))]
    print(table)
    write(WEIGHTS, table)


if __name__ == "__main__":
    main()
