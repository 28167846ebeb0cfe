"""Bad input gets one clear sentence and exit code 2, and nothing is stored."""

import ctypes
import json
import os
import shutil
import sqlite3
import subprocess
import sys

import pytest
from handmade import full_log, log, note, rows

from notelog.archive import Archive
from notelog.cli import main
from notelog.errors import InputError
from notelog.paths import data_folder

NOTELOG = [sys.executable, "-m", "notelog.cli"]


@pytest.fixture(autouse=True)
def archive_file(tmp_path, monkeypatch):
    file = tmp_path / "archive" / "jobs.sqlite"
    monkeypatch.setenv("NOTELOG_ARCHIVE", str(file))
    monkeypatch.setenv("NOTELOG_SETTINGS", str(tmp_path / "settings.toml"))
    return file


@pytest.fixture
def filled(archive_file):
    with Archive(archive_file, create=True) as archive:
        archive.add("1042", [(note(), full_log())])
    return archive_file


@pytest.fixture
def refused(capfd):
    """Run a command that must be refused; gives its one sentence."""

    def refused(*arguments):
        capfd.readouterr()
        assert main([str(one) for one in arguments]) == 2
        out, err = capfd.readouterr()
        assert out == ""
        return one_sentence(err)

    return refused


def one_sentence(err):
    assert err.startswith("notelog: ")
    assert err.count("\n") == 1, err
    assert "Traceback" not in err
    return err.strip()


def everything(file):
    """All that an archive holds, as SQL."""
    with sqlite3.connect(file) as connection:
        return list(connection.iterdump())


# --- notes -----------------------------------------------------------------------------------------

PNG = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0\0\0\x01\0\0\0\x01\x08\x06\0\0\0\x1f\x15\xc4\x89"

UNREADABLE = {
    "nothing.txt": (b"", "empty"),
    "blank.txt": (b" \n\t\r\n \n", "white space|only spaces|no words|empty"),
    "binary.txt": (bytes(range(256)) * 4, "not text|in no encoding"),
    "picture.txt": (PNG, "PNG image"),
    "photo.txt": (b"\xff\xd8\xff\xe0\0\x10JFIF\0" + bytes(64), "JPEG image"),
    "database.txt": (b"SQLite format 3\0" + bytes(84), "database"),
    "broken.json": (b'{"segments": [{"start": 0, "end": 1, "text": "lower arm"}', "JSON"),
    "huge.txt": (b"The lower arm is bent. " * 900_000, "5 MB|too long|larger"),
}


@pytest.mark.parametrize("name", UNREADABLE)
def test_a_file_that_is_no_note(refused, tmp_path, archive_file, name):
    content, told = UNREADABLE[name]
    file = tmp_path / name
    file.write_bytes(content)
    for command in (["extract", file], ["extract", file, "--json"], ["add", file, "--job", "1042"]):
        sentence = refused(*command)
        assert str(file) in sentence
        assert any(words in sentence for words in told.split("|")), sentence
    assert not archive_file.exists()


@pytest.mark.parametrize("name", UNREADABLE)
def test_the_same_on_standard_input(archive_file, name):
    content, told = UNREADABLE[name]
    done = subprocess.run([*NOTELOG, "add", "-", "--job", "1042"], input=content, capture_output=True, check=False)
    sentence = one_sentence(done.stderr.decode())
    assert (done.returncode, done.stdout) == (2, b"")
    assert any(words in sentence for words in told.split("|")), sentence
    assert not archive_file.exists()


def test_a_file_that_is_not_there(refused, tmp_path, archive_file):
    for command in (["extract"], ["add", "--job", "1042"]):
        assert str(tmp_path / "no.txt") in refused(*command, tmp_path / "no.txt")
    assert not archive_file.exists()


def test_a_folder(refused, tmp_path, archive_file):
    assert "is a folder" in refused("extract", tmp_path)
    assert "is a folder" in refused("add", tmp_path, "--job", "1042")
    assert not archive_file.exists()


