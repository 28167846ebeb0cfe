"""The shop's own lexicon: what `notelog lexicon add` puts into it, what it refuses, and that every command reads by it."""

import csv
import json
import os
import shutil

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

import notelog
from notelog import lexicon, shop
from notelog.archive import Archive, lexicon_path, shop_lexicon
from notelog.errors import InputError
from notelog.lexicon.check import check
from notelog.lexicon.load import COMPONENT_COLUMNS

HEADER = ",".join(COMPONENT_COLUMNS)


@pytest.fixture
def file(path):
    return lexicon_path(path)


def named(log):
    return [(entry.component.id, entry.component.label) for entry in log.entries if entry.component]


# --- what is put in --------------------------------------------------------------------------------


def test_a_component_is_a_row_of_the_same_columns_as_the_shipped_ones(file):
    made = shop.add_component(
        file, " Wibble  Guard ", also=["wibble grille"], short=["w/grd"], system="interior", part_of="load net", sides=True
    )
    with file.open(encoding="utf-8", newline="") as opened:
        [row] = csv.DictReader(opened)
    assert row == {
        "id": "wibble_guard", "label": "wibble guard", "uk": "", "us": "", "also": "wibble grille", "short": "w/grd",
        "system": "interior", "part_of": "load_net", "sides": "yes",
    }  # fmt: skip
    assert (made.id, made.system, made.part_of, made.sides) == ("wibble_guard", "interior", "load_net", True)


def test_the_system_is_that_of_the_whole_unless_it_is_said(file):
    assert shop.add_component(file, "wibble guard", part_of="load net").system == "interior"
    assert shop.add_component(file, "wobble guard", part_of="load net", system="body").system == "body"


def test_an_entry_that_ships_gets_a_further_name_and_keeps_all_that_it_has(file):
    before = lexicon.load().find("drop link")
    made = shop.add_names(file, "Drop-Link", ["wibble link"], short=["wbl"])
    assert file.read_text() == f"{HEADER}\nanti_roll_bar_link,anti-roll bar link,,,wibble link,wbl,,,\n"
    assert (made.label, made.system, made.part_of, made.sides) == (
        before.label, before.system, before.part_of, before.sides
    )  # fmt: skip
    assert set(made.names) == {*before.names, "wibble link", "wbl"}
    assert "wbl" in made.short
    # Further names go into the row that is there.
    shop.add_names(file, "anti_roll_bar_link", ["wobble link"])
    assert file.read_text().splitlines()[1:] == ["anti_roll_bar_link,anti-roll bar link,,,wibble link; wobble link,wbl,,,"]
    assert "wibble link" not in lexicon.load().find("drop link").names


def test_a_component_of_the_shops_gets_a_further_name(file):
    shop.add_component(file, "wibble guard", also=["wibble grille"], system="interior")
    assert shop.add_names(file, "wibble grille", ["wibble cage"]).synonyms == ["wibble grille", "wibble cage"]
    assert len(file.read_text().splitlines()) == 2


def test_what_a_person_wrote_into_the_file_stays(file):
    file.write_bytes(
        "\ufeffid,label,uk,us,also,short,system,part_of,sides\r\n"
        '# ours\r\n"wibble_rod","wibble rod",,,,,steering,,yes\r\n'.encode()
    )
    shop.add_component(file, "wobble rod", system="steering")
    shop.add_names(file, "wobble rod", ["wobble stick"])
    assert file.read_bytes().decode("utf-8") == (
        "\ufeffid,label,uk,us,also,short,system,part_of,sides\r\n"
        '# ours\r\n"wibble_rod","wibble rod",,,,,steering,,yes\r\n'
        "wobble_rod,wobble rod,,,wobble stick,,steering,,\r\n"
    )


def test_an_id_is_never_one_that_is_taken(file):
    shop.add_component(file, "wibble guard", system="interior")
    rows = file.read_text().replace("wibble guard", "dropped name")
    file.write_text(rows)
    assert shop.add_component(file, "wibble guard", system="interior").id == "wibble_guard_2"


