"""Reading the lexicon's files into terms."""

from __future__ import annotations

import csv
import functools
from dataclasses import dataclass, field
from pathlib import Path

from notelog.errors import InputError
from notelog.lexicon.words import normal
from notelog.paths import data_folder
from notelog.sweeping import unswept

COMPONENT_COLUMNS = ["id", "label", "uk", "us", "also", "short", "system", "part_of", "sides"]
NAMED_COLUMNS = ["id", "label", "uk", "us", "also", "short"]


@dataclass(slots=True)
class Term:
    """One entry of the lexicon: `synonyms` are all names but the label, `source` is "file:line".

    `shop` has the names that the shop's own file gives to an entry that ships, each with its "file:line".
    """

    id: str
    kind: str
    label: str
    synonyms: list[str] = field(default_factory=list)
    system: str = ""
    part_of: str = ""
    sides: bool = False
    short: list[str] = field(default_factory=list)
    source: str = ""
    fields: dict[str, list[str]] = field(default_factory=dict)
    shop: dict[str, str] = field(default_factory=dict)

    @property
    def names(self) -> list[str]:
        """The label and all synonyms."""
        return [self.label, *self.synonyms]


@dataclass(slots=True)
class Lexicon:
    """All terms by kind and id, and the small lists beside them (cues, places, part words, verbs)."""

    terms: dict[str, dict[str, Term]]
    cues: list[tuple[str, str, str]]
    places: list[dict[str, str]]
    part_words: dict[str, str]
    irregular: dict[str, tuple[tuple[str, ...], tuple[str, ...], str]]
    words: dict[str, frozenset[str]]
    quantity_words: dict[str, str]
    fluid_systems: dict[str, str]
    verb_senses: dict[tuple[str, str], str]
    condition_senses: dict[tuple[str, str], str]
    short_senses: dict[tuple[str, str], str]
    abbreviations: dict[str, str]
    folder: Path
    shop_file: Path | None = None

    def entries(self) -> list[Term]:
        """Every term: components, conditions, actions, tools, materials, fasteners, drives."""
        return [term for kind in self.terms.values() for term in kind.values()]

    def find(self, name: str, kind: str = "component") -> Term | None:
        """The term of that kind with that name, whatever its case and hyphens; None if there is none.

        >>> load().find("drop link").id
        'anti_roll_bar_link'
        """
        return self.by_name(kind).get(normal(name))

    def by_name(self, kind: str) -> dict[str, Term]:
        """Normalised name to term, for one kind."""
        return _by_name(self, kind)

    @property
    def simple_pasts(self) -> dict[str, tuple[str, ...]]:
        """Participle to the simple pasts of its verb, where they differ ("torn" to "tore").

        >>> load().simple_pasts["torn"]
        ('tore',)
        """
        return _simple_pasts(self)

    def __hash__(self) -> int:
        return id(self)

    def __eq__(self, other: object) -> bool:
        return self is other


@functools.lru_cache(maxsize=8)
def _simple_pasts(lexicon: Lexicon) -> dict[str, tuple[str, ...]]:
    table: dict[str, tuple[str, ...]] = {}
    for pasts, participles, _ in lexicon.irregular.values():
        for participle in participles:
            others = tuple(past for past in pasts if past not in participles)
            if others:
                table[participle] = others
    return table


@functools.lru_cache(maxsize=32)
@unswept
def _by_name(lexicon: Lexicon, kind: str) -> dict[str, Term]:
    table: dict[str, Term] = {}
    for term in lexicon.terms.get(kind, {}).values():
        for name in term.names:
            table.setdefault(normal(name), term)
    return table


