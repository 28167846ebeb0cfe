"""The archive's own commands: what is wrong is found, what can be mended is, and nothing that people gave is touched."""

import json

import pytest
from handmade import full_log, note, rows

from notelog.archive import Archive, Vehicle, corrections, upkeep


@pytest.fixture
def path(tmp_path):
    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        for number in range(20):
            archive.add(str(number), [(note(), full_log())], vehicle=Vehicle.given(model="van"), dictated="2025-03-31")
        corrections.reject(archive, 1, "Kim")
    return tmp_path / "jobs.sqlite"


def given(archive):
    """What people gave: all rows of notes, entries and corrections."""
    return [[tuple(row) for row in archive.connection.execute(f"SELECT * FROM {table}")] for table in ("notes", "entries", "readings", "corrections")]


def test_a_sound_archive(path):
    with Archive(path) as archive:
        assert upkeep.check(archive) == []


SPOILT = {
    "UPDATE facts SET condition = 'dented' WHERE entry_id = 11": "rows of facts",
    "DELETE FROM facts WHERE job_id = 3": "rows of facts",
    "UPDATE damage_counts SET jobs = 7 WHERE component_id = 'lower_arm'": "rows of damage_counts",
    "INSERT INTO entries_fts(entries_fts) VALUES ('delete-all')": "entries_fts",
    "INSERT INTO notes_fts(notes_fts) VALUES ('delete-all')": "notes_fts",
    "INSERT INTO jobs_fts(rowid, make) VALUES (999, 'zonda')": "jobs_fts",
}


@pytest.mark.parametrize("statement", SPOILT)
def test_what_is_spoilt_is_found_and_mended(path, statement):
    with Archive(path) as archive:
        before, kept = given(archive), rows(archive)
        archive.connection.execute(statement)
        problems = upkeep.check(archive)
        assert any(SPOILT[statement] in one.what and one.can_be_mended for one in problems), problems
        assert upkeep.repair(archive) == []
        assert given(archive) == before
        assert {name: count for name, count in rows(archive).items() if "fts" not in name} == {
            name: count for name, count in kept.items() if "fts" not in name
        }


def test_what_people_gave_is_not_mended(path):
    with Archive(path) as archive:
        archive.connection.execute("""UPDATE entries SET payload = '{"kind": "labour"}' WHERE id = 5""")
        archive.connection.execute("PRAGMA foreign_keys = OFF")
        archive.connection.execute("INSERT INTO entries(note_id, number, payload) SELECT 777, 1, payload FROM entries WHERE id = 6")
        found = {(one.what.split(":")[0], one.can_be_mended) for one in upkeep.check(archive)}
        assert {("entry 5 is none any more", False), ("row 201 of entries belongs to a row of notes that is not there", False)} <= found
        assert [one.can_be_mended for one in upkeep.repair(archive)] == [False, False]


def test_room_is_given_back(path):
    with Archive(path) as archive:
        archive.connection.execute("CREATE TABLE much AS WITH RECURSIVE n(i) AS (SELECT 1 UNION ALL SELECT i + 1 FROM n LIMIT 5000) SELECT i, hex(randomblob(200)) FROM n")
        archive.connection.execute("DROP TABLE much")
        kept, before = given(archive), upkeep.info(archive)
        assert before.free_bytes > 1e6
        first, last = upkeep.vacuum(archive)
        assert last < first - 1e6
        assert given(archive) == kept
        assert upkeep.check(archive) == []
        assert (upkeep.info(archive).free_bytes, upkeep.info(archive).rows["jobs"]) == (0, 20)


def test_info(path):
    with Archive(path) as archive:
        told = upkeep.info(archive)
    assert (told.rows["notes"], told.rows["entries"], told.first_day, told.jobs_with_damage) == (20, 200, "2025-03-31", 19)
    assert told.bytes == path.stat().st_size


def test_the_commands(path, capsysbinary):
    from notelog.cli import main

    def run(*arguments, code=0):
        assert main([*arguments, "--archive", str(path)]) == code
        return capsysbinary.readouterr().out.decode()

    assert run("archive", "check") == "The archive is sound.\n"
    assert json.loads(run("archive", "check", "--json")) == {"sound": True, "problems": []}
    with Archive(path) as archive:
        archive.connection.execute("DELETE FROM facts")
    assert "`notelog archive repair` mends it" in " ".join(run("archive", "check", code=1).split())
    assert run("archive", "repair").startswith("The archive is sound")
    assert json.loads(run("archive", "vacuum", "--json"))["after"] > 0
    assert json.loads(run("archive", "info", "--json"))["rows"]["jobs"] == 20
    assert "jobs with damage" in run("archive", "info")
    assert "MB now" in run("archive", "vacuum")