# --- what is refused -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("names", "told"),
    [
        ([" "], "A name is empty"),
        (["drop link"], "is a name of anti-roll bar link already (anti_roll_bar_link, suspension.csv:"),
        (["Drop-Links"], "anti_roll_bar_link"),
        (["tre"], "track_rod_end"),
        (["wibble guard", "Wibble-Guard"], "is given twice"),
        (["ratchet"], "says the tool ratchet already"),
        (["copper grease"], "says the material copper grease already"),
        (["bent"], "says the condition bent already"),
        (["unbolt"], "says the action remove already"),
        (["nearside"], "says a place already"),
        (["bush"], "already"),
        (["it"], "plain English"),
        (["wibble um guard"], "passed over in talk"),
        (["wibble, guard"], "use letters"),
        (["wibble; guard"], "use letters"),
        (["=wibble"], "use letters"),
        (["w" * 61], "may have 60"),
        (["17 mil wibble"], "has a figure"),
        (["calliper wibble"], "is heard as 'caliper wibble'"),
    ],
)
def test_a_name_that_means_something_or_cannot_be_said_is_refused(file, names, told):
    with pytest.raises(InputError) as refused:
        shop.add_component(file, names[0], also=names[1:], system="interior")
    assert told in str(refused.value)
    assert not file.exists()


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["wibble guard", "--system", "plumbing"], "There is no system 'plumbing': it is one of chassis, steering"),
        (["wibble guard"], "Say which system 'wibble guard' belongs to"),
        (["wibble guard", "--part-of", "drop lnk"], "near it are drop link"),
        (["wibble link", "--to", "drop lnk"], "near it are drop link"),
        (["drop link", "--to", "anti-roll bar link"], "is a name of anti-roll bar link already (suspension.csv:"),
        (["lower arm", "--to", "drop link"], "is a name of lower arm already"),
        (["wibble link", "--to", "drop link", "--system", "body"], "only names are added"),
    ],
)
def test_the_command_refuses_in_one_sentence_and_writes_nothing(run, file, arguments, told):
    err = run("lexicon", "add", *arguments, code=2).err
    assert told in err
    assert len(err.splitlines()) == 1
    assert not file.exists()


@pytest.mark.parametrize(
    ("content", "told"),
    [
        ("id,label\n", "line 1: the columns must be"),
        (f"{HEADER}\nwibble,wibble\n", "line 2: 2 columns where 9"),
        (f"{HEADER}\n,wibble,,,,,,,\n", "line 2: an entry needs an id"),
        ("", "line 1"),
    ],
)
def test_a_damaged_file_is_told_with_its_line_by_every_command(run, file, tmp_path, content, told):
    file.write_text(content)
    note = tmp_path / "a.txt"
    note.write_text("The hub is bent.")
    for arguments in (
        ["extract", note], ["add", note, "--job", "1"], ["lexicon", "add", "wibble guard", "--system", "body"],
        ["lexicon", "check"], ["lexicon", "show", "hub"], ["lexicon", "export"],
    ):  # fmt: skip
        err = run(*arguments, code=2).err
        assert file.name in err and told in err, arguments
    assert file.read_text() == content


def test_nothing_is_written_when_the_disk_refuses(file, monkeypatch):
    shop.add_component(file, "wibble guard", system="interior")
    before = file.read_bytes()

    def refuse(*_):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", refuse)
    with pytest.raises(InputError, match="No space left"):
        shop.add_component(file, "wobble guard", system="interior")
    assert file.read_bytes() == before
    assert list(file.parent.iterdir()) == [file]


def test_check_finds_what_a_person_wrote_into_the_file_amiss(run, file):
    rows = ["wibble_rod,wibble rod,,,,,plumbing,,", "hub,hub,,,drop link,,,,", "wobble_rod,lower arm,,,,,body,nothing,"]
    file.write_text("\n".join([HEADER, *rows]) + "\n")
    found = [(one.file, one.line) for one in check(None, file)]
    assert {(file.name, 2), (file.name, 4)} <= set(found)
    assert any("'drop link'" in one.message and f"{file.name}:3" in f"{one.file}:{one.line} {one.message}" for one in check(None, file))
    assert file.name in run("lexicon", "check", code=2).out


