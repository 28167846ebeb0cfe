"""The command line: what each command prints, in a terminal's width and as JSON, and how it starts and ends."""

import csv
import io
import json
import os
import pty
import re
import select
import signal
import subprocess
import sys
from types import SimpleNamespace

import jsonschema
import pytest
from handmade import finding, full_log, log, note

from notelog.archive import Archive, Vehicle
from notelog.archive.standing import contract
from notelog.cli.demo import _most_found
from notelog.models import Log
from notelog.out import as_json as json_out
from notelog.out.words import KINDS

NOTELOG = [sys.executable, "-m", "notelog.cli"]
SPOKEN = "The front bumper is cracked. The lower arm is bent."


@pytest.fixture(autouse=True)
def archive_file(path):
    return path


@pytest.fixture
def filled(archive_file):
    """An archive of two jobs, made by hand."""
    with Archive(archive_file, create=True) as archive:
        vehicle = Vehicle.given(year=2016, registration="Q17 ABC", mileage=61200)
        archive.add("1042", [(note(), full_log())], vehicle=vehicle, author="night shift", dictated="2025-03-31")
        second = note("The hub is cracked.", source="mon/hub.txt")
        entries = [finding(second, "hub", "cracked", "hub is cracked")]
        archive.add("1043", [(second, log(second, entries, ["line 3: a cue without a time"]))])
    return archive_file


@pytest.fixture
def spoken(tmp_path):
    file = tmp_path / "bay2.txt"
    file.write_text(SPOKEN)
    return file


def objects(text):
    return [json.loads(line) for line in text.splitlines()]


# --- extract, schema -------------------------------------------------------------------------------


def test_extract_prints_the_contract_one_note_a_line(run, spoken, tmp_path, archive_file):
    other = tmp_path / "hub.txt"
    other.write_text("The hub is bent.")
    first, second = objects(run("extract", spoken, other, "--json", "--driver-side", "left").out)
    assert first["note"] == {"source": str(spoken), "sha256": first["note"]["sha256"], "driver_side": "left"}
    assert list(first) == ["schema", "note", "entries", "mentions", "warnings"]
    assert first["schema"] == "notelog/1"
    assert Log.model_validate(first).entries[0].condition == "cracked"
    assert second["note"]["source"] == str(other)
    for one, text in ((first, SPOKEN), (second, other.read_text())):
        for entry in one["entries"]:
            assert text[entry["evidence"]["start"] : entry["evidence"]["end"]] == entry["evidence"]["text"]
            assert None not in entry["position"].values()
            assert "t_start" not in entry["evidence"]
    assert not archive_file.exists()


def test_extract_prints_a_table_with_the_words(run, spoken):
    out = run("extract", spoken).out
    assert "bumper: cracked" in out
    assert re.search("“.*lower arm is bent.*”", out)
    assert "\x1b" not in out


def test_extract_reads_standard_input(spoken):
    done = subprocess.run([*NOTELOG, "extract", "-", "--json"], input=SPOKEN.encode(), capture_output=True, check=True)
    assert json.loads(done.stdout)["note"]["source"] == "-"
    assert {entry["condition"] for entry in json.loads(done.stdout)["entries"]} == {"cracked", "bent"}


def test_extract_is_what_the_library_gives(run, spoken):
    import notelog

    (printed,) = objects(run("extract", spoken, "--json").out)
    made = notelog.extract(SPOKEN)
    assert [entry.model_dump(mode="json") for entry in Log.model_validate(printed).entries] == [
        entry.model_dump(mode="json") for entry in made.entries
    ]


def test_the_settings_give_the_driver_side(run, spoken):
    run("settings", "--driver-side", "left")
    assert objects(run("extract", spoken, "--json").out)[0]["note"]["driver_side"] == "left"
    assert objects(run("extract", spoken, "--json", "--driver-side", "right").out)[0]["note"]["driver_side"] == "right"


