"""What is kept for searching is true after every change, and an archive of before is filled when it is opened."""

import random

import pytest
from handmade import finding, full_log, log, note, rows

from notelog.archive import Archive, Vehicle, again, corrections, migrations
from notelog.errors import InputError

PARTS = ("hub", "lower arm", "strut", "wheel bearing")
CONDITIONS = ("bent", "cracked", "good")
STATUSES = ("present", "absent", "suspected")


@pytest.fixture
def archive(tmp_path):
    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        yield archive


def is_true(archive):
    """Whether the facts are those of entries and notes, and the counts those of the facts, worked out by full scans."""
    look = archive.connection.execute
    facts = {tuple(row) for row in look("SELECT * FROM facts")}
    counts = {tuple(row) for row in look("SELECT * FROM damage_counts WHERE jobs <> 0")}
    return (
        facts == {tuple(row) for row in look(migrations.FACTS_AS_THEY_SHOULD_BE)}
        and counts == {tuple(row) for row in look(migrations.COUNTS_AS_THEY_SHOULD_BE)}
    )


def some_note(dice, number):
    of = note(f"Note {number}: it is so.")
    made = [
        finding(of, dice.choice(PARTS), dice.choice(CONDITIONS), "it is so", status=dice.choice(STATUSES),
                position={"side": dice.choice(["left", "right", None])})
        for _ in range(dice.randint(0, 5))
    ]  # fmt: skip
    return of, log(of, made)


@pytest.mark.parametrize("seed", range(5))
def test_facts_and_counts_are_true_after_any_changes(archive, seed):
    dice = random.Random(seed)
    archive.add("0", [(note(), full_log())])
    for number in range(60):
        entries = [row["id"] for row in archive.connection.execute("SELECT id FROM entries WHERE standing <> 'gone'")]
        one, what = dice.choice(entries or [0]), dice.randrange(5) if entries else 0
        try:
            match what:
                case 0 | 1:
                    archive.add(str(dice.randrange(6)), [some_note(dice, number)])
                case 2:
                    corrections.reject(archive, one, "Kim")
                case 3:
                    corrections.change(archive, one, {"condition": dice.choice(CONDITIONS)}, "Kim")
                case 4:
                    (of,) = archive.connection.execute("SELECT note_id FROM entries WHERE id = ?", (one,)).fetchone()
                    again.read_again(archive, of, lambda stored: some_note(dice, number)[1])
        except InputError:
            continue
        assert is_true(archive), (number, what)
    assert archive.connection.execute("SELECT max(jobs) FROM damage_counts").fetchone()[0] > 2




def test_what_is_taken_back_is_in_no_count(archive):
    archive.add("1", [(note(), full_log())])
    before = [tuple(row) for row in archive.connection.execute("SELECT * FROM facts")]
    of = note("The hub is bent.")
    made = log(of, [finding(of, "hub", "bent", "hub is bent")])

    def one_then_trouble():
        yield of, made
        raise RuntimeError("the second file cannot be understood")

    with pytest.raises(RuntimeError):
        archive.add("2", one_then_trouble())
    assert [tuple(row) for row in archive.connection.execute("SELECT * FROM facts")] == before
    assert is_true(archive)


def test_an_archive_of_before_has_its_facts_when_it_is_opened(tmp_path, monkeypatch):
    path = tmp_path / "jobs.sqlite"
    with monkeypatch.context() as before:
        before.setattr(migrations, "STEPS", migrations.STEPS[: migrations.STEPS.index(migrations.facts)])
        with Archive(path, create=True) as archive:
            archive.add("1042", [(note(), full_log())], vehicle=Vehicle.given(model="hatchback"))
            archive.add("1043", [(note(), full_log())])
            corrections.reject(archive, 1, "Kim")
            kept = rows(archive)
    with Archive(path) as archive:
        assert rows(archive) == kept
        assert is_true(archive)
        (jobs,) = archive.connection.execute("SELECT jobs FROM damage_counts WHERE component_id = ''").fetchone()
        assert jobs == 1
        assert archive.connection.execute("SELECT rowid FROM jobs_fts WHERE jobs_fts MATCH 'hatchback'").fetchone()[0] == 1
