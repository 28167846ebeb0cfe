"""The lexicon's spoken forms in a small file of their own, so that a question is read without loading the lexicon.

The file lies in the user's cache folder (or in the folder that NOTELOG_CACHE names) and is made anew when a file of the
lexicon, the shop's own or this program has changed since. Where it cannot be written, it is made in memory.
"""

from __future__ import annotations

import functools
import json
import os
import sqlite3
import tempfile
import zlib
from collections.abc import Iterable
from contextlib import suppress
from pathlib import Path
from typing import NamedTuple

from notelog.paths import data_folder

ENVIRONMENT = "NOTELOG_CACHE"
_FORMAT = "1"
_MOST_FILES = 8
_KINDS = ("component", "condition", "action", "place")


class Part(NamedTuple):
    """A component as questions know it: its label, its system, what it is part of, and whether there are two of it."""

    id: str
    label: str
    system: str
    part_of: str
    sides: bool


class Vocabulary:
    """What words can mean, and what the lexicon knows of components and conditions; each is read when it is asked for.

    `kin` is how near two conditions are (0 to 1), both ways round; `classes` the names of each class of vehicle; `groups`
    are the words of `question_words.csv`; `short` are abbreviations of single words, `longest` the most words of a form.
    """

    def __init__(self, connection: sqlite3.Connection) -> None:
        self.connection = connection
        kept = {name: json.loads(value) for name, value in connection.execute("SELECT name, value FROM kept")}
        self.kin: dict[tuple[str, str], float] = {
            pair: kin for one, other, kin in kept["kin"] for pair in ((one, other), (other, one))
        }
        self.classes: dict[str, tuple[str, ...]] = {id: tuple(names) for id, names in kept["classes"]}
        self.groups: dict[str, frozenset[str]] = {group: frozenset(words) for group, words in kept["groups"]}
        self.short: dict[str, str] = kept["short"]
        self.longest: int = kept["longest"]
        self._closures: dict[str, frozenset[str]] = {}

    @functools.cached_property
    def parts(self) -> dict[str, Part]:
        """All components by id."""
        return {row[0]: Part(*row) for row in self.connection.execute("SELECT id, label, system, part_of, sides FROM parts")}

    @functools.cached_property
    def damage(self) -> tuple[str, ...]:
        """All conditions but the good one.

        >>> "bent" in vocabulary().damage, "good" in vocabulary().damage
        (True, False)
        """
        rows = self.connection.execute("SELECT id FROM labels WHERE kind = 'condition' AND id <> 'good' ORDER BY id")
        return tuple(id for (id,) in rows)

    def has(self, kind: str, id: str) -> bool:
        """Whether there is a component, condition or action of this id."""
        table = "parts WHERE ? = 'component'" if kind == "component" else "labels WHERE kind = ?"
        return self.connection.execute(f"SELECT 1 FROM {table} AND id = ?", (kind, id)).fetchone() is not None

    def meanings(self, words: tuple[str, ...]) -> list[tuple[str, str]]:
        """The kinds and ids that a run of words can mean, the likeliest first; none for words that mean nothing here."""
        words = tuple(self.short.get(word, word) for word in words)
        row = self.connection.execute("SELECT meanings FROM forms WHERE words = ?", (" ".join(words),)).fetchone()
        return [tuple(one) for one in json.loads(row[0])] if row else []

    def knows(self, word: str) -> bool:
        """Whether a word stands in any form, or is plain English that the lexicon lists."""
        return self.connection.execute("SELECT 1 FROM words WHERE word = ?", (word,)).fetchone() is not None

    def words_like(self, word: str, by: int = 2) -> list[tuple[str, int]]:
        """The trade's words that are about as long as `word`, each with the number of forms that it stands in."""
        return self.connection.execute(
            "SELECT word, forms FROM words WHERE forms > 0 AND length(word) BETWEEN ? AND ?", (len(word) - by, len(word) + by)
        ).fetchall()

    def with_parts(self, component: str) -> frozenset[str]:
        """The component and all that is, over others too, part of it.

        >>> "anti_roll_bar_link" in vocabulary().with_parts("anti_roll_bar")
        True
        """
        if component not in self._closures:
            rows = self.connection.execute(
                """WITH RECURSIVE below(id) AS (SELECT ? UNION SELECT parts.id FROM parts JOIN below ON parts.part_of = below.id)
                   SELECT id FROM below""",
                (component,),
            )
            self._closures[component] = frozenset(id for (id,) in rows)
        return self._closures[component]

    def wholes(self, component: str) -> list[str]:
        """What the component is part of, the nearest first, without the system's own row at the top.

        >>> vocabulary().wholes("strut_mount_nut")[:2]
        ['strut_top_mount', 'strut']
        """
        way: list[str] = []
        while component in self.parts and (component := self.parts[component].part_of) and component not in way:
            way.append(component)
        return way

    def label(self, component: str) -> str:
        """The component's label; its id in words where no lexicon has it any more."""
        row = self.connection.execute("SELECT label FROM parts WHERE id = ?", (component,)).fetchone()
        return row[0] if row else component.replace("_", " ")

    def kinship(self, one: str, other: str) -> float:
        """How near two conditions are: 1 for the same, what `condition_kin.csv` says, else 0.

        >>> vocabulary().kinship("buckled", "bent") == vocabulary().kinship("bent", "buckled") > 0.5
        True
        """
        return 1.0 if one == other else self.kin.get((one, other), 0.0)