def test_standard_input_twice(refused, archive_file):
    assert "only once" in refused("extract", "-", "-")


def test_one_bad_file_keeps_the_good_ones_out(refused, tmp_path, filled):
    good, bad = tmp_path / "good.txt", tmp_path / "bad.txt"
    good.write_text("The hub is cracked.")
    bad.write_bytes(PNG)
    before = everything(filled)
    assert str(bad) in refused("add", good, bad, "--job", "1042")
    assert str(bad) in refused("extract", good, bad)
    assert everything(filled) == before


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("broken.srt", ("1\n00:00:01,000 --> 00:00:0x,000\nThe lower arm is bent.\n\n2\n00:00:04,000 --> 00:00:06,000\n"
                       "The hub is cracked.\n")),
        ("broken.vtt", ("WEBVTT\n\n00:01.000 --> 00:0x.000\nThe lower arm is bent.\n\n00:04.000 --> 00:06.000\n"
                       "The hub is cracked.\n")),
    ],
)  # fmt: skip
def test_broken_subtitles_are_read_as_far_as_can_be_with_a_warning(tmp_path, capfd, name, content):
    file = tmp_path / name
    file.write_text(content)
    assert main(["extract", str(file), "--json"]) == 0
    made = json.loads(capfd.readouterr().out)
    assert any("line" in warning for warning in made["warnings"])
    last = next(entry for entry in made["entries"] if entry["condition"] == "cracked")
    assert last["evidence"]["t_start"] == 4.0
    assert main(["add", str(file), "--job", "1042"]) == 0
    assert f"warning: {file}: " in capfd.readouterr().err


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (["--job", " "], "reference is empty"),
        (["--job", "1", "--vin", "1M8GDM9A5KP042788"], "check digit"),
        (["--job", "1", "--vin", "SHORT"], "should have 17"),
        (["--job", "1", "--year", "1066"], "cannot be a vehicle's"),
        (["--job", "1", "--mileage", "-5"], "mileage -5"),
        (["--job", "1", "--dictated", "last week"], "is no date"),
    ],
)
def test_what_is_told_of_the_job_is_wrong(refused, tmp_path, archive_file, options, told):
    file = tmp_path / "good.txt"
    file.write_text("The hub is cracked.")
    assert told in refused("add", file, *options)
    assert not archive_file.exists()


# --- jobs ------------------------------------------------------------------------------------------


def test_an_unknown_job(refused, filled):
    for command in (["job", "9"], ["export", "9", "--to", "csv"], ["vehicle", "9"], ["vehicle", "9", "--year", "2016"]):
        assert "There is no job '9'" in refused(*command)


def test_no_archive_yet(refused, archive_file):
    for command in (["jobs"], ["job", "1"], ["find", "arm"], ["export", "1", "--to", "csv"], ["vehicle", "1"]):
        assert f"no archive at {archive_file} yet" in refused(*command)
    assert not archive_file.exists()


@pytest.mark.parametrize("words", ["", " ", '"', "***", "()"])
def test_nothing_to_find(refused, filled, words):
    assert "no word to look for" in refused("find", "--", words)


def test_an_export_with_nowhere_to_go(refused, filled, tmp_path):
    assert "is a folder" in refused("export", "1042", "--to", "csv", "--out", tmp_path)
    assert "cannot be written" in refused("export", "1042", "--to", "csv", "--out", tmp_path / "no" / "1042.csv")
    assert sorted(file.name for file in tmp_path.iterdir()) == ["archive"]


# --- the archive's file ----------------------------------------------------------------------------


@pytest.fixture
def good(tmp_path):
    file = tmp_path / "good.txt"
    file.write_text("The hub is cracked.")
    return file