# --- that it is used -------------------------------------------------------------------------------

SAYS = "Offside wibble guard is bent. No play in the wibble links. Ordered a wibble guard."


@pytest.fixture
def filled(file):
    shop.add_component(file, "wibble guard", also=["wibble grille"], system="interior", sides=True)
    shop.add_names(file, "drop link", ["wibble link"])
    return file


def test_python_reads_by_the_file_that_it_is_given(filled):
    assert "wibble_guard" not in str(named(notelog.extract(SAYS)))
    found = named(notelog.extract(SAYS, lexicon=filled))
    assert found.count(("wibble_guard", "wibble guard")) == 2
    assert ("anti_roll_bar_link", "anti-roll bar link") in found
    with pytest.raises(InputError, match="cannot be read"):
        notelog.extract(SAYS, lexicon=filled.with_name("no.csv"))


def test_python_makes_the_ledger_by_it(filled):
    log = notelog.extract("The wibble guard is bent.", lexicon=filled)
    assert [one.kind for one in notelog.ledger([log], lexicon=filled).questions] == ["side_missing"]
    assert [one.kind for one in notelog.ledger([log]).questions] == ["unknown_part"]


def test_the_parts_of_the_shop_are_understood_as_the_others_are(filled):
    for sentence in (
        "Both wibble grilles are cracked.",
        "cracked wibble guard on the offside",
        "so the wibble grille it's cracked right across",
        "Found the wibble guard's cracked, ordered.",
    ):
        assert ("wibble_guard", "wibble guard") in named(notelog.extract(sentence, lexicon=filled)), sentence


def test_a_file_that_was_just_written_is_read_anew(file):
    """Also when its time and its length are those of before."""
    shop.add_component(file, "wibble guard", system="interior")
    assert lexicon.load(None, file).find("wibble guard") is not None
    assert lexicon.load(None, file) is lexicon.load(None, file)
    state = file.stat()
    other = file.with_suffix(".new")
    other.write_text(file.read_text().replace("wibble", "wobble"))
    os.utime(other, ns=(state.st_atime_ns, state.st_mtime_ns))
    other.replace(file)
    assert lexicon.load(None, file).find("wibble guard") is None
    assert lexicon.load(None, file).find("wobble guard") is not None
    assert lexicon.load().find("wobble guard") is None


def test_every_command_with_that_archive_knows_it(run, filled, path, tmp_path, monkeypatch):
    note = tmp_path / "bay2.txt"
    note.write_text(SAYS)
    [log] = map(json.loads, run("extract", note, "--json").out.splitlines())
    assert log["entries"][0]["component"] == {"id": "wibble_guard", "label": "wibble guard", "said": "wibble guard"}
    run("add", note, "--job", "1042")
    jobs = json.loads(run("find", "wibble guard", "--json").out)["jobs"]
    assert {hit["entry"]["component"]["id"] for job in jobs for hit in job["entries"]} == {"wibble_guard"}
    [about] = json.loads(run("lexicon", "show", "wibble grille", "--json").out)
    assert (about["id"], about["source"]) == ("wibble_guard", f"{filled.name}:2")
    [link] = json.loads(run("lexicon", "show", "wibble link", "--json").out)
    assert (link["id"], link["shop"]) == ("anti_roll_bar_link", [f"{filled.name}:3"])
    exported = {one["id"]: one for one in json.loads(run("lexicon", "export", "--json").out)}
    assert exported["wibble_guard"]["synonyms"] == ["wibble grille"]
    assert run("lexicon", "check").out == "The lexicon is sound.\n"
    entry = json.loads(run("correct", "1", "component=wibble grille", "level=upper", "--by", "Kim", "--json").out)
    assert entry["component"]["id"] == "wibble_guard"
    ledger = json.loads(run("job", "1042", "--json").out)["ledger"]
    assert "wibble_guard" in {line["component"]["id"] for line in ledger["parts_to_buy"]}
    priced = json.loads(run("estimate", "1042", "--json").out)
    assert "wibble_guard" in {line["component"]["id"] for line in priced["lines"] if line["component"]}
    gold = {"id": "one", "driver_side": "right", "text": "The wibble grille is bent.", "entries": [
        {"kind": "finding", "component": "wibble guard", "condition": "bent", "status": "present"}]}  # fmt: skip
    (tmp_path / "one.json").write_text(json.dumps(gold))
    assert json.loads(run("score", tmp_path / "one.json", "--json").out)["core"]["all"]["f1"] == 1.0
    # Another archive has another lexicon.
    other = tmp_path / "other.sqlite"
    assert json.loads(run("score", tmp_path / "one.json", "--json", "--archive", other).out)["core"]["all"]["f1"] == 0.0
    [log] = map(json.loads, run("extract", note, "--json", "--archive", other).out.splitlines())
    assert "wibble_guard" not in json.dumps(log)
    shutil.copy(filled, lexicon_path(other))
    monkeypatch.setenv("NOTELOG_ARCHIVE", str(other))
    assert "wibble_guard" in run("extract", note, "--json").out