def test_schema_describes_what_extract_prints(run):
    schema = json.loads(run("schema").out)
    assert set(schema["properties"]) == {"schema", "note", "entries", "mentions", "warnings"}
    kinds = set(schema["properties"]["entries"]["items"]["discriminator"]["mapping"])
    assert kinds == set(KINDS) == {entry.kind for entry in full_log().entries}
    assert '"why"' not in json.dumps(schema)


def test_what_extract_prints_holds_to_the_schema(run, spoken):
    # the reference is an independent validator of JSON Schema
    validator = jsonschema.Draft202012Validator(json.loads(run("schema").out))
    validator.check_schema(validator.schema)
    validator.validate(json_out.log(full_log()))
    for printed in objects(run("extract", spoken, "--json").out):
        validator.validate(printed)
        printed["entries"][0]["condition"] = "wobbly"
        with pytest.raises(jsonschema.ValidationError):
            validator.validate(printed)


# --- add, vehicle ----------------------------------------------------------------------------------


def test_add_stores_and_recognises(run, spoken):
    vehicle = ("--year", 2016, "--vin", "1m8gdm9axkp042788", "--registration", "q17 abc", "--mileage", 61200)
    out = run("add", spoken, "--job", "1042", "--author", "night shift", "--dictated", "2025-03-31", *vehicle).out
    assert re.fullmatch(rf"{re.escape(str(spoken))}: stored in job 1042, \d+ entries", " ".join(out.split()))
    again = run("add", spoken, "--job", "1042").out
    assert re.search(r"already in job 1042, added on \d{4}-\d\d-\d\d; not stored again", " ".join(again.split()))
    job = json.loads(run("job", "1042", "--json").out)
    assert job["vehicle"] == {"make": None, "model": None, "year": 2016, "vin": "1M8GDM9AXKP042788",
                              "registration": "Q17 ABC", "mileage": 61200}  # fmt: skip
    (kept,) = job["notes"]
    assert (kept["text"], kept["author"], kept["dictated"]) == (SPOKEN, "night shift", "2025-03-31")
    assert all((entry["revision"], entry["decided"]) == (1, None) for entry in kept["entries"])
    assert [contract(entry) for entry in kept["entries"]] == objects(run("extract", spoken, "--json").out)[0]["entries"]


def test_add_tells_of_another_job(run, spoken):
    run("add", spoken, "--job", "1042")
    done = run("add", spoken, "--job", "1043", "--json")
    assert "the same note is in job 1042, added on" in done.err
    assert json.loads(done.out)[0]["also_in"][0].startswith("job 1042")


def test_add_stores_all_files_or_none(run, spoken, tmp_path, archive_file):
    empty = tmp_path / "empty.txt"
    empty.write_text("")
    run("add", spoken, empty, "--job", "1042", code=2)
    assert not archive_file.exists()


def test_vehicle_shows_and_puts_right(run, filled):
    assert "registration Q17 ABC" in run("vehicle", "1042").out
    assert json.loads(run("vehicle", "1042", "--mileage", 61204, "--json").out)["mileage"] == 61204
    assert "mileage 61204" in run("job", "1042").out


# --- jobs, job, find -------------------------------------------------------------------------------


def test_jobs(run, filled):
    lines = run("jobs").out.splitlines()
    assert lines[0].split() == ["Job", "Vehicle", "Notes", "Entries", "Last", "note"]
    assert any(re.match(r"1042 +2016, registration Q17 ABC, mileage 61200 +1 +10 ", line) for line in lines)
    kept = json.loads(run("jobs", "--json").out)
    assert {one["reference"]: (one["notes"], one["entries"]) for one in kept} == {"1042": (1, 10), "1043": (1, 1)}


def test_job_shows_everything(run, filled):
    run("settings", "--shop", "Long Bay")
    out = run("job", "1042", "--text").out
    assert out.startswith("Long Bay: job 1042")
    for heading in KINDS.values():
        assert heading in out
    for words in ("night shift", "2025-03-31", "lower arm: bent", "play (absent)", "2 x bolt 18 mm", "camber -1.5 deg",
                  "0.5 h", "85.00 GBP", "front right lower", "“No play in the wheel bearing” at 0:42",
                  "Offside front now."):  # fmt: skip
        assert words in out, words
    assert "line 3: a cue without a time" in run("job", "1043").out