def vocabulary(shop_file: Path | None = None) -> Vocabulary:
    """The vocabulary of the lexicon that ships, with the shop's own file where there is one.

    Raises InputError when a file of the lexicon is damaged.

    >>> vocabulary().meanings(("drop", "link"))[0]
    ('component', 'anti_roll_bar_link')
    """
    return _kept(_key(shop_file), shop_file)


@functools.lru_cache(maxsize=2)
def _kept(key: str, shop_file: Path | None) -> Vocabulary:
    file = _folder() / f"vocabulary-{key}.sqlite"
    with suppress(sqlite3.Error):
        if file.is_file():
            return _opened(file)
    with suppress(OSError, sqlite3.Error):
        file.parent.mkdir(parents=True, exist_ok=True)
        handle, name = tempfile.mkstemp(dir=file.parent, suffix=".new")
        os.close(handle)
        try:
            connection = sqlite3.connect(name)
            _fill(connection, shop_file)
            connection.close()
            os.replace(name, file)
        finally:
            Path(name).unlink(missing_ok=True)
        _clear(file)
        return _opened(file)
    connection = sqlite3.connect(":memory:", check_same_thread=False)
    _fill(connection, shop_file)
    return Vocabulary(connection)


def _folder() -> Path:
    if named := os.environ.get(ENVIRONMENT):
        return Path(named).expanduser()
    import platformdirs

    return Path(platformdirs.user_cache_dir("notelog", appauthor=False))


def _key(shop_file: Path | None) -> str:
    states = [_FORMAT]
    folder, own = data_folder("lexicon"), Path(__file__)
    files = [*sorted(folder.glob("*.csv")), *sorted(folder.glob("components/*.csv")), own, own.parents[1] / "lexicon" / "forms.py"]
    for file in [*files, *([shop_file] if shop_file else [])]:
        state = file.stat()
        states.append(f"{file}\0{state.st_mtime_ns}\0{state.st_size}")
    told = "\n".join(states).encode()
    return f"{zlib.crc32(told):08x}{zlib.adler32(told):08x}"


def _clear(newest: Path) -> None:
    """Take away the oldest files, so that changes of the lexicon do not fill the disk."""
    files = sorted(newest.parent.glob("vocabulary-*.sqlite"), key=lambda one: one.stat().st_mtime, reverse=True)
    for old in files[_MOST_FILES:]:
        old.unlink(missing_ok=True)


def _opened(file: Path) -> Vocabulary:
    # Written once and then only read: immutable spares SQLite all locks.
    return Vocabulary(sqlite3.connect(f"{file.resolve().as_uri()}?mode=ro&immutable=1", uri=True, check_same_thread=False))


