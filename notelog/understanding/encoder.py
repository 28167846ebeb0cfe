"""A small BERT encoder with three heads, run with numpy: its weights are 8-bit, one scale a row.

The architecture is that of MiniLM (Wang et al., "MiniLM: Deep Self-Attention Distillation for Task-Agnostic Compression
of Pre-Trained Transformers", NeurIPS 2020), six layers of width 384; words are cut into pieces as BERT's uncased
vocabulary does (Devlin et al., NAACL 2019).
"""

from __future__ import annotations

import functools
import json
import unicodedata
from pathlib import Path

import numpy as np

WEIGHTS = Path(__file__).with_name("judge.npz")
WINDOW, STRIDE = 500, 340  # pieces read at once; how far the next window starts
HEADS = 12
PLACES = 6


def load_encoder(path: Path = WEIGHTS) -> Encoder | None:
    """The encoder of the weights file; None where there is none."""
    return Encoder(path) if path.exists() else None


class Encoder:
    """Weights, pieces and thresholds; `judge` gives each candidate its probability and the scores of its statuses."""

    def __init__(self, path: Path):
        with np.load(path) as file:
            meta = json.loads(bytes(file["meta"]).decode())
            self.weight: dict[str, np.ndarray] = {}
            for name in file.files:
                if name == "meta" or name.endswith(".scale"):
                    continue
                if name + ".scale" in file.files:
                    self.weight[name] = file[name].astype(np.float32) * file[name + ".scale"].astype(np.float32)[:, None]
                else:
                    self.weight[name] = file[name].astype(np.float32)
        self.thresholds: dict[str, float] = meta["thresholds"]
        self.calibration: list[list[float]] = meta.get("calibration", [[0.0, 0.0], [1.0, 1.0]])
        self.layers: int = meta["layers"]
        self.values = {name: number for number, name in enumerate(meta["values"])}
        self.features = {name: number for number, name in enumerate(meta["features"])}
        self.vocabulary = {piece: number for number, piece in enumerate(meta["vocabulary"])}
        self.pieces = functools.lru_cache(maxsize=20000)(self._pieces)

    def _pieces(self, word: str) -> tuple[int, ...]:
        """The numbers of a word's pieces: longest first, the unknown piece where none fits."""
        vocabulary = self.vocabulary
        plain = "".join(c for c in unicodedata.normalize("NFD", word.lower()) if unicodedata.category(c) != "Mn")
        runs: list[str] = []
        for character in plain:
            if character.isalnum() and runs and runs[-1][-1:].isalnum():
                runs[-1] += character
            else:
                runs.append(character)
        found: list[int] = []
        for run in runs[:12]:
            start = 0
            own: list[int] = []
            while start < len(run):
                end = min(len(run), start + 30)
                while end > start and (piece := ("##" if start else "") + run[start:end]) not in vocabulary:
                    end -= 1
                if end == start:
                    own = [vocabulary["[UNK]"]]
                    break
                own.append(vocabulary[piece])
                start = end
            found += own
        return tuple(found[:12]) or (vocabulary["[UNK]"],)

    def confidence(self, probability: float) -> float:
        """How often entries of that probability were right on notes that the model had not seen."""
        steps, shares = zip(*self.calibration)
        return float(np.interp(probability, steps, shares))

    def judge(self, words: list[str], hints: list[int], spans: list[tuple[int, int, int, int]], kinds: list[int], values: list[str], features: list[list[str]]) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """For each candidate its probability, the scores of the seven statuses, and which of its places gives the side and
        which the axle (numbers into `Candidate.places`).

        `spans` are the first and last word of the trigger and of the component (-1, -1 for none).
        """
        ids: list[int] = []
        marks: list[int] = []
        first: list[int] = []
        for word, hint in zip(words, hints):
            first.append(len(ids))
            pieces = self.pieces(word)
            ids += pieces
            marks += [hint] * len(pieces)
        states = self._read(np.array(ids), np.array(marks))
        at = np.array(first)
        w = self.weight
        triggers = np.array([(s[0], s[1]) for s in spans])
        hidden = [states[at[triggers[:, 0]]], states[at[triggers[:, 1]]]]
        for column in (2, 3):
            words_at = np.array([s[column] for s in spans])
            rows = states[at[np.maximum(words_at, 0)]].copy()
            rows[words_at < 0] = w["none"]
            hidden.append(rows)
        value = w["value"][[self.values.get(name, 0) for name in values]]
        kind = w["kind"][kinds]
        bag = np.zeros((len(spans), w["feature"].shape[1]), np.float32)
        known = self.features
        for row, own in enumerate(features):
            numbers = [known[name] for name in own if name in known]
            if numbers:
                bag[row] = w["feature"][numbers].sum(0)
        joined = np.concatenate([*hidden, value, kind, bag], 1)
        inner = _gelu(joined @ w["pair.0.weight"].T + w["pair.0.bias"])
        score = inner @ w["pair.1.weight"].T + w["pair.1.bias"]
        meant = np.concatenate([hidden[0], hidden[1], value, kind, bag], 1)
        inner = _gelu(meant @ w["status.0.weight"].T + w["status.0.bias"])
        status = inner @ w["status.1.weight"].T + w["status.1.bias"]
        inner = _gelu(joined @ w["place.0.weight"].T + w["place.0.bias"])
        place = inner @ w["place.1.weight"].T + w["place.1.bias"]
        return 1 / (1 + np.exp(-score[:, 0])), status, place[:, :PLACES].argmax(1), place[:, PLACES:].argmax(1)

    def _read(self, ids: np.ndarray, marks: np.ndarray) -> np.ndarray:
        """The states of all pieces; long texts in overlapping windows, each piece from where it stands most inside."""
        total = len(ids)
        if total <= WINDOW:
            return self._window(ids, marks)
        states = np.zeros((total, self.weight["hint"].shape[1]), np.float32)
        margin = (WINDOW - STRIDE) // 2
        start = 0
        while True:
            end = min(total, start + WINDOW)
            own = self._window(ids[start:end], marks[start:end])
            skip = margin if start else 0
            states[start + skip : end] = own[skip:]
            if end == total:
                return states
            start += STRIDE

    def _window(self, ids: np.ndarray, marks: np.ndarray) -> np.ndarray:
        w, vocabulary = self.weight, self.vocabulary
        ids = np.concatenate([[vocabulary["[CLS]"]], ids, [vocabulary["[SEP]"]]])
        marks = np.concatenate([[0], marks, [0]])
        x = w["word"][ids] + w["position"][: len(ids)] + w["segment"][0] + w["hint"][marks]
        x = _norm(x, w["norm.weight"], w["norm.bias"])
        length, width = x.shape
        size = width // HEADS
        for layer in range(self.layers):
            p = f"layer.{layer}."
            mixed = x @ w[p + "qkv.weight"].T + w[p + "qkv.bias"]
            q, k, v = (mixed[:, i * width : (i + 1) * width].reshape(length, HEADS, size).transpose(1, 0, 2) for i in range(3))
            scores = q @ k.transpose(0, 2, 1) / np.sqrt(np.float32(size))
            scores -= scores.max(-1, keepdims=True)
            np.exp(scores, out=scores)
            scores /= scores.sum(-1, keepdims=True)
            context = (scores @ v).transpose(1, 0, 2).reshape(length, width)
            x = _norm(x + context @ w[p + "out.weight"].T + w[p + "out.bias"], w[p + "norm1.weight"], w[p + "norm1.bias"])
            inner = _gelu(x @ w[p + "in.weight"].T + w[p + "in.bias"])
            x = _norm(x + inner @ w[p + "ff.weight"].T + w[p + "ff.bias"], w[p + "norm2.weight"], w[p + "norm2.bias"])
        return x[1:-1]


def _norm(x: np.ndarray, weight: np.ndarray, bias: np.ndarray) -> np.ndarray:
    x = x - x.mean(-1, keepdims=True)
    return x / np.sqrt((x * x).mean(-1, keepdims=True) + 1e-12) * weight + bias


def _gelu(x: np.ndarray) -> np.ndarray:
    """The tanh form of the Gaussian error linear unit (Hendrycks and Gimpel 2016)."""
    return 0.5 * x * (1 + np.tanh(0.7978845608 * (x + 0.044715 * x * x * x)))