def test_job_as_json(run, filled):
    job = json.loads(run("job", "1042", "--json").out)
    assert [entry["kind"] for entry in job["notes"][0]["entries"]] == [entry.kind for entry in full_log().entries]


def test_find(run, filled):
    out = run("find", "cracked", "hubs").out
    assert out.startswith("looked for: hub with what is part of it: cracked\nJob 1043")
    assert re.search(r"hub: cracked +“hub is cracked” +hub; cracked", out)
    assert "1 job matches" in out
    told = json.loads(run("find", "cracked", "--json").out)
    assert (told["total"], told["understood"]["wanted"][0]["conditions"]) == (1, ["cracked"])
    (job,) = told["jobs"]
    (hit,) = job["entries"]
    assert (job["job"], hit["entry"]["component"]["label"], hit["why"]) == ("1043", "hub", ["cracked"])
    assert run("find", "gearbox").out.endswith("Nothing found.\n")
    assert json.loads(run("find", "gearbox", "--json").out)["jobs"] == []


def test_find_by_options_and_as_entries(run, filled):
    by_words = json.loads(run("find", "bent wishbone offside", "--json").out)
    options = ("--component", "control arm", "--condition", "bent", "--place", "right")
    by_options = json.loads(run("find", *options, "--json").out)
    assert by_words["jobs"] == by_options["jobs"] != []
    assert re.search(r"^Job +Date +Id +Entry", run("find", *options, "--entries").out, re.MULTILINE)
    assert "taken as: wishbone (for wishbnoe)" in run("find", "wishbnoe").out
    assert "The status cannot be 'maybe'" in run("find", "hub", "--status", "maybe", code=2).err


# --- export ----------------------------------------------------------------------------------------


def test_export_csv_by_rfc_4180(run, filled, tmp_path):
    out = tmp_path / "1042.csv"
    run("export", "1042", "--to", "csv", "--out", out)
    data = out.read_bytes()
    assert data.count(b"\r\n") == data.count(b"\n") == 11
    assert data.endswith(b"\r\n")
    # the reference is Python's own CSV reader, told to be strict
    table = list(csv.DictReader(io.StringIO(data.decode("utf-8"), newline=""), strict=True))
    assert [line["kind"] for line in table] == [entry.kind for entry in full_log().entries]
    assert table[0]["quote"] == "The lower arm is bent"
    assert (table[0]["job"], table[0]["registration"], table[0]["side"]) == ("1042", "Q17 ABC", "right")
    assert (table[6]["low"], table[6]["unit"]) == ("-1.5", "deg")
    printed = subprocess.run([*NOTELOG, "export", "1042", "--to", "csv"], capture_output=True, check=True).stdout
    assert printed == data
    assert [file.name for file in tmp_path.iterdir() if file.name.endswith(".tmp")] == []


@pytest.mark.parametrize("start", ["=", "+", "-", "@", "\t=", "  =", "\r="])
def test_export_csv_holds_no_formula(run, archive_file, start):
    evil = f'{start}1+cmd("x"),\r\n"y" is bent'
    of = note(evil)
    with Archive(archive_file, create=True) as archive:
        archive.add("=1+1", [(of, log(of, [finding(of, "hub", "bent", evil)]))], author="@sum(1)")
    (line,) = csv.DictReader(io.StringIO(run("export", "=1+1", "--to", "csv").out, newline=""), strict=True)
    # capfd reads line ends as \n, so only the text before the first of them is compared
    assert line["quote"].startswith("'")
    assert (line["job"], line["author"]) == ("'=1+1", "'@sum(1)")
    for cell in line.values():
        assert cell.lstrip()[:1] not in ("=", "+", "@")


