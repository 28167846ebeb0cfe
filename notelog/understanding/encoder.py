"""A small BERT encoder with five heads, run with numpy: its weights are 8-bit, one scale a row.

The architecture is that of MiniLM (Wang et al., "MiniLM: Deep Self-Attention Distillation for Task-Agnostic Compression
of Pre-Trained Transformers", NeurIPS 2020), six layers of width 384; words are cut into pieces as BERT's uncased
vocabulary does (Devlin et al., NAACL 2019).
"""

from __future__ import annotations

import functools
import json
import os
import unicodedata
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

WEIGHTS = Path(__file__).with_name("judge.npz")
WINDOW, STRIDE = 384, 288  # pieces read at once; how far the next window starts
HEADS = 12
PLACES = 9
SPOTTED = ("component", "finding", "operation", "part", "tool", "material", "fastener", "cost", "labour")  # what a word can be part of
VALUED = ("finding", "operation", "part")  # those whose words mean one of a list of values
SPOT_WORDS = 12  # no spot is longer
SPOT_LIMIT = 0.5  # the share from which a word is taken for part of something
HINTS = ("", "component", "unknown", "fastener", "condition", "action", "tool", "material", "quantity", "place", "drive", "part_word", "quantity_word",
         "cue:denied", "cue:pseudo", "cue:doubted", "cue:hypothetical", "cue:general", "cue:other_vehicle", "cue:planned", "cue:not_done", "cue:needed",
         "cue:ordered", "cue:on_hand", "cue:correction", "cue:landmark", "cue:reference", "cue:filler", "break", "clause", "weak")  # fmt: skip


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
        self.meanings: list[str] = meta["meanings"]
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

    def read(self, words: list[str], hints: list[int]) -> np.ndarray:
        """A row for each word: what the encoder makes of it among the words around it."""
        ids: list[int] = []
        marks: list[int] = []
        first: list[int] = []
        for word, hint in zip(words, hints):
            first.append(len(ids))
            pieces = self.pieces(word)
            ids += pieces
            marks += [hint] * len(pieces)
        with threadpool_limits(1, "blas"):  # windows share the cores, and the sums are the same on every machine
            return self._read(np.array(ids), np.array(marks))[np.array(first)]

    def spots(self, states: np.ndarray, quantities: list[tuple[int, int]]) -> list[tuple]:
        """What the words are taken for: kind, first word, word after the last, probability and likely values (see
        `spotter.Spot`). `quantities` are the words of readings, whose values say what they measure."""
        scores = _shares(self._two("tag", states).reshape(len(states), len(SPOTTED), 3))
        found = []
        for number, kind in enumerate(SPOTTED):
            begin, inside = scores[:, number, 1], 1 - scores[:, number, 0]
            start = None
            for i in range(len(states) + 1):
                ends = i == len(states) or inside[i] < SPOT_LIMIT or start is not None and i - start == SPOT_WORDS
                if start is not None and (ends or begin[i] > 0.5 * inside[i]):
                    found.append((kind, start, i, float(inside[start:i].mean())))
                    start = None
                if start is None and not ends:
                    start = i
        values = [(i, spot) for i, spot in enumerate(found) if spot[0] in VALUED]
        spans = [(spot[1], spot[2]) for _, spot in values] + quantities
        if spans:
            first, last = (np.array([span[side] for span in spans]) - side for side in (0, 1))
            scores = self._two("meaning", np.concatenate([states[first], states[last]], 1))
            for row, (i, spot) in enumerate(values):
                found[i] = (*spot, self._values(scores[row], spot[0]))
            for row, span in enumerate(quantities, len(values)):
                found.append(("quantity", *span, 1.0, self._values(scores[row], "quantity")))
        return found

    def _values(self, scores: np.ndarray, kind: str) -> tuple[tuple[str, float], ...]:
        """The likely meanings of one kind, the likeliest first."""
        own = [number for number, name in enumerate(self.meanings) if name.startswith(kind + " ")]
        if not own:
            return ()
        shares = _shares(scores[own])
        order = np.argsort(-shares, kind="stable")[:3]
        return tuple((self.meanings[own[i]].split(" ", 1)[1], float(shares[i])) for i in order)

    def _two(self, name: str, rows: np.ndarray) -> np.ndarray:
        """Two layers with a GELU between them."""
        w = self.weight
        return _gelu(rows @ w[name + ".0.weight"].T + w[name + ".0.bias"]) @ w[name + ".1.weight"].T + w[name + ".1.bias"]

    def judge(self, states: np.ndarray, spans: list[tuple[int, int, int, int]], kinds: list[int], values: list[str], features: list[list[str]]) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
        """For each candidate its probability, the scores of the seven statuses, and for each of its places (see
        `Candidate.places`) how likely it is to give the side, and to give the axle.

        `states` come from `read`; `spans` are the first and last word of the trigger and of the component (-1, -1 for none).
        """
        w = self.weight
        at = np.array(spans)
        hidden = [states[at[:, 0]], states[at[:, 1]]]
        for column in (2, 3):
            rows = states[np.maximum(at[:, column], 0)].copy()
            rows[at[:, column] < 0] = w["none"]
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
        with threadpool_limits(1, "blas"):
            score = self._two("pair", joined)
            status = self._two("status", np.concatenate([hidden[0], hidden[1], value, kind, bag], 1))
            place = self._two("place", joined)
        return 1 / (1 + np.exp(-score[:, 0])), status, _shares(place[:, :PLACES]), _shares(place[:, PLACES:])

    def _read(self, ids: np.ndarray, marks: np.ndarray) -> np.ndarray:
        """The states of all pieces; long texts in overlapping windows, each piece from where it stands most inside."""
        total = len(ids)
        if total <= WINDOW:
            return self._window(ids, marks)
        margin = (WINDOW - STRIDE) // 2
        starts = [0, *range(STRIDE, total - WINDOW + STRIDE, STRIDE)]
        states = np.zeros((total, self.weight["hint"].shape[1]), np.float32)

        def read(start: int) -> None:
            first = margin if start else 0
            last = WINDOW if start == starts[-1] else STRIDE + margin
            states[start + first : start + last] = self._window(ids[start : start + WINDOW], marks[start : start + WINDOW])[first:last]

        with ThreadPoolExecutor(min(len(starts), os.cpu_count() or 1)) as pool:
            list(pool.map(read, starts))
        return states

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
            mixed = x @ w[p + "qkv.weight"].T
            mixed += w[p + "qkv.bias"]
            mixed[:, :width] /= np.sqrt(np.float32(size))
            q, k, v = (mixed[:, i * width : (i + 1) * width].reshape(length, HEADS, size).transpose(1, 0, 2) for i in range(3))
            scores = q @ k.transpose(0, 2, 1)
            scores -= scores.max(-1, keepdims=True)
            np.exp(scores, out=scores)
            scores *= 1 / scores.sum(-1, keepdims=True)
            context = (scores @ v).transpose(1, 0, 2).reshape(length, width)
            x = _norm(x + context @ w[p + "out.weight"].T + w[p + "out.bias"], w[p + "norm1.weight"], w[p + "norm1.bias"])
            inner = x @ w[p + "in.weight"].T
            inner += w[p + "in.bias"]
            inner = _gelu(inner)
            x = _norm(x + inner @ w[p + "ff.weight"].T + w[p + "ff.bias"], w[p + "norm2.weight"], w[p + "norm2.bias"])
        return x[1:-1]


def _shares(scores: np.ndarray) -> np.ndarray:
    """Scores as shares that sum to 1 over the last axis."""
    shares = np.exp(scores - scores.max(-1, keepdims=True))
    return shares / shares.sum(-1, keepdims=True)


def _norm(x: np.ndarray, weight: np.ndarray, bias: np.ndarray) -> np.ndarray:
    x = x - x.mean(-1, keepdims=True)
    return x / np.sqrt((x * x).mean(-1, keepdims=True) + 1e-12) * weight + bias


def _gelu(x: np.ndarray) -> np.ndarray:
    """The tanh form of the Gaussian error linear unit (Hendrycks and Gimpel 2016): 0.5 x (1 + tanh(√(2/π) (x + 0.044715 x³)))."""
    inner = x * x
    inner *= 0.044715
    inner += 1
    inner *= x
    inner *= np.float32(0.7978845608)
    np.tanh(inner, out=inner)
    inner += 1
    inner *= x
    inner *= 0.5
    return inner
