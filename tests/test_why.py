"""`notelog extract --why`: every entry tells the words, cues, rule, places and repairs behind it."""

import json
from pathlib import Path

import pytest

import notelog
from notelog.cli import main
from notelog.log import log_note
from notelog.log.why import RULES
from notelog.reading import read_text
from notelog.scoring import load_gold
from notelog.understanding import LEARNT

GOLD = load_gold(Path(__file__).parent / "gold")


@pytest.fixture
def run(tmp_path, monkeypatch, capfd):
    monkeypatch.setenv("NOTELOG_ARCHIVE", str(tmp_path / "jobs.sqlite"))
    monkeypatch.setenv("NOTELOG_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("COLUMNS", "80")

    def run(text, *arguments):
        note = tmp_path / "note.txt"
        note.write_text(text, encoding="utf-8")
        capfd.readouterr()
        assert main(["extract", str(note), *arguments]) == 0
        return capfd.readouterr().out

    return run


def behind(text, kind, driver_side="right", **values):
    """The lines behind the one entry of that kind with those values."""
    found = [
        entry
        for entry in notelog.extract(text, driver_side).entries
        if entry.kind == kind and all(getattr(entry, name) == value for name, value in values.items())
    ]
    assert len(found) == 1, found
    return found[0].why


def heads(lines):
    return [line.split(": ", 1)[0] for line in lines]


@pytest.mark.parametrize(
    ("text", "kind", "told"),
    [
        # the words, and the rule that joined them
        ("The lower arm is bent.", "finding", ["component: “lower arm” is in the lexicon", "condition: “bent” says bent", "rule: subject"]),
        ("Drop link snapped.", "finding", ["component: “Drop link” is anti-roll bar link", "condition: “snapped” says broken"]),
        ("Took the hub off.", "operation", ["action: “Took ... off” says remove", "rule: object"]),
        ("The lower arm is bent so I took it off.", "operation", ["rule: pronoun", "component: “lower arm” is in the lexicon, said elsewhere"]),
        ("Needs a new headlamp.", "part", ["asked for: “Needs a” says needed"]),
        ("The dog guard frame is bent.", "finding", ["component: “dog guard frame” is in no lexicon, and is called dog guard frame"]),
        ("Camber reads minus 1.5 degrees.", "measurement", ["figure: “minus 1.5 degrees”", "rule: reading"]),
        # the cue behind a status
        ("No play in the wheel bearing.", "finding", ["cue: “no” says denied", "status: absent, by the cue"]),
        ("The subframe might be bent.", "finding", ["cue: “might be” says doubted", "status: suspected, by the cue"]),
        ("The hub needs replacing tomorrow.", "operation", ["says planned", "status: planned, by the cue"]),
        # where the place came from
        ("The nearside wing is dented.", "finding", ["place: left, “nearside” beside it"]),
        ("Offside front now. The strut is bent.", "finding", ["place: right front, “Offside front” said before, which still holds"]),
        ("The front bumper is cracked.", "finding", ["place: front, the name “front bumper”"]),
        # what was repaired, and what was taken back
        ("The drop blink is bent.", "finding", ["repair: “drop blink” was meant as drop link, known mishearing"]),
        ("The wing was dented 17 no sorry 19 mil deep.", "measurement", ["correction: “17” was taken back"]),
    ],
)  # fmt: skip
def test_what_is_told(text, kind, told):
    entries = [entry for entry in notelog.extract(text).entries if entry.kind == kind]
    lines = [line for entry in entries for line in entry.why]
    for piece in told:
        assert any(line.startswith(piece) or piece in line for line in lines), (piece, lines)


def test_a_place_by_the_driver_is_told_for_both_seats():
    for side in ("left", "right"):
        lines = behind("Driver's side now. The strut is bent.", "finding", side)
        assert f"place: {side}, “Driver's side” said before, which still holds" in lines


def test_a_short_name_tells_what_it_stands_for():
    lines = behind("The drop link is rattling. The link is bent.", "finding", condition="bent")
    assert "short name: “link” stands for anti-roll bar link" in lines


def test_the_learnt_component_is_told_where_it_judged():
    note = next(one for one in GOLD if len(one.text.split()) > 100)
    judged = notelog.extract(note.text, note.driver_side).entries
    assert all("learnt" in heads(entry.why) for entry in judged)
    ruled = log_note(read_text(note.text), note.driver_side, LEARNT).entries
    assert ruled and not any("learnt" in heads(entry.why) for entry in ruled)


@pytest.mark.parametrize("without", [(), LEARNT], ids=["whole", "rules alone"])
def test_every_entry_of_the_gold_notes_says_why(without):
    """In lines "head: text" that can be printed; each names its rule, and the rule is explained."""
    count = 0
    for gold in GOLD:
        for entry in log_note(read_text(gold.text), gold.driver_side, without).entries:
            count += 1
            assert heads(entry.why).count("rule") == 1, entry
            rule = next(line for line in entry.why if line.startswith("rule: "))
            assert rule.split(": ")[1] in {name.replace("_", " ") for name in RULES}, rule
            assert all(": " in line and "\n" not in line and line.strip() == line for line in entry.why), entry.why
            assert len(set(entry.why)) == len(entry.why)
    assert count > 300


def test_json_has_it_only_when_it_is_asked_for(run):
    text = "Nearside front. The lower arm is bent, no play in the wheel bearing. Took it off with the breaker bar."
    plain, told = json.loads(run(text, "--json")), json.loads(run(text, "--json", "--why"))
    assert all("why" not in entry for entry in plain["entries"])
    for entry in told["entries"]:
        lines = entry.pop("why")
        assert lines and all(isinstance(line, str) for line in lines)
    assert told == plain


def test_it_is_printed_by_entry_and_fits_the_terminal(run):
    out = run("Nearside front. The lower arm is bent. No play in the drop blink. Ordered a lower arm, eighty five quid.", "--why")
    lines = out.splitlines()
    assert max(map(len, lines)) <= 80
    at = next(number for number, line in enumerate(lines) if line.startswith("lower arm: bent, front left"))
    assert lines[at + 1].startswith("  words ")
    assert {"Findings", "Parts", "Costs"} <= set(lines)
    assert "nothing" not in run("Hello there.", "--why")