def test_export_json(run, filled, tmp_path):
    run("settings", "--shop", "Long Bay", "--currency", "EUR")
    out = tmp_path / "1042.json"
    run("export", "1042", "--to", "json", "--out", out)
    made = json.loads(out.read_text(encoding="utf-8"))
    assert (made["shop"], made["currency"]) == ("Long Bay", "EUR")
    assert made["job"] == json.loads(run("job", "1042", "--json").out)


def test_export_replaces_a_file_whole_and_keeps_its_rights(run, filled, tmp_path):
    out = tmp_path / "1042.csv"
    out.write_text("old\n" * 1000)
    out.chmod(0o640)
    run("export", "1042", "--to", "csv", "--out", out)
    assert "old" not in out.read_text()
    assert out.stat().st_mode & 0o777 == 0o640


# --- lexicon, score --------------------------------------------------------------------------------


def test_lexicon_export(run):
    from notelog import lexicon

    entries = json.loads(run("lexicon", "export", "--json").out)
    assert len(entries) == len(lexicon.load().entries())
    link = next(one for one in entries if one["id"] == "anti_roll_bar_link")
    assert set(link) == {"id", "kind", "label", "synonyms"}
    assert "drop link" in link["synonyms"]


@pytest.mark.parametrize("said", ["drop link", "Drop-Link", "anti_roll_bar_link"])
def test_lexicon_show(run, said):
    (about,) = json.loads(run("lexicon", "show", said, "--json").out)
    assert about["id"] == "anti_roll_bar_link"
    assert about["source"].startswith("suspension.csv:")
    assert "anti-roll bar link" in run("lexicon", "show", said).out


def test_lexicon_show_what_is_not_there(run):
    assert "near it are" in run("lexicon", "show", "anti roll bar lnk", code=2).err


def test_lexicon_check(run):
    assert run("lexicon", "check").out == "The lexicon is sound.\n"
    assert json.loads(run("lexicon", "check", "--json").out) == []


def test_score(run, tmp_path):
    gold = {"id": "one", "driver_side": "right", "text": "The hub is cracked. Two hours.", "entries": [
        {"kind": "finding", "component": ["hub", "wheel hub"], "condition": "cracked", "status": "present"},
        {"kind": "cost", "amount": 5, "currency": "GBP"}]}  # fmt: skip
    (tmp_path / "one.json").write_text(json.dumps(gold))
    scored = json.loads(run("score", tmp_path, "--json", "--misses").out)
    assert scored["notes"] == 1
    assert scored["core"]["finding"] == {"tp": 1, "fp": 0, "fn": 0, "precision": 1.0, "recall": 1.0, "f1": 1.0}
    assert scored["core"]["cost"]["fn"] == 1
    assert [(miss["kind"], miss["what"]) for miss in scored["misses"] if miss["gold"]] == [("cost", "missing")]
    out = run("score", tmp_path, "--misses").out
    assert re.search(r"finding +1 +1.000 +1.000 +1.000", out)
    assert re.search(r"figure not heard +1 +1 cost", out)
    assert re.search(r"one +cost +5, GBP", out)


# --- demo ------------------------------------------------------------------------------------------


def test_demo_shows_the_whole_way_and_leaves_nothing(archive_file, tmp_path):
    folder = tmp_path / "temporary"
    folder.mkdir()
    done = subprocess.run(
        [*NOTELOG, "demo"], check=False, capture_output=True, text=True, env={**os.environ, "TMPDIR": str(folder)}
    )
    assert (done.returncode, done.stderr) == (0, "")
    heads = [line for line in done.stdout.splitlines() if re.match(r"\d\. |To go on", line)]
    assert [head[:2] for head in heads] == ["1.", "2.", "3.", "To"]
    for part in re.split(r"(?m)^\d\. ", done.stdout)[1:]:
        assert re.search("“[^”]+”", part), part
    assert list(folder.iterdir()) == []
    assert not archive_file.exists()