def test_a_locked_archive(refused, filled, good):
    before = everything(filled)
    other = sqlite3.connect(filled, isolation_level=None)
    other.execute("BEGIN EXCLUSIVE")
    assert "being written by another program" in refused("add", good, "--job", "1043")
    other.execute("ROLLBACK")
    other.close()
    assert everything(filled) == before


def test_a_folder_for_an_archive(refused, tmp_path, good):
    for command in (["jobs"], ["add", good, "--job", "1"]):
        assert "is a folder" in refused(*command, "--archive", tmp_path)


def test_a_file_in_the_way_of_the_archive_s_folder(refused, good):
    assert "cannot be made" in refused("add", good, "--job", "1", "--archive", good / "jobs.sqlite")


@pytest.mark.parametrize("content", [b"The lower arm is bent.\n" * 100, PNG * 50], ids=["text", "image"])
def test_a_file_that_is_no_database(refused, tmp_path, good, content):
    file = tmp_path / "other.sqlite"
    file.write_bytes(content)
    for command in (["jobs"], ["find", "arm"], ["add", good, "--job", "1"]):
        assert "is no archive" in refused(*command, "--archive", file)
    assert file.read_bytes() == content


def test_a_database_of_another_program(refused, tmp_path, good):
    file = tmp_path / "other.sqlite"
    with sqlite3.connect(file) as connection:
        connection.execute("CREATE TABLE notes (id, text)")
    connection.close()
    before = file.read_bytes()
    for command in (["jobs"], ["find", "arm"], ["add", good, "--job", "1"]):
        assert "belongs to another program" in refused(*command, "--archive", file)
    assert file.read_bytes() == before


def test_an_empty_file_is_no_archive_to_look_in_but_one_to_store_in(refused, tmp_path, good):
    file = tmp_path / "new.sqlite"
    file.touch()
    assert "is empty" in refused("jobs", "--archive", file)
    assert main(["add", str(good), "--job", "1", "--archive", str(file)]) == 0
    with Archive(file) as archive:
        assert rows(archive)["notes"] == 1


def test_a_damaged_archive(refused, filled):
    with sqlite3.connect(filled) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    connection.close()
    data = bytearray(filled.read_bytes())
    data[4096 * 2 :] = b"\xa5" * (len(data) - 4096 * 2)
    filled.write_bytes(data)
    assert "is damaged" in refused("find", "arm")


def test_an_archive_that_can_only_be_read(filled, good):
    before = everything(filled)
    filled.chmod(0o444)
    filled.parent.chmod(0o555)
    try:
        found = _without_root_s_rights([*NOTELOG, "find", "lower", "arm"])
        added = _without_root_s_rights([*NOTELOG, "add", str(good), "--job", "1043"])
    finally:
        filled.parent.chmod(0o755)
        filled.chmod(0o644)
    assert (found.returncode, found.stderr) == (0, "")
    assert "lower arm: bent" in found.stdout
    assert (added.returncode, added.stdout) == (2, "")
    assert "can only be read" in one_sentence(added.stderr)
    assert everything(filled) == before


def test_a_folder_that_cannot_be_written(tmp_path, good):
    folder = tmp_path / "closed"
    folder.mkdir(mode=0o555)
    done = _without_root_s_rights([*NOTELOG, "add", str(good), "--job", "1", "--archive", str(folder / "jobs.sqlite")])
    assert done.returncode == 2
    assert "cannot be opened" in one_sentence(done.stderr)
    assert list(folder.iterdir()) == []


def _without_root_s_rights(arguments):
    """Run as a user whom the rights of files bind: root gives up CAP_DAC_OVERRIDE (Linux, prctl(2)) first."""

    def give_up():
        for capability in (1, 2):  # CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH; 24 is PR_CAPBSET_DROP
            ctypes.CDLL(None).prctl(24, capability, 0, 0, 0)

    return subprocess.run(
        arguments, check=False, capture_output=True, text=True, preexec_fn=give_up if os.geteuid() == 0 else None
    )