def _fill(connection: sqlite3.Connection, shop_file: Path | None) -> None:
    from notelog.lexicon import forms_of, load
    from notelog.lexicon.load import read_rows
    from notelog.lexicon.words import normal, words_of

    lexicon = load(None, shop_file)
    forms = forms_of(lexicon)

    def rows(name: str, columns: list[str]) -> Iterable[dict[str, str]]:
        return (row for _, row in read_rows(lexicon.folder / name, columns))

    meanings: dict[tuple[str, ...], list[tuple[str, str]]] = {}
    for words, found in [*forms.whole.items(), *forms.weak.items()]:
        wanted = [(form.kind, form.id) for form in found if form.kind in _KINDS]
        if wanted:
            meanings.setdefault(words, []).extend(wanted)
    places = [json.dumps({name: value for name, value in place.items() if name != "said" and value}) for place in lexicon.places]
    for words, found in meanings.items():
        meanings[words] = list(dict.fromkeys((kind, places[int(id)] if kind == "place" else id) for kind, id in found))
    classes = [(row["id"], [row["label"], *_listed(row["names"])]) for row in rows("vehicle_classes.csv", ["id", "label", "names"])]
    for id, names in classes:
        for name in names:
            meanings.setdefault(words_of(name), []).append(("vehicle", id))
    groups: dict[str, list[str]] = {}
    for row in rows("question_words.csv", ["group", "words"]):
        groups.setdefault(row["group"], []).extend(" ".join(words_of(word)) for word in _listed(row["words"]))
    counts: dict[str, int] = {}
    for words, found in meanings.items():
        for word in words:
            counts[word] = counts.get(word, 0) + any(kind in _KINDS for kind, _ in found)
    plain = [word for words in [*lexicon.words.values(), *groups.values()] for said in words for word in words_of(said)]
    for word in [*plain, *(word for words in forms.whole for word in words), *forms.abbreviations]:
        counts.setdefault(word, 0)
    kin = [(row["one"], row["other"], float(row["kin"])) for row in rows("condition_kin.csv", ["one", "other", "kin", "why"])]
    kept = {
        "kin": kin,
        "classes": [(id, [normal(name) for name in names]) for id, names in classes],
        "groups": list(groups.items()),
        "short": forms.abbreviations,
        "longest": max(map(len, meanings)),
    }
    connection.execute("CREATE TABLE forms (words TEXT PRIMARY KEY, meanings TEXT) WITHOUT ROWID")
    connection.execute("CREATE TABLE words (word TEXT PRIMARY KEY, forms INTEGER) WITHOUT ROWID")
    connection.execute("CREATE TABLE parts (id TEXT PRIMARY KEY, label TEXT, system TEXT, part_of TEXT, sides INTEGER) WITHOUT ROWID")
    connection.execute("CREATE INDEX parts_below ON parts(part_of)")
    connection.execute("CREATE TABLE labels (kind TEXT, id TEXT, label TEXT, PRIMARY KEY (kind, id)) WITHOUT ROWID")
    connection.execute("CREATE TABLE kept (name TEXT PRIMARY KEY, value TEXT)")
    connection.executemany("INSERT INTO forms VALUES (?, ?)", ((" ".join(words), json.dumps(found)) for words, found in sorted(meanings.items())))
    connection.executemany("INSERT INTO words VALUES (?, ?)", sorted(counts.items()))
    parts = [(one.id, one.label, one.system, one.part_of, int(one.sides)) for one in lexicon.terms["component"].values()]
    connection.executemany("INSERT INTO parts VALUES (?, ?, ?, ?, ?)", sorted(parts))
    labels = [(kind, one.id, one.label) for kind in ("condition", "action") for one in lexicon.terms[kind].values()]
    connection.executemany("INSERT INTO labels VALUES (?, ?, ?)", sorted(labels))
    connection.executemany("INSERT INTO kept VALUES (?, ?)", ((name, json.dumps(value)) for name, value in kept.items()))
    connection.commit()


def _listed(cell: str) -> list[str]:
    return [one.strip() for one in cell.split(";") if one.strip()]