def test_the_demo_searches_for_the_same_words_every_time():
    def log(*names):
        component = [SimpleNamespace(label=name) for name in names]
        return SimpleNamespace(entries=[SimpleNamespace(kind="finding", component=one, condition="bent") for one in component])

    for names in (("wing", "hub", "lower arm"), ("lower arm", "wing", "hub"), ("hub", "lower arm", "wing")):
        assert _most_found([log(*names), log("lower arm", "wing")]) == "lower arm"
    assert _most_found([log("lower arm"), log("wing"), log("wing", "hub")]) == "wing"


# --- terminals and pipes ---------------------------------------------------------------------------


@pytest.mark.parametrize("width", [60, 80, 132])
def test_tables_fit_the_terminal(run, filled, monkeypatch, width):
    monkeypatch.setenv("COLUMNS", str(width))
    for arguments in (("jobs",), ("job", "1042"), ("find", "arm"), ("history", 1), ("settings",)):
        lines = run(*arguments).out.splitlines()
        assert max(len(line) for line in lines) <= width, arguments


def test_nothing_in_a_note_is_taken_for_markup_or_moves_the_cursor(run, archive_file):
    of = note("[bold]bent[/bold] :smile: [0:42] \x1b[31mred\x07 \u202eright to left")
    with Archive(archive_file, create=True) as archive:
        archive.add("1", [(of, log(of, [finding(of, "hub", "bent", of.text)]))])
    out = " ".join(run("job", "1", "--text").out.split())
    assert "[bold]bent[/bold] :smile: [0:42] [31mred right to left" in out
    assert not re.search("[\x1b\x07\u202e]", out)


def _in_a_terminal(arguments, **environment):
    """What a command prints on a terminal of its own."""
    main_end, its_end = pty.openpty()
    with subprocess.Popen(
        arguments, stdout=its_end, stderr=its_end, stdin=its_end, env={**os.environ, "TERM": "xterm", **environment}
    ) as process:
        os.close(its_end)
        out = b""
        while select.select([main_end], [], [], 60)[0]:
            try:
                piece = os.read(main_end, 65536)
            except OSError:
                break
            if not piece:
                break
            out += piece
    os.close(main_end)
    return process.returncode, out.decode()


def test_a_terminal_gets_style_unless_it_is_not_wanted(filled):
    code, out = _in_a_terminal([*NOTELOG, "job", "1042"])
    assert (code, "\x1b[1m" in out) == (0, True)
    code, out = _in_a_terminal([*NOTELOG, "job", "1042"], TERM="dumb")
    assert (code, "\x1b" in out) == (0, False)


@pytest.mark.parametrize(("seconds", "shown"), [(1.6, True), (0.1, False)])
def test_progress_is_shown_only_to_a_person_who_waits(seconds, shown):
    program = (
        "import time; from notelog.out.terminal import progress\n"
        f"with progress('Understanding', 2) as step: time.sleep({seconds}); step()"
    )
    code, out = _in_a_terminal([sys.executable, "-c", program])
    assert (code, "Understanding" in out) == (0, shown)
    piped = subprocess.run([sys.executable, "-c", program], check=False, capture_output=True)
    assert (piped.stdout, piped.stderr) == (b"", b"")


def test_a_reader_that_goes_away_is_no_error(filled):
    with Archive(filled) as archive:
        many = note("bent " * 200_000)
        archive.add("1042", [(many, log(many, []))])
    for arguments in (["job", "1042", "--json"], ["job", "1042", "--text"], ["export", "1042", "--to", "json"]):
        with subprocess.Popen([*NOTELOG, *arguments], stdout=subprocess.PIPE, stderr=subprocess.PIPE) as process:
            process.stdout.read(10)
            process.stdout.close()
            assert process.stderr.read() == b"", arguments
        assert process.returncode == 1


