"""The archive: whole transactions, notes recognised, search kept true, old and foreign files."""

import json
import sqlite3
import tempfile

import pytest
from handmade import TEXT, evidence, finding, full_log, log, named, note, rows
from hypothesis import given, settings
from hypothesis import strategies as st

from notelog.archive import Archive, Vehicle, archive_path, migrations
from notelog.archive.search import match_expression
from notelog.errors import InputError


@pytest.fixture
def path(tmp_path):
    return tmp_path / "jobs.sqlite"


@pytest.fixture
def archive(path):
    with Archive(path, create=True, wait=0.1) as archive:
        yield archive


def test_a_log_comes_back_as_it_was_stored(archive):
    of, made = note(), full_log()
    archive.add("1042", [(of, made)], author="night shift", dictated="2025-03-31T16:05")
    assert archive.logs("1042") == [made]
    kept = archive.job("1042").notes[0]
    assert (kept.text, kept.sha256, kept.source, kept.format) == (of.text, of.sha256, "bay2.txt", "text")
    assert (kept.author, kept.dictated, kept.driver_side) == ("night shift", "2025-03-31T16:05:00", "right")


@settings(deadline=None)
@given(st.text(st.characters(exclude_categories=["Cs"]), min_size=1))
def test_every_text_is_kept_verbatim(text):
    with tempfile.TemporaryDirectory() as folder, Archive(f"{folder}/jobs.sqlite", create=True) as archive:
        of = note(text)
        archive.add("1", [(of, log(of, []))])
        assert archive.job("1").notes[0].text == text


def test_columns_are_those_of_the_payload(archive):
    archive.add("1042", [(note(), full_log())])
    for row in archive.connection.execute("SELECT * FROM entries ORDER BY number"):
        payload = json.loads(row["payload"])
        component, position = payload.get("component") or {}, payload.get("position") or {}
        assert row["kind"] == payload["kind"]
        assert (row["component_id"], row["component_label"]) == (component.get("id"), component.get("label"))
        assert (row["side"], row["axle"]) == (position.get("side"), position.get("axle"))
        assert (row["condition"], row["action"]) == (payload.get("condition"), payload.get("action"))
        assert (row["status"], row["confidence"]) == (payload.get("status"), payload["confidence"])
        assert row["quote"] == payload["evidence"]["text"]


def test_the_same_note_twice_is_recognised(archive):
    first = archive.add("1042", [(note(), full_log())])[0]
    before = rows(archive)
    again = archive.add("1042", [(note(source="copy.txt"), full_log())])[0]
    assert (first.already_added, again.already_added) == (False, True)
    assert (again.note, again.added, again.entries) == (first.note, first.added, first.entries)
    assert rows(archive) == before


def test_the_same_note_twice_in_one_call_is_recognised(archive):
    stored = archive.add("1042", [(note(), full_log()), (note(), full_log())])
    assert [one.already_added for one in stored] == [False, True]
    assert rows(archive)["notes"] == 1


def test_the_same_note_in_another_job_is_stored_and_told(archive):
    archive.add("1042", [(note(), full_log())])
    other = archive.add("1043", [(note(), full_log())])[0]
    assert not other.already_added
    assert other.also_in[0].startswith("job 1042, added on ")
    assert rows(archive)["notes"] == 2


def test_a_job_is_known_by_its_reference_whatever_its_case_and_spaces(archive):
    archive.add("Job 7 b", [(note(), full_log())])
    assert archive.job("  job 7  B ").reference == "Job 7 b"
    assert archive.add("JOB 7 B", [(note(), full_log())])[0].already_added


def test_all_of_the_notes_or_none(archive):
    archive.add("1042", [(note(), full_log())])
    before = rows(archive)
    second = note("The hub is cracked.")

    def one_then_trouble():
        yield second, log(second, [finding(second, "hub", "cracked", "hub is cracked")])
        raise RuntimeError("the second file cannot be understood")

    with pytest.raises(RuntimeError):
        archive.add("1043", one_then_trouble())
    assert rows(archive) == before
    assert [job.reference for job in archive.jobs()] == ["1042"]
    assert archive.find("cracked") == []


def test_what_is_known_of_the_vehicle_grows_and_is_never_overwritten(archive):
    archive.add("1042", [(note(), full_log())], vehicle=Vehicle.given(year=2016, vin="1M8GDM9AXKP042788"))
    more = note("The hub is cracked.")
    archive.add("1042", [(more, log(more, []))], vehicle=Vehicle.given(registration="q17 abc", year=2016))
    assert archive.job("1042").vehicle == Vehicle(year=2016, vin="1M8GDM9AXKP042788", registration="Q17 ABC")
    before = rows(archive)
    third = note("The strut leaks.")
    with pytest.raises(InputError, match=r"Job 1042 has the registration Q17 ABC, not Q18 ABC: nothing was stored"):
        archive.add("1042", [(third, log(third, []))], vehicle=Vehicle.given(registration="Q18 ABC"))
    assert rows(archive) == before
    archive.set_vehicle("1042", Vehicle.given(registration="Q18 ABC"))
    assert archive.job("1042").vehicle == Vehicle(year=2016, vin="1M8GDM9AXKP042788", registration="Q18 ABC")