def test_a_full_disk_simulated(filled):
    with Archive(filled) as archive:
        before = everything(filled)
        (pages,) = archive.connection.execute("PRAGMA page_count").fetchone()
        archive.connection.execute(f"PRAGMA max_page_count = {pages}")
        long = note("The hub is cracked. " * 5000)
        with pytest.raises(InputError, match="no room left to write .* nothing was stored"):
            archive.add("1043", [(long, log(long, []))])
        assert everything(filled) == before
        archive.connection.execute("PRAGMA max_page_count = 1000000")
        archive.add("1043", [(long, log(long, []))])
        assert rows(archive)["notes"] == 2


@pytest.fixture
def small_disk(tmp_path):
    place = tmp_path / "disk"
    place.mkdir()
    try:
        mounted = subprocess.run(
            ["mount", "-t", "tmpfs", "-o", "size=256k", "none", place], capture_output=True, check=False
        )
    except FileNotFoundError:
        pytest.skip("there is no mount command")
    if mounted.returncode:
        pytest.skip("a small file system can be mounted by root only")
    yield place
    subprocess.run(["umount", place], check=True)


def test_a_full_disk(small_disk, tmp_path, good):
    file, long = small_disk / "jobs.sqlite", tmp_path / "long.txt"
    long.write_text("The hub is cracked. " * 3_000)
    first = subprocess.run(
        [*NOTELOG, "add", long, "--job", "1", "--archive", file], capture_output=True, text=True, check=False
    )
    assert first.returncode == 2
    assert "nothing was stored" in one_sentence(first.stderr)
    assert list(small_disk.iterdir()) == []


def test_a_disk_too_full_for_an_export(small_disk, tmp_path, filled, refused):
    out = small_disk / "1042.json"
    out.write_text("as it was")
    with Archive(filled) as archive:
        long = note("The hub is cracked. " * 50_000)
        archive.add("1042", [(long, log(long, []))])
    assert "cannot be written" in refused("export", "1042", "--to", "json", "--out", out)
    assert out.read_text() == "as it was"
    assert [file.name for file in small_disk.iterdir()] == ["1042.json"]


# --- the lexicon -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("file", "line", "text"),
    [
        ("components/suspension.csv", 3, b"a,row,with,too,many,cells,1,2,3,4,5,6"),
        ("components/brakes.csv", 2, b'disc,"brake disc'),
        ("conditions.csv", 4, b"b\xe9nt,bent,,,"),
        ("actions.csv", 1, b"id;label;verbs"),
        ("components/wheels.csv", 5, b",,,,,,,,"),
    ],
)
def test_a_damaged_lexicon(tmp_path, capfd, file, line, text):
    folder = tmp_path / "lexicon"
    shutil.copytree(data_folder("lexicon"), folder)
    lines = (folder / file).read_bytes().split(b"\n")
    lines[line - 1] = text
    (folder / file).write_bytes(b"\n".join(lines))
    for command in (["lexicon", "check", folder], ["lexicon", "show", "drop link", "--folder", folder]):
        capfd.readouterr()
        assert main([str(one) for one in command]) == 2
        out, err = capfd.readouterr()
        told = " ".join((out + one_sentence(err)).split())
        assert file.rpartition("/")[2] in told
        assert f"line {line}" in told or f"{file.rpartition('/')[2]}:{line}" in told, told


def test_a_lexicon_that_is_not_there(refused, tmp_path):
    assert str(tmp_path / "no") in refused("lexicon", "show", "drop link", "--folder", tmp_path / "no")


# --- gold notes ------------------------------------------------------------------------------------


@pytest.mark.parametrize("content", [None, "{", '{"id": "x"}'])
def test_gold_notes_that_are_none(refused, tmp_path, content):
    folder = tmp_path / "gold"
    folder.mkdir()
    if content:
        (folder / "one.json").write_text(content)
    assert str(folder) in refused("score", folder)