def test_a_job_whose_shop_lexicon_is_gone_is_still_shown(run, filled, tmp_path):
    note = tmp_path / "bay2.txt"
    note.write_text(SAYS)
    run("add", note, "--job", "1042")
    filled.unlink()
    assert "wibble guard" in run("job", "1042").out
    assert "wibble guard" in run("estimate", "1042").out
    assert b"wibble guard" in run("export", "1042", "--to", "html").out.encode()


def test_stored_notes_are_read_anew_with_what_was_added(run, path, file, tmp_path):
    note = tmp_path / "bay2.txt"
    note.write_text("The wibble guard frame is bent.")
    assert "again" not in run("lexicon", "add", "wobble guard", "--system", "interior").out
    run("add", note, "--job", "1042")
    assert "Every note was read" in run("again", "--all").out
    printed = run("lexicon", "add", "wibble guard frame", "--system", "interior").out
    assert "notelog again --all" in printed and file.name in printed
    changes = json.loads(run("again", "--all", "--json").out)
    assert "wibble_guard_frame" in json.dumps(changes)
    assert "Every note was read" in run("again", "--all").out
    with Archive(path) as archive:
        [entry] = archive.job("1042").notes[0].entries
    assert entry["component"]["id"] == "wibble_guard_frame"


def test_what_the_command_prints(run, file):
    printed = run("lexicon", "add", "Wibble guard", "--also", "wibble grille", "--system", "interior").out
    assert "wibble guard" in printed and "wibble grille" in printed and "interior" in printed
    assert "anti-roll bar link is called wibble link as well" in run("lexicon", "add", "wibble link", "--to", "drop link").out
    made = json.loads(run("lexicon", "add", "wobble guard", "--system", "body", "--json").out)
    assert (made["id"], made["source"], made["file"]) == ("wobble_guard", f"{file.name}:4", str(file))


def test_where_the_file_lies(tmp_path):
    archive = tmp_path / "jobs.sqlite"
    assert shop_lexicon(archive) is None
    lexicon_path(archive).write_text(HEADER + "\n")
    assert shop_lexicon(archive) == tmp_path / "jobs.lexicon.csv"


# --- any name --------------------------------------------------------------------------------------

MADE_UP = st.text("bdfgklmnoprtuaei", min_size=4, max_size=9)
PART_WORDS = ["guard", "frame", "bracket", "cover", "link", "sensor", "hose", "panel"]