def read_rows(path: Path, columns: list[str]) -> list[tuple[int, dict[str, str]]]:
    """The rows of one lexicon file with their line numbers.

    Raises InputError naming the file and the line when the header or a row does not have the columns it must have.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError as error:
        line = path.read_bytes()[: error.start].count(b"\n") + 1
        raise InputError(f"{path}, line {line}: not UTF-8 text; save the file as UTF-8.") from error
    except OSError as error:
        raise InputError(f"{path}: the lexicon file cannot be read ({error.strerror}); restore it or reinstall.") from error
    if "\0" in text:
        raise InputError(f"{path}, line {text[: text.index(chr(0))].count(chr(10)) + 1}: a NUL character; restore the file.")
    rows: list[tuple[int, dict[str, str]]] = []
    for number, line in enumerate(text.splitlines(), 1):
        try:
            cells = next(csv.reader([line], strict=True), [])
        except csv.Error as error:
            raise InputError(f"{path}, line {number}: {error}; mend the quotes of that row.") from error
        if number == 1:
            if cells != columns:
                raise InputError(f"{path}, line 1: the columns must be {','.join(columns)}, not {','.join(cells)}.")
            continue
        if not cells or cells[0].startswith("#"):
            continue
        if len(cells) != len(columns):
            raise InputError(
                f"{path}, line {number}: {len(cells)} columns where {len(columns)} are wanted "
                f"({','.join(columns)}); put quotes round a cell that holds a comma."
            )
        rows.append((number, dict(zip(columns, (cell.strip() for cell in cells)))))
    if not text.strip():
        raise InputError(f"{path}, line 1: the columns must be {','.join(columns)}, not an empty file.")
    return rows


def _listed(cell: str) -> list[str]:
    return [name.strip() for name in cell.split(";") if name.strip()]


def _named_terms(path: Path, kind: str, columns: list[str]) -> dict[str, Term]:
    terms: dict[str, Term] = {}
    for line, row in read_rows(path, columns):
        if not row["id"] or not row["label"]:
            raise InputError(f"{path}, line {line}: an entry needs an id and a label.")
        if row["id"] in terms:
            raise InputError(f"{path}, line {line}: the id {row['id']} stands twice ({terms[row['id']].source}).")
        lists = {column: _listed(row[column]) for column in columns[2:] if column not in ("system", "part_of", "sides")}
        synonyms = [name for names in lists.values() for name in names]
        terms[row["id"]] = Term(
            id=row["id"],
            kind=kind,
            label=row["label"],
            synonyms=[name for name in dict.fromkeys(synonyms) if name != row["label"]],
            system=row.get("system", ""),
            part_of=row.get("part_of", ""),
            sides=row.get("sides", "") == "yes",
            short=lists.get("short", []),
            source=f"{path.name}:{line}",
            fields=lists,
        )
    return terms


def _load(folder: Path, shop_file: Path | None) -> Lexicon:
    if not folder.is_dir():
        raise InputError(f"{folder}: there is no lexicon folder there; give one that holds the lexicon's CSV files.")
    terms: dict[str, dict[str, Term]] = {"component": {}}
    for path in sorted((folder / "components").glob("*.csv")):
        for key, term in _named_terms(path, "component", COMPONENT_COLUMNS).items():
            if key in terms["component"]:
                raise InputError(
                    f"{path}, line {term.source.rpartition(':')[2]}: the id {key} stands already in "
                    f"{terms['component'][key].source}."
                )
            terms["component"][key] = term
    if shop_file is not None:
        _add_shop(terms["component"], _named_terms(shop_file, "component", COMPONENT_COLUMNS))
    terms["condition"] = _named_terms(folder / "conditions.csv", "condition", ["id", "label", "predicates", "nouns", "verbs", "weak"])
    terms["action"] = _named_terms(
        folder / "actions.csv", "action", ["id", "label", "verbs", "states", "nouns", "abbreviations"]
    )
    terms["tool"] = _named_terms(folder / "tools.csv", "tool", NAMED_COLUMNS)
    terms["material"] = _named_terms(folder / "materials.csv", "material", NAMED_COLUMNS)
    terms["fastener"] = _named_terms(folder / "fasteners.csv", "fastener", ["id", "label", "names"])
    terms["drive"] = _named_terms(folder / "drives.csv", "drive", ["id", "label", "names"])
    irregular = {
        row["base"]: (tuple(_listed(row["past"])), tuple(_listed(row["participle"])), row["ing"])
        for _, row in read_rows(folder / "irregular_verbs.csv", ["base", "past", "participle", "ing"])
    }
    words: dict[str, set[str]] = {}
    for _, row in read_rows(folder / "words.csv", ["group", "words"]):
        words.setdefault(row["group"], set()).update(_listed(row["words"]))
    return Lexicon(
        terms=terms,
        cues=[(row["cue"], row["kind"], row["note"]) for _, row in read_rows(folder / "cues.csv", ["cue", "kind", "note"])],
        places=[row for _, row in read_rows(folder / "places.csv", ["said", "side", "axle", "level", "depth"])],
        part_words={row["word"]: row["note"] for _, row in read_rows(folder / "part_words.csv", ["word", "note"])},
        irregular=irregular,
        words={group: frozenset(members) for group, members in words.items()},
        quantity_words={
            row["said"]: row["quantity"] for _, row in read_rows(folder / "quantity_words.csv", ["said", "quantity"])
        },
        fluid_systems={
            row["fluid"]: row["component"] for _, row in read_rows(folder / "fluid_systems.csv", ["fluid", "component"])
        },
        abbreviations={row["short"]: row["word"] for _, row in read_rows(folder / "abbreviations.csv", ["short", "word"])},
        condition_senses={
            (row["said"], row["system"]): row["condition"]
            for _, row in read_rows(folder / "condition_senses.csv", ["said", "system", "condition"])
        },
        verb_senses={
            (row["verb"], row["system"]): row["action"]
            for _, row in read_rows(folder / "verb_senses.csv", ["verb", "system", "action"])
        },
        short_senses={
            (row["short"], condition): row["component"]
            for _, row in read_rows(folder / "short_senses.csv", ["short", "conditions", "component"])
            for condition in _listed(row["conditions"])
        },
        folder=folder,
        shop_file=shop_file,
    )


def _add_shop(components: dict[str, Term], own: dict[str, Term]) -> None:
    """The shop's rows go behind the others; a row with the id of one that is there gives it more names and no more."""
    for key, term in own.items():
        known = components.setdefault(key, term)
        if known is term:
            continue
        for column, names in {**term.fields, "also": [term.label, *term.fields["also"]]}.items():
            new = [name for name in dict.fromkeys(names) if name not in known.names]
            known.fields[column] = [*known.fields[column], *new]
            known.synonyms += new
            known.shop |= dict.fromkeys(new, term.source)
        known.short = known.fields["short"]


@functools.lru_cache(maxsize=8)
@unswept
def _load_cached(folder: Path, shop_file: Path | None, stamp: tuple[int, ...]) -> Lexicon:
    return _load(folder, shop_file)


def load(folder: str | Path | None = None, shop_file: str | Path | None = None) -> Lexicon:
    """The lexicon that ships with the package, or the one in `folder`, with the components of the shop's own file added.

    Raises InputError (file and line) when a file is damaged or not there. Loading the same files again costs nothing; a
    shop's file that was written since is read anew, for it is known by its time, size and inode.

    >>> load().terms["condition"]["bent"].label
    'bent'
    """
    place = Path(folder) if folder is not None else data_folder("lexicon")
    if shop_file is None:
        return _load_cached(place, None, ())
    own = Path(shop_file).expanduser().absolute()
    try:
        state = own.stat()
    except OSError as error:
        raise InputError(f"{own}: the shop's lexicon cannot be read ({error.strerror}); name the file that it is in.") from error
    return _load_cached(place, own, (state.st_mtime_ns, state.st_size, state.st_ino))