def test_the_vehicle_of_an_unknown_job(archive):
    archive.add("1042", [(note(), full_log())])
    with pytest.raises(InputError, match="no job '1044'"):
        archive.set_vehicle("1044", Vehicle(year=2016))


@pytest.mark.parametrize("given", [{"year": 1700}, {"year": 3000}, {"mileage": -1}, {"vin": "123"}])
def test_a_vehicle_that_cannot_be(given):
    with pytest.raises(InputError):
        Vehicle.given(**given)


@pytest.mark.parametrize("when", ["31/03/2025", "2025-02-30", "yesterday", "2025-03-31T25:00"])
def test_a_time_that_is_none(archive, when):
    with pytest.raises(InputError, match="time of dictation"):
        archive.add("1042", [(note(), full_log())], dictated=when)


def test_foreign_keys_are_on(archive):
    archive.add("1042", [(note(), full_log())])
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        archive.connection.execute("DELETE FROM notes")
    with pytest.raises(sqlite3.IntegrityError, match="FOREIGN KEY"):
        archive.connection.execute("INSERT INTO entries(note_id, number, payload) VALUES (99, 0, '{}')")


def test_wal(archive):
    archive.add("1042", [(note(), full_log())])
    assert archive.connection.execute("PRAGMA journal_mode").fetchone()[0] == "wal"


def test_jobs_the_newest_note_first(archive):
    archive.add("1042", [(note(), full_log())], vehicle=Vehicle(year=2016))
    archive.add("1043", [])
    archive.connection.execute("UPDATE notes SET added = '2999-01-01T00:00:00+00:00'")
    found = archive.jobs()
    assert [(job.reference, job.notes, job.entries) for job in found] == [("1042", 1, 10), ("1043", 0, 0)]
    assert (found[0].vehicle.year, found[1].last_added) == (2016, None)


# --- search ----------------------------------------------------------------------------------------


def test_word_forms_count_as_one(archive):
    archive.add("1042", [(note(), full_log())])
    for words in ("bolt", "BOLTS", "undid bolts", "18 bolt", "two 18 mil"):
        assert {hit.entry["kind"] for hit in archive.find(words)} <= {"fastener", "operation"}, words
        assert archive.find(words), words


def test_entries_are_found_by_label_place_and_condition(archive):
    archive.add("1042", [(note(), full_log())])
    hits = archive.find("bent right front lower arm")
    assert [(hit.job, hit.source, hit.words, hit.entry["condition"]) for hit in hits] == [
        ("1042", "bay2.txt", "The lower arm is bent", "bent")
    ]


def test_a_note_is_found_by_words_that_are_in_no_entry(archive):
    archive.add("1042", [(note(), full_log())])
    (hit,) = archive.find("offside now")
    assert hit.entry is None
    assert hit.words.startswith("Offside front now.")


def test_the_full_text_tables_follow_every_change(archive):
    archive.add("1042", [(note(), full_log())])
    payload = json.loads(archive.connection.execute("SELECT payload FROM entries WHERE number = 0").fetchone()[0])
    payload["condition"] = "corroded"
    archive.connection.execute("UPDATE entries SET payload = ? WHERE number = 0", (json.dumps(payload),))
    assert archive.find("corroded")[0].entry["condition"] == "corroded"
    archive.connection.execute("DELETE FROM entries WHERE number = 0")
    assert archive.find("corroded") == []
    for table in ("notes_fts", "entries_fts"):
        # FTS5's own check compares the index with the table that it stands for, and raises where they differ
        archive.connection.execute(f"INSERT INTO {table}({table}, rank) VALUES ('integrity-check', 1)")


def test_limit(archive):
    archive.add("1042", [(note(), full_log())])
    assert len(archive.find("arm")) > 2
    assert len(archive.find("arm", limit=2)) == 2


@pytest.mark.parametrize(
    "words",
    ['arm" OR "bearing', "arm OR bearing", "NEAR(arm bearing)", "kind:arm", "arm*", "-arm", "^arm", "{quote}: arm",
     "arm AND NOT bent", 'arm"', '"', "arm\0", "'; DROP TABLE jobs; --", "(((arm", "arm + bearing"],
)  # fmt: skip
def test_operators_are_words(archive, words):
    archive.add("1042", [(note(), full_log())])
    try:
        hits = archive.find(words)
    except InputError:
        assert not any(letter.isalnum() for letter in words)
        return
    said = {"arm"} if "bearing" not in words else {"arm", "bearing"}
    # every word that was given must be there: nothing was taken for "either", "not" or "anything"
    assert all(all(word in str(hit.entry).lower() + hit.words.lower() for word in said) for hit in hits)