@settings(deadline=None, max_examples=10, suppress_health_check=[HealthCheck.too_slow, HealthCheck.function_scoped_fixture])
@given(st.one_of(st.text(max_size=30), st.builds(lambda a, b: f"{a} {b}", MADE_UP, st.sampled_from(PART_WORDS))))
def test_any_name_is_refused_in_one_sentence_or_found_in_talk(tmp_path_factory, name):
    file = tmp_path_factory.mktemp("any") / "jobs.lexicon.csv"
    try:
        made = shop.add_component(file, name, system="body")
    except InputError as refused:
        assert "\n" not in str(refused).strip()
        assert not file.exists()
        return
    assert check(None, file) == []
    log = notelog.extract(f"The {made.label} is bent.", lexicon=file)
    assert (made.id, made.label) in named(log)


# --- what notes asked for --------------------------------------------------------------------------


@pytest.fixture
def asking(run, path, tmp_path):
    """An archive of three notes in two jobs that name parts which no lexicon holds."""
    notes = {
        ("1042", "mon.txt"): "The wibble guard frame is bent. Took the wibble guard frame off. Ordered a condense her frame.",
        ("1042", "tue.txt"): "Undid the two 18 mil bolts. The hub is bent. The wibble guard frame is cracked.",
        ("1043", "wed.txt"): "Both wibble guard frames are bent.",
    }
    for (job, name), text in notes.items():
        (tmp_path / name).write_text(text)
        run("add", tmp_path / name, "--job", job)
    return path


def unknown(run):
    return json.loads(run("lexicon", "unknown", "--json").out)


def test_parts_that_no_lexicon_holds_are_listed_with_counts_and_quotes(run, asking):
    found = unknown(run)["unknown"]
    frame = found[0]
    assert (frame["words"], frame["entries"], frame["notes"], frame["jobs"]) == ("wibble guard frame", 4, 3, 2)
    assert [(quote["job"], os.path.basename(quote["source"])) for quote in frame["quotes"]] == [
        ("1042", "mon.txt"), ("1042", "tue.txt")
    ]  # fmt: skip
    assert all("wibble guard frame" in quote["text"] for quote in frame["quotes"])
    assert not {"hub", "bolt", "wheel hub"} & {one["words"] for one in found}


def test_the_nearest_entries_are_told_by_letters_and_by_sound():
    from notelog.lexicon.near import nearest

    known = lexicon.load()
    assert [one.term.id for one in nearest("condense her", known, 1)] == ["condenser"]
    assert "track_rod_end" in [one.term.id for one in nearest("track rot end", known)]
    assert "radiator" in [one.term.id for one in nearest("raddy ator", known)]
    assert nearest("", known) == [] and nearest("qqqqqqqqqqqqqq", known) == []
    for said in ("wibble guard frame", "lower harm", "n/s"):
        found = nearest(said, known)
        assert [one.alike for one in found] == sorted((one.alike for one in found), reverse=True)
        assert len({one.term.id for one in found}) == len(found) <= 3
        assert all(one.name in map(lexicon.normal, one.term.names) for one in found)


def test_what_was_added_or_rejected_is_no_longer_listed(run, asking):
    before = unknown(run)
    assert before["learnt"] == 0
    run("lexicon", "add", "wibble guard frame", "--system", "interior", "--sides")
    after = unknown(run)
    assert after["learnt"] == 4
    assert "wibble guard frame" not in {one["words"] for one in after["unknown"]}
    assert "4 entries have names that the lexicon has learnt since: notelog again --all" in run("lexicon", "unknown").out
    run("again", "--all")
    assert unknown(run)["learnt"] == 0
    for entry in json.loads(run("job", "1042", "--json").out)["notes"][0]["entries"]:
        if (entry.get("component") or {}).get("id") == "unknown":
            run("correct", entry["id"], "--reject", "--by", "Kim")
    assert unknown(run)["unknown"] == []
    assert run("lexicon", "unknown").out == "The lexicon holds every part that the notes name.\n"


def test_the_list_fits_the_terminal(run, asking, monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    out = run("lexicon", "unknown").out
    assert max(map(len, out.splitlines())) <= 80
    for word in ("wibble", "mon.txt", "1042", "notelog lexicon add NAME"):
        assert word in out


def test_there_is_no_list_without_an_archive(run):
    assert "There is no archive" in run("lexicon", "unknown", code=2).err