@pytest.mark.skipif(not os.path.exists("/dev/full"), reason="needs /dev/full")
def test_output_that_finds_no_room_is_told(filled):
    for arguments in (["jobs"], ["jobs", "--json"], ["export", "1042", "--to", "csv"]):
        with open("/dev/full", "wb") as full:
            done = subprocess.run([*NOTELOG, *arguments], check=False, stdout=full, stderr=subprocess.PIPE, text=True)
        assert (done.returncode, done.stderr.count("\n")) == (2, 1), done.stderr
        assert "No space left" in done.stderr


def test_interrupted():
    def as_from_a_terminal():
        signal.signal(signal.SIGINT, signal.SIG_DFL)  # a shell starts what runs in its background with SIGINT ignored

    with subprocess.Popen(
        [*NOTELOG, "extract", "-"], stdin=subprocess.PIPE, stderr=subprocess.PIPE, preexec_fn=as_from_a_terminal
    ) as process:
        # it waits for its input once it has read the reader's own imports; asking it again is harmless
        for _ in range(100):
            process.send_signal(signal.SIGINT) if _waits_for_input(process.pid) else None
            try:
                process.wait(0.1)
                break
            except subprocess.TimeoutExpired:
                pass
        assert process.returncode == 130
        assert process.stderr.read() == b""


def _waits_for_input(pid):
    with open(f"/proc/{pid}/syscall") as file:
        return file.read().split()[:2] == ["0", "0x0"]  # read() of file descriptor 0 on x86-64


def test_json_is_utf_8_whatever_the_terminal(filled):
    with Archive(filled) as archive:
        of = note("½ inch – größer")
        archive.add("77", [(of, log(of, []))])
    done = subprocess.run(
        [*NOTELOG, "job", "77", "--json"],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": "ascii"},
        check=True,
    )
    assert json.loads(done.stdout.decode("utf-8"))["notes"][0]["text"] == "½ inch – größer"
    for encoding in ("ascii", "latin-1"):
        environment = {**os.environ, "PYTHONIOENCODING": encoding}
        done = subprocess.run([*NOTELOG, "job", "77", "--text"], check=False, capture_output=True, env=environment)
        assert (done.returncode, done.stderr) == (0, b"")


# --- starting --------------------------------------------------------------------------------------

HEAVY = {"spacy", "pint", "rapidfuzz", "numpy", "pydantic", "sqlite_utils", "pysubs2"}


@pytest.mark.parametrize("arguments", [["--help"], ["find", "arm"], ["jobs"], ["history", "1"], ["--version"]])
def test_looking_loads_nothing_heavy(filled, arguments):
    program = (
        "import sys; from notelog.cli import main; code = main(sys.argv[1:]); "
        f"print(sorted({HEAVY!r} & set(sys.modules)), file=sys.stderr); sys.exit(code)"
    )
    done = subprocess.run([sys.executable, "-c", program, *arguments], check=False, capture_output=True, text=True)
    assert (done.returncode, done.stderr.strip()) == (0, "[]")
    assert done.stdout


def test_help_names_every_command_and_every_option(run):
    out = run("--help").out
    for command in ("extract", "schema", "add", "vehicle", "jobs", "job", "find", "export", "correct", "again", "history",
                    "like", "figures", "score", "settings", "demo", "lexicon", "archive"):  # fmt: skip
        assert re.search(rf"^  {command} +[A-Z].*\.$", out, re.MULTILINE), command
        text = run(command, "--help").out
        for line in text.splitlines():
            if line.startswith("  --"):
                assert re.search(r"  \S", line.strip()) or len(line.split()) <= 3, line
    assert "--install-completion" in out


def test_completion_offers_the_jobs(filled):
    environment = {
        **os.environ,
        "_NOTELOG_COMPLETE": "complete_bash",
        "COMP_WORDS": "notelog job 104",
        "COMP_CWORD": "2",
    }
    done = subprocess.run(NOTELOG, check=False, capture_output=True, text=True, env=environment)
    assert done.stdout.split() == ["1043", "1042"]


def test_a_command_that_is_none(run):
    assert "No such command" in run("flatten", code=2).err