@settings(deadline=None)
@given(st.text(max_size=60))
def test_no_text_reaches_the_syntax_of_fts5(words):
    """Reference: a small reader of FTS5 strings, by the rule of its documentation (quotes doubled within quotes)."""
    try:
        asked = match_expression(words)
    except InputError:
        return
    in_string = False
    for letter in asked:
        if letter == '"':
            in_string = not in_string
        else:
            assert in_string or letter == " "
    assert not in_string
    connection = sqlite3.connect(":memory:")
    connection.execute("CREATE VIRTUAL TABLE texts USING fts5(text)")
    connection.execute("SELECT * FROM texts WHERE texts MATCH ?", (asked,)).fetchall()


def test_nothing_to_look_for(archive):
    archive.add("1042", [(note(), full_log())])
    for words in ("", "  ", '""', "***", "-- ..."):
        with pytest.raises(InputError, match="no word to look for"):
            archive.find(words)


# --- the file --------------------------------------------------------------------------------------


def test_where_the_archive_lies(monkeypatch, tmp_path):
    monkeypatch.setenv("NOTELOG_ARCHIVE", str(tmp_path / "env.sqlite"))
    assert archive_path("named.sqlite").name == "named.sqlite"
    assert archive_path() == tmp_path / "env.sqlite"
    monkeypatch.delenv("NOTELOG_ARCHIVE")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "data"))
    assert archive_path().name == "archive.sqlite"
    assert archive_path().parent.name == "notelog"


def test_an_archive_that_nothing_was_stored_in_leaves_no_file(path):
    def trouble():
        yield note(), full_log()
        raise RuntimeError

    with Archive(path, create=True):
        pass
    with pytest.raises(InputError), Archive(path, create=True) as archive:
        archive.add("  ", [(note(), full_log())])
    with pytest.raises(RuntimeError), Archive(path, create=True) as archive:
        archive.add("1042", trouble())
    assert list(path.parent.iterdir()) == []


def test_migrations_are_named_and_applied_once(path):
    with Archive(path, create=True) as archive:
        archive.add("1042", [(note(), full_log())])
        steps = archive.connection.execute("SELECT name, applied FROM migrations").fetchall()
    with Archive(path, create=True) as archive:
        archive.add("1043", [(note(), full_log())])
        assert archive.connection.execute("SELECT name, applied FROM migrations").fetchall() == steps
    assert [step["name"] for step in steps] == [step.__name__ for step in migrations.STEPS]


def test_an_archive_of_the_first_step_gets_the_second_when_it_is_opened(path):
    import sqlite_utils

    db = sqlite_utils.Database(path)
    db.execute("CREATE TABLE migrations (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, applied TEXT)")
    migrations.jobs_notes_entries(db)
    db["migrations"].insert({"name": "jobs_notes_entries", "applied": "2025-01-01"})
    db["jobs"].insert({"reference": "1042", "created": "2025-01-01"})
    row = {"job_id": 1, "text": TEXT, "sha256": "x", "source": "a", "format": "text", "encoding": "utf-8",
           "driver_side": "right", "mentions": "[]", "warnings": "[]", "added": "2025-01-01"}  # fmt: skip
    db["notes"].insert(row)
    db.close()
    with Archive(path) as archive:
        assert archive.find("offside")[0].job == "1042"


def test_an_archive_of_a_newer_version_is_left_alone(path):
    with Archive(path, create=True) as archive:
        archive.add("1042", [(note(), full_log())])
        archive.connection.execute("INSERT INTO migrations(name) VALUES ('stars_and_planets')")
    with pytest.raises(InputError, match=r"newer version \(stars_and_planets\): update"):
        Archive(path)


def test_two_writers_take_turns(path):
    with Archive(path, create=True, wait=5) as one, Archive(path, create=True, wait=5) as two:
        one.add("1042", [(note(), full_log())])
        two.add("1043", [(note(), full_log())])
        assert [job.reference for job in one.jobs()] == [job.reference for job in two.jobs()] == ["1043", "1042"]


def test_a_reader_sees_whole_notes_while_another_writes(path):
    with Archive(path, create=True) as writer:
        writer.add("1042", [(note(), full_log())])

        def watched():
            second = note("The hub is cracked.")
            yield second, log(second, [finding(second, "hub", "cracked", "hub is cracked")])
            with Archive(path) as reader:
                assert len(reader.job("1042").notes) == 1

        writer.add("1042", watched())
        assert len(writer.job("1042").notes) == 2


def test_an_unknown_component_is_kept_as_such(archive):
    of = note("The flange plate is bent.")
    entry = finding(of, "flange plate", "bent", "flange plate is bent")
    entry["component"] = named("flange plate", id="unknown")
    archive.add("1042", [(of, log(of, [entry]))])
    (hit,) = archive.find("flange")
    assert hit.entry["component"]["id"] == "unknown"
    assert hit.entry["evidence"]["text"] == evidence(of.text, "flange plate is bent")["text"]
