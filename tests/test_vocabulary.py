"""The file that questions are read by: made once, made anew when the lexicon changes, mended when it is damaged."""

import pytest

from notelog.archive import vocabulary as of
from notelog.lexicon import load
from notelog.shop import add_component


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv(of.ENVIRONMENT, str(tmp_path / "cache"))
    of._kept.cache_clear()
    yield tmp_path / "cache"
    of._kept.cache_clear()


def anew(shop_file=None):
    of._kept.cache_clear()
    return of.vocabulary(shop_file)


def knows_a_strut(known):
    return known.meanings(("strut",))[0] == ("component", "strut") and known.label("strut") == "strut"


def test_it_is_made_once_and_says_what_the_lexicon_says(folder):
    assert knows_a_strut(anew())
    (file,) = folder.iterdir()
    written = file.stat().st_mtime_ns
    known = anew()
    assert file.stat().st_mtime_ns == written
    components = load().terms["component"]
    assert set(known.parts) == set(components)
    for one in list(components.values())[::40]:
        assert (known.label(one.id), known.parts[one.id].part_of) == (one.label, one.part_of)
        assert ("component", one.id) in known.meanings(tuple(one.label.replace("-", " ").split())) or not one.label.replace(" ", "").isalpha()


@pytest.mark.parametrize("damage", [b"", b"no database at all", b"SQLite format 3\0" + b"\1" * 200])
def test_a_damaged_file_is_made_anew(folder, damage):
    anew()
    (file,) = folder.iterdir()
    file.write_bytes(damage)
    assert knows_a_strut(anew())
    assert file.stat().st_size > 1_000_000


def test_where_it_cannot_be_written_it_is_made_in_memory(folder):
    folder.write_text("a file where the folder should be")
    assert knows_a_strut(anew())
    assert folder.read_text() == "a file where the folder should be"


def test_the_shop_s_own_parts_are_known_as_soon_as_they_are_added(folder, tmp_path):
    shop_file = tmp_path / "jobs.lexicon.csv"
    add_component(shop_file, "wibble guard", system="body")
    assert of.vocabulary(shop_file).meanings(("wibble", "guard")) == [("component", "wibble_guard")]
    add_component(shop_file, "wobble guard", part_of="wibble guard")
    assert of.vocabulary(shop_file).with_parts("wibble_guard") == {"wibble_guard", "wobble_guard"}
    assert of.vocabulary().meanings(("wibble", "guard")) == []


def test_old_files_are_taken_away(folder, tmp_path):
    folder.mkdir()
    for number in range(12):
        (folder / f"vocabulary-{number:016}.sqlite").write_text("old")
    anew()
    assert len(list(folder.iterdir())) == of._MOST_FILES
