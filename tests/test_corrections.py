"""Corrections: people decide about entries, it is kept for ever, and extraction again does not undo it."""

import csv
import dataclasses
import json
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest
from handmade import TEXT, evidence, finding, full_log, log, named, note, rows
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule

import notelog
from notelog.archive import Archive, again, corrections, fields, matching, migrations
from notelog.archive.standing import contract
from notelog.errors import InputError
from notelog.models import Log
from notelog.out.words import KINDS
from notelog.paths import data_folder

NOTELOG = [sys.executable, "-m", "notelog.cli"]
FRONT_RIGHT = {"side": "right", "axle": "front"}


@pytest.fixture
def archive(path):
    """One job with one note, whose entries are those of `full_log`, numbered from 1."""
    with Archive(path, create=True, wait=5) as archive:
        archive.add("1042", [(note(), full_log())])
        yield archive


ARM_BENT, ARM_NEEDED, NO_PLAY, LOOSENED, BOLTS, BAR, CAMBER, LOCK, HALF_HOUR, PRICE = range(1, 11)
"""The numbers of the entries of `full_log` in the archive."""


def shown(archive, rejected=False):
    (kept,) = archive.job("1042", rejected=rejected).notes
    return {entry["id"]: entry for entry in kept.entries}


def everything(archive):
    """All that the archive holds, without the insides of the full-text tables, which depend on the order of writing."""
    return [line for line in archive.connection.iterdump() if "_fts" not in line]


def read_as(archive, entries, note_id=1):
    """Extraction again, with a result made by hand."""
    of = note()
    return again.read_again(archive, note_id, lambda stored: log(of, entries))


def plain(made=None):
    """The entries of a log as dictionaries, to be changed and read again."""
    return [entry.model_dump(mode="json") for entry in (made or full_log()).entries]


# --- deciding --------------------------------------------------------------------------------------


def test_an_accepted_entry_stays_as_it_is_and_is_marked(archive):
    before = contract(shown(archive)[ARM_BENT])
    made = corrections.accept(archive, ARM_BENT, "Kim", why="looked again")
    assert contract(made) == before
    assert made == shown(archive)[ARM_BENT]
    assert (made["revision"], made["decided"]["what"], made["decided"]["by"]) == (2, "accepted", "Kim")
    assert shown(archive)[ARM_NEEDED]["decided"] is None


def test_a_changed_entry_has_the_new_values_and_keeps_the_rest(archive):
    before = contract(shown(archive)[ARM_BENT])
    made = corrections.change(archive, ARM_BENT, {"condition": "cracked", "side": "left", "level": ""}, "Kim")
    wanted = before | {"condition": "cracked"}
    wanted["position"] = before["position"] | {"side": "left", "level": None}
    assert contract(made) == wanted
    assert made["decided"]["fields"] == ["condition", "side", "level"]
    assert [(e.field, e.old, e.new) for e in corrections.history(archive, ARM_BENT)[1:]] == [
        ("condition", "bent", "cracked"), ("side", "right", "left"), ("level", "lower", None)]  # fmt: skip
    # a value that was right already is no change
    corrections.change(archive, ARM_BENT, {"condition": "cracked", "side": "both"}, "Kim")
    assert [e.field for e in corrections.history(archive, ARM_BENT)[4:]] == ["side"]


def test_every_field_of_every_kind_can_be_put_right(archive):
    """Reference: the models, which check every entry that is stored."""
    written = {"component": "drop link", "tool": "torque wrench", "material": "copper grease", "count": "3",
               "size": "T30", "low": "-2", "high": "2.5", "hours": "1.25", "amount": "12.5",
               "currency": "eur"}  # fmt: skip
    for entry_id, entry in shown(archive).items():
        for name, about in fields.fields_of(entry["kind"]).items():
            value = about.allowed[-1] if about.allowed else written[name]
            if fields.value_of(shown(archive)[entry_id], name) == value:
                value = about.allowed[0]
            made = corrections.change(archive, entry_id, {name: value}, "Kim")
            (checked,) = log(note(), [contract(made)]).entries
            stored = getattr(checked.position if name in ("side", "axle", "level", "depth") else checked, name)
            match about.form:
                case "choice":
                    assert stored == value
                case "name":
                    assert stored.label in ("anti-roll bar link", "torque wrench", "copper grease"), stored
                    assert stored.id != "unknown"
                case "size":
                    assert (stored.value, stored.unit) == (30, "T")
                case _:
                    assert str(stored).lower().removesuffix(".0") == value
    assert set(KINDS) == {entry["kind"] for entry in shown(archive).values()} == set(fields.kinds())


@pytest.mark.parametrize(
    ("written", "value", "unit"),
    [("18 mm", 18, "mm"), ("18MM", 18, "mm"), ("3/8 in", 0.375, "in"), ("0.5in", 0.5, "in"), ("M12", 12, "M"),
     ("t30", 30, "T")],
)  # fmt: skip
def test_sizes(archive, written, value, unit):
    made = corrections.change(archive, BAR, {"size": written}, "Kim")
    assert made["size"] == {"value": value, "unit": unit}


def test_a_component_is_known_by_any_of_its_names_and_keeps_the_words_that_were_said(archive):
    made = corrections.change(archive, ARM_BENT, {"component": "Drop-Link"}, "Kim")
    assert made["component"] == {"id": "anti_roll_bar_link", "label": "anti-roll bar link", "said": "lower arm"}
    made = corrections.change(archive, ARM_BENT, {"component": "Flange Plate"}, "Kim")
    assert made["component"] == {"id": "unknown", "label": "flange plate", "said": "lower arm"}
    assert archive.find("flange plate")[0].entry["id"] == ARM_BENT


def test_a_rejected_entry_is_hidden_unless_asked_for(archive):
    made = corrections.reject(archive, NO_PLAY, "Kim", why="another car")
    assert NO_PLAY not in shown(archive)
    assert shown(archive, rejected=True)[NO_PLAY] == made
    assert made["decided"]["what"] == "rejected"
    assert NO_PLAY not in [hit.entry and hit.entry["id"] for hit in archive.find("play wheel bearing")]
    assert archive.find("play wheel bearing", rejected=True)[0].entry == made
    # the words are still in the note, and found there
    assert archive.find("play wheel bearing")[0].entry is None
    assert len(archive.logs("1042")[0].entries) == archive.jobs()[0].entries == 9


def test_a_rejected_entry_that_is_accepted_stands_again(archive):
    before = shown(archive)
    corrections.reject(archive, NO_PLAY, "Kim")
    corrections.accept(archive, NO_PLAY, "Lee")
    assert contract(shown(archive)[NO_PLAY]) == contract(before[NO_PLAY])
    assert list(shown(archive)) == list(before)


def test_an_entry_added_by_hand_with_its_words(archive):
    values = {"component": "wheel bearing", "side": "right", "condition": "good"}
    made = corrections.add(archive, "1042", "finding", values, "Kim", words="no  PLAY in\nthe wheel bearing")
    assert made["evidence"] == evidence(TEXT, "No play in the wheel bearing", 42.0) | {"t_end": None}
    assert (made["status"], made["confidence"], made["decided"]["by_hand"]) == ("present", 1.0, True)
    assert shown(archive)[made["id"]] == made
    # it stands where its words stand
    assert list(shown(archive)).index(made["id"]) == list(shown(archive)).index(NO_PLAY) + 1
    assert Log.model_validate(archive.logs("1042")[0].model_dump(by_alias=True)) == archive.logs("1042")[0]


def test_an_entry_added_by_hand_on_the_person_s_word(archive):
    second = note("The hub is cracked.")
    archive.add("1042", [(second, log(second, []))])
    made = corrections.add(archive, "1042", "labour", {"hours": 2}, "Kim")
    assert (made["evidence"]["text"], made["hours"]) == ("", 2.0)
    assert [entry["id"] for entry in archive.job("1042").notes[1].entries] == [made["id"]]
    made = corrections.add(archive, "1042", "labour", {"hours": 3}, "Kim", note=1)
    assert [entry["id"] for entry in archive.job("1042").notes[0].entries][-1] == made["id"]
    assert corrections.history(archive, made["id"])[0].what == "added"


def test_words_of_a_note_with_stamps_are_found_as_they_were_spoken(archive):
    text = "the ball [0:42] joint is worn"
    stamped = note(text)
    archive.add("1042", [(stamped, log(stamped, []))])
    values = {"component": "ball joint", "condition": "worn"}
    made = corrections.add(archive, "1042", "finding", values, "Kim", words="ball joint is worn")
    assert made["evidence"]["text"] == "ball [0:42] joint is worn"


def test_search_finds_what_a_person_made_of_an_entry(archive):
    corrections.change(archive, ARM_BENT, {"condition": "corroded"}, "Kim")
    assert [hit.entry["id"] for hit in archive.find("corroded")] == [ARM_BENT]
    archive.connection.execute("INSERT INTO entries_fts(entries_fts, rank) VALUES ('integrity-check', 1)")


# --- kept for ever ---------------------------------------------------------------------------------


def test_history_tells_everything_in_order(archive):
    before = contract(shown(archive)[ARM_BENT])
    corrections.accept(archive, ARM_BENT, "Kim", why="looked")
    corrections.change(archive, ARM_BENT, {"side": "left"}, "Lee")
    corrections.reject(archive, ARM_BENT, "Jo")
    events = corrections.history(archive, ARM_BENT)
    assert [(e.revision, e.what, e.who, e.why) for e in events] == [
        (1, "read", None, None),
        (2, "accepted", "Kim", "looked"),
        (3, "changed", "Lee", None),
        (4, "rejected", "Jo", None),
    ]
    assert events[0].new == before
    assert (events[2].field, events[2].old, events[2].new) == ("side", "right", "left")
    assert (events[3].old["position"]["side"], events[3].new) == ("left", None)
    assert all(events[n].at <= events[n + 1].at for n in range(3))


@pytest.mark.parametrize("table", ["corrections", "answers"])
def test_what_was_decided_can_be_neither_changed_nor_deleted(archive, table):
    corrections.reject(archive, ARM_BENT, "Kim")
    corrections.answer(archive, "1042", "2/count", "2", "Kim")
    before = everything(archive)
    for statement in (f"UPDATE {table} SET who = 'nobody'", f"DELETE FROM {table}", "DELETE FROM entries WHERE id = 1"):
        with pytest.raises(sqlite3.IntegrityError):
            archive.connection.execute(statement)
    assert everything(archive) == before


def test_an_archive_from_before_corrections_gets_them_when_it_is_opened(path):
    import sqlite_utils

    db = sqlite_utils.Database(path)
    db.execute("CREATE TABLE migrations (id INTEGER PRIMARY KEY, name TEXT NOT NULL UNIQUE, applied TEXT)")
    for step in migrations.STEPS[:2]:
        step(db)
        db["migrations"].insert({"name": step.__name__, "applied": "2025-01-01"})
    db["jobs"].insert({"reference": "1042", "created": "2025-01-01"})
    of = note()
    db["notes"].insert({"job_id": 1, "text": TEXT, "sha256": of.sha256, "source": "a", "format": "text",
                        "encoding": "utf-8", "driver_side": "right", "mentions": "[]", "warnings": "[]",
                        "added": "2025-01-01"})  # fmt: skip
    for number, entry in enumerate(full_log().entries):
        db["entries"].insert({"note_id": 1, "number": number, "payload": entry.model_dump_json()})
    db.close()
    with Archive(path) as archive:
        assert [contract(entry) for entry in shown(archive).values()] == plain()
        corrections.change(archive, ARM_BENT, {"side": "left"}, "Kim")
        first = corrections.history(archive, ARM_BENT)[0]
        assert (first.what, first.at[:10]) == ("read", "2025-01-01")
        assert again.notes_to_read(archive) == [1]


# --- what cannot be --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("call", "told"),
    [
        (lambda a: corrections.accept(a, 99, "Kim"), "no entry 99"),
        (lambda a: corrections.reject(a, 10**30, "Kim"), "no entry 1000"),
        (lambda a: corrections.change(a, 0, {"side": "left"}, "Kim"), "no entry 0"),
        (lambda a: corrections.history(a, 99), "no entry 99"),
        (lambda a: corrections.accept(a, 1, "  "), "Nobody is named"),
        (lambda a: corrections.accept(a, 1, "Kim\x1b[31m"), "cannot be printed"),
        (lambda a: corrections.accept(a, 1, "K" * 101), "101 characters and may have 100"),
        (lambda a: corrections.change(a, 1, {}, "Kim"), "nothing to change"),
        (lambda a: corrections.change(a, 1, {"colour": "red"}, "Kim"),
         "A finding has no field 'colour': its fields are component, side, axle, level, depth, condition and status"),
        (lambda a: corrections.change(a, 4, {"evidence": "x"}, "Kim"), "An operation has no field 'evidence'"),
        (lambda a: corrections.change(a, 1, {"status": "maybe"}, "Kim"),
         "The status cannot be 'maybe': it is one of present, absent, suspected or past"),
        (lambda a: corrections.change(a, 1, {"side": "left", "condition": "wobbly"}, "Kim"), "bent, buckled, dented"),
        (lambda a: corrections.change(a, 1, {"condition": ""}, "Kim"), "condition of a finding cannot be empty"),
        (lambda a: corrections.change(a, 1, {"side": "right"}, "Kim"), "has side right already"),
        (lambda a: corrections.change(a, 5, {"size": "18"}, "Kim"), "a size such as 18 mm"),
        (lambda a: corrections.change(a, 5, {"size": "3/0 in"}, "Kim"), "a size such as 18 mm"),
        (lambda a: corrections.change(a, 5, {"count": "0"}, "Kim"), "whole number from 1"),
        (lambda a: corrections.change(a, 7, {"low": "nan"}, "Kim"), "a number such as 1.5"),
        (lambda a: corrections.change(a, 7, {"low": "1,5"}, "Kim"), "a number such as 1.5"),
        (lambda a: corrections.change(a, 7, {"low": "2"}, "Kim"), "low value 2 is above the high value -1.5"),
        (lambda a: corrections.change(a, 9, {"hours": "-1"}, "Kim"), "0 or more"),
        (lambda a: corrections.change(a, 10, {"currency": "pounds"}, "Kim"), "a code such as GBP"),
        (lambda a: corrections.change(a, 8, {"material": None}, "Kim"), "cannot be empty"),
        (lambda a: corrections.add(a, "1042", "wish", {}, "Kim"), "one of finding, operation, fastener"),
        (lambda a: corrections.add(a, "1042", "finding", {"side": "left"}, "Kim"), "needs its condition: it is one of"),
        (lambda a: corrections.add(a, "1042", "labour", {"hours": 1}, "Kim", note=7), "has no note 7: it has 1"),
        (lambda a: corrections.add(a, "1044", "labour", {"hours": 1}, "Kim"), "no job '1044'"),
        (lambda a: corrections.add(a, "1042", "labour", {"hours": 1}, "Kim", words="an hou"), "are not in note 1"),
        (lambda a: corrections.add(a, "1042", "labour", {"hours": 1}, "Kim", words="the"), "stand 5 times in note 1"),
        (lambda a: corrections.add(a, "1042", "labour", {"hours": 1}, "Kim", words=" "), "quote is empty"),
        (lambda a: corrections.add(a, "1042", "labour", {"hours": 0.5}, "Kim"), "Entry 9 says the same: accept"),
        (lambda a: corrections.answer(a, "1044", "q", "left", "Kim"), "no job '1044'"),
        (lambda a: corrections.answer(a, "1042", " ", "left", "Kim"), "question is empty"),
        (lambda a: corrections.answer(a, "1042", "q", "middle", "Kim", allowed=["left", "right"]),
         "The answer to 'q' cannot be 'middle': it is one of left, right"),
        (lambda a: corrections.answer(a, "1042", "q", "", "Kim"), "has no answer"),
        (lambda a: again.notes_to_read(a, "1044"), "no job '1044'"),
        (lambda a: again.read_again(a, 7), "no note 7"),
    ],
)  # fmt: skip
def test_bad_input_is_told_in_one_sentence_and_nothing_is_stored(archive, call, told):
    before = everything(archive)
    with pytest.raises(InputError) as problem:
        call(archive)
    assert told in str(problem.value)
    assert "\n" not in str(problem.value)
    assert everything(archive) == before


def test_a_job_without_notes_has_nothing_to_add_to(archive):
    archive.add("1043", [])
    with pytest.raises(InputError, match="Job 1043 has no note yet"):
        corrections.add(archive, "1043", "labour", {"hours": 1}, "Kim")


def test_the_same_decision_twice_is_told(archive):
    corrections.reject(archive, NO_PLAY, "Kim")
    corrections.accept(archive, ARM_BENT, "Kim")
    before = everything(archive)
    same = {"component": "wheel bearing", **FRONT_RIGHT, "condition": "play", "status": "absent"}
    for decide, told in (
        (lambda: corrections.reject(archive, NO_PLAY, "Lee"), r"already rejected by Kim on \d{4}-\d\d-\d\d: nothing"),
        (lambda: corrections.change(archive, NO_PLAY, {"side": "left"}, "Lee"), "rejected by Kim on .*accept it first"),
        (lambda: corrections.accept(archive, ARM_BENT, "Kim"), "already accepted by Kim"),
        (
            lambda: corrections.add(archive, "1042", "finding", same, "Lee"),
            f"{NO_PLAY} says the same and was rejected by",
        ),
    ):
        with pytest.raises(InputError, match=told):
            decide()
    assert everything(archive) == before
    # a second person may look as well
    assert corrections.accept(archive, ARM_BENT, "Lee")["decided"]["by"] == "Lee"


# --- two at once -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "decide",
    [
        lambda a, seen: corrections.accept(a, ARM_BENT, "Lee", seen=seen),
        lambda a, seen: corrections.change(a, ARM_BENT, {"side": "both"}, "Lee", seen=seen),
        lambda a, seen: corrections.reject(a, ARM_BENT, "Lee", seen=seen),
    ],
)
def test_the_later_of_two_is_told(archive, path, decide):
    with Archive(path) as other:
        looked_at = corrections.entry(other, ARM_BENT)["revision"]
        corrections.change(archive, ARM_BENT, {"side": "left"}, "Kim")
        before = everything(archive)
        with pytest.raises(
            InputError, match=r"changed \(side from right to left\) by Kim on .* since you looked at it"
        ):
            decide(other, looked_at)
        assert everything(archive) == before
        decide(other, corrections.entry(other, ARM_BENT)["revision"])


def test_extraction_again_in_between_is_told(archive):
    read = plain()
    read[0]["condition"] = "cracked"
    read_as(archive, read)
    with pytest.raises(InputError, match="read again by an extraction"):
        corrections.accept(archive, ARM_BENT, "Lee", seen=1)
    read_as(archive, read[1:])
    with pytest.raises(InputError, match="no longer given by an extraction"):
        corrections.accept(archive, ARM_BENT, "Lee", seen=2)


def test_two_programs_at_once_reject_once(archive, path):
    command = [*NOTELOG, "correct", "1", "--reject"]
    both = [
        subprocess.Popen([*command, "--by", who], stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True)
        for who in ("Kim", "Lee")
    ]
    told = {one.wait(): one.stderr.read() for one in both}
    for one in both:
        one.stderr.close()
    assert set(told) == {0, 2}
    assert "already rejected by" in told[2]
    assert len(corrections.history(archive, ARM_BENT)) == 2


# --- answers ---------------------------------------------------------------------------------------


def test_answers_the_newest_counts_and_all_are_kept(archive):
    first = corrections.answer(archive, "1042", "1/side", "left", "Kim", allowed=["left", "right"])
    corrections.answer(archive, "1042", "2/count", "2", "Kim", seen=0)
    corrections.answer(archive, "1042", "1/side", "right", "Lee", seen=first.id)
    given = corrections.answers(archive, " 1042 ")
    assert {question: (one.value, one.who) for question, one in given.items()} == {
        "1/side": ("right", "Lee"), "2/count": ("2", "Kim")}  # fmt: skip
    with pytest.raises(InputError, match=r"Lee answered 'right' on .* since you looked at '1/side'"):
        corrections.answer(archive, "1042", "1/side", "left", "Kim", seen=first.id)
    with pytest.raises(InputError, match="was answered 'right' by Lee already"):
        corrections.answer(archive, "1042", "1/side", "right", "Kim")
    corrections.answer(archive, "1042", "1/side", None, "Kim")
    assert list(corrections.answers(archive, "1042")) == ["2/count"]
    assert [one.value for one in corrections.answer_history(archive, "1042", "1/side")] == ["left", "right", None]
    archive.add("1043", [])
    assert corrections.answers(archive, "1043") == {}


def test_decisions_that_belong_together_are_stored_together_or_not_at_all(archive):
    def answer_and_change(side):
        with archive.writing():
            corrections.answer(archive, "1042", "1/side", side, "Kim")
            corrections.change(archive, ARM_BENT, {"side": side}, "Kim")

    before = everything(archive)
    with pytest.raises(InputError, match="has side right already"):
        answer_and_change("right")
    assert everything(archive) == before
    answer_and_change("left")
    assert corrections.answers(archive, "1042")["1/side"].value == "left"
    assert shown(archive)[ARM_BENT]["position"]["side"] == "left"


# --- extraction again ------------------------------------------------------------------------------


def test_the_same_extraction_again_changes_nothing(archive):
    corrections.change(archive, ARM_BENT, {"side": "left"}, "Kim")
    corrections.reject(archive, NO_PLAY, "Kim")
    corrections.add(archive, "1042", "labour", {"hours": 2}, "Kim")
    before = everything(archive)
    changes = read_as(archive, plain())
    assert not changes
    assert everything(archive) == before


def test_added_gone_and_changed_are_reported(archive):
    read = plain()
    read[0]["condition"] = "cracked"
    del read[7]
    read.append(finding(note(), "hub", "bent", "it wants a new one"))
    changes = read_as(archive, read)
    assert [(one["id"], one["component"]["label"]) for one in changes.added] == [(11, "hub")]
    assert [one["id"] for one in changes.gone] == [LOCK]
    assert [(one.before["id"], one.before["condition"], one.after["condition"]) for one in changes.changed] == [
        (ARM_BENT, "bent", "cracked")]  # fmt: skip
    assert changes.kept == []
    assert LOCK not in shown(archive)
    assert shown(archive)[ARM_BENT]["condition"] == "cracked"
    assert archive.find("thread lock")[0].entry is None
    with pytest.raises(InputError, match="already"):
        corrections.change(archive, ARM_BENT, {"condition": "cracked"}, "Kim")


def test_an_entry_that_is_read_again_after_it_was_gone_has_its_number_back(archive):
    read_as(archive, plain()[1:])
    changes = read_as(archive, plain())
    assert [one["id"] for one in changes.added] == [ARM_BENT]
    assert [e.what for e in corrections.history(archive, ARM_BENT)] == ["read", "dropped", "read"]
    assert list(shown(archive)) == list(range(1, 11))


def test_a_gone_entry_that_a_person_accepts_stands_again_for_good(archive):
    read_as(archive, plain()[1:])
    corrections.accept(archive, ARM_BENT, "Kim")
    assert not read_as(archive, plain()[1:])
    assert shown(archive)[ARM_BENT]["decided"]["by"] == "Kim"


def test_a_changed_entry_keeps_the_person_s_values_and_tells_the_new_reading(archive):
    corrections.change(archive, ARM_BENT, {"condition": "cracked"}, "Kim")
    read = plain()
    read[0]["condition"] = "corroded"
    changes = read_as(archive, read)
    assert (changes.added, changes.gone, changes.changed) == ([], [], [])
    assert [(one.before["id"], one.after["condition"]) for one in changes.kept] == [(ARM_BENT, "corroded")]
    entry = shown(archive)[ARM_BENT]
    assert (entry["condition"], entry["decided"]["reading"]["condition"]) == ("cracked", "corroded")
    # once a person decides anew, it is told no more
    corrections.accept(archive, ARM_BENT, "Lee")
    assert shown(archive)[ARM_BENT]["decided"]["reading"] is None


def test_what_a_person_put_right_is_not_read_beside_it_again(archive):
    corrections.change(archive, ARM_BENT, {"component": "strut", "condition": "cracked"}, "Kim")
    corrections.change(archive, PRICE, {"component": "strut", "amount": "90"}, "Kim")
    moved = plain()
    moved[0]["evidence"] = evidence(TEXT, "it wants a new one")
    for read in (plain(), moved, plain()[1:], plain()):
        assert not read_as(archive, read).added
        assert list(shown(archive)) == list(range(1, 11))


def test_a_reading_that_the_person_decided_against_is_not_told_again(archive):
    corrections.change(archive, ARM_BENT, {"condition": "cracked"}, "Kim")
    read = plain()
    read[0]["confidence"] = 0.31
    assert not read_as(archive, read)
    assert shown(archive)[ARM_BENT]["decided"]["reading"] is None


def test_a_decided_entry_that_is_read_no_more_stays(archive):
    corrections.accept(archive, ARM_BENT, "Kim")
    changes = read_as(archive, plain()[1:])
    assert [(one.before["id"], one.after) for one in changes.kept] == [(ARM_BENT, None)]
    assert ARM_BENT in shown(archive)
    assert not read_as(archive, plain()[1:])
    assert corrections.history(archive, ARM_BENT)[-1].what == "dropped"


def test_a_rejected_entry_does_not_come_back(archive):
    corrections.reject(archive, ARM_BENT, "Kim")
    moved = plain()
    moved[0]["evidence"] = evidence(TEXT, "The arm was 85 quid")
    more_known = plain()
    more_known[0]["position"]["depth"] = "inner"
    for read in (plain()[1:], plain(), moved, [*plain(), plain()[0]], more_known):
        changes = read_as(archive, read)
        assert (changes.added, changes.gone, changes.changed, changes.kept) == ([], [], [], [])
        assert ARM_BENT not in shown(archive)
        assert list(shown(archive)) == list(range(2, 11))


def test_another_statement_from_the_words_of_a_rejected_one_is_seen(archive):
    corrections.reject(archive, ARM_BENT, "Kim")
    for field, value in (("condition", "cracked"), ("status", "suspected"), ("component", named("lower arm bush"))):
        read = plain()
        read[0][field] = value
        read_as(archive, read)
        fresh = [entry for entry in shown(archive).values() if entry["id"] > 10]
        assert [entry[field] for entry in fresh] == [value]
    left = plain()
    left[0]["position"]["side"] = "left"
    read_as(archive, left)
    assert [entry["position"]["side"] for entry in shown(archive).values() if entry["id"] > 10] == ["left"]


def test_what_was_added_by_hand_and_is_read_later_stands_once(archive):
    made = corrections.add(archive, "1042", "material", {"material": "copper grease"}, "Kim")
    now_read = {"kind": "material", "material": made["material"] | {"said": "lock"}, "confidence": 0.9}
    changes = read_as(archive, [*plain(), now_read | {"evidence": evidence(TEXT, "Thread lock on")}])
    assert (changes.added, changes.kept) == ([], [])
    assert sum(entry["kind"] == "material" for entry in shown(archive).values()) == 2
    assert contract(shown(archive)[made["id"]]) == contract(made)


def test_what_a_person_changed_and_is_read_so_later_stands_once(archive):
    """The person's word is known again where the new extraction agrees with it, from other words even."""
    corrections.change(archive, ARM_BENT, {"component": "wheel hub", "condition": "cracked"}, "Kim")
    read = plain()
    read[0] |= {"component": shown(archive)[ARM_BENT]["component"], "condition": "cracked",
                "evidence": evidence(TEXT, "it wants a new one")}  # fmt: skip
    changes = read_as(archive, read)
    assert (changes.added, changes.gone, changes.kept) == ([], [], [])
    assert list(shown(archive)) == list(range(1, 11))


def test_unknown_words_that_the_lexicon_learns_are_the_same_entry(archive):
    read = plain()
    read[0]["component"] = named("flange plate", id="unknown")
    read_as(archive, read)
    (flange,) = [
        one["id"] for one in shown(archive).values() if one.get("component", {}) and one["component"]["id"] == "unknown"
    ]
    corrections.reject(archive, flange, "Kim")
    read[0]["component"] = named("mounting plate", "flange plate")
    assert not read_as(archive, read).added
    assert flange not in shown(archive)


def test_several_statements_of_one_stretch_of_words_are_told_apart():
    """Of two entries from the same words each is paired with what says the same, whatever their order."""
    of = note()
    words = "The lower arm is bent"
    two = plain(log(of, [finding(of, "hub", "cracked", words), finding(of, "lower arm", "bent", words)]))
    known = [matching.Known(7, "decided", (two[0],)), matching.Known(8, "open", (two[1],))]
    assert matching.match(known, two).pairs == {0: 7, 1: 8}
    assert matching.match(known, two[::-1]).pairs == {0: 8, 1: 7}


def test_a_note_that_cannot_be_read_again_is_left_as_it_was(archive):
    def refuse(stored):
        raise InputError("bay2.txt cannot be understood: mend it.")

    before = everything(archive)
    changes = again.read_again(archive, 1, refuse)
    assert changes.problem == "bay2.txt cannot be understood: mend it."
    assert everything(archive) == before


@pytest.mark.parametrize(
    ("data", "name"),
    [
        ("[0:05] both hubs are cracked\r\n[0:09] and the strut leaks".encode("utf-16"), "utf-16"),
        ("45° on the knuckle, it is bent".encode("cp1252"), "windows-1252"),
        (b"\xef\xbb\xbf1\n00:00:01,000 --> 00:00:02,000\nlower arm bent\n", "utf-8-sig"),
        ("½ inch nut, größer ".encode() * 3 + b"\xff the arm is bent", "utf-8"),
    ],
)
def test_a_stored_note_is_read_as_its_file_was(path, data, name):
    from notelog.reading import read_bytes

    first = read_bytes(data, "bay2.txt")
    assert first.encoding == name
    with Archive(path, create=True) as archive:
        archive.add("1042", [(first, log(first, [], first.warnings))])
        _, stored = archive.note(1)
    second = again.read_stored(stored)
    assert dataclasses.replace(second, encoding=name) == first


# --- every corrected entry survives any number of extractions --------------------------------------

WORDS = TEXT.split()
COMPONENTS = [
    None,
    named("hub"),
    named("lower arm", "arm"),
    named("lower arm bush", "arm"),
    named("plate", id="unknown"),
]


@st.composite
def spans(draw):
    start = draw(st.integers(0, 14))
    end = draw(st.integers(start + 1, 16))
    return evidence(TEXT, " ".join(WORDS[start:end])) | {"t_end": None}


def fields_read(kind):
    """What an extraction may give in each field of an entry of a kind."""
    own = {
        "finding": {"condition": ["bent", "cracked", "good"]},
        "part": {"state": ["needed", "ordered"], "count": [1, 2]},
        "fastener": {"type": ["bolt"], "size": [None, {"value": 18.0, "unit": "mm"}]},
    }[kind]
    common = {"component": COMPONENTS, "position": [{"side": side} for side in (None, "left", "right")]}
    drawn = {name: st.sampled_from(values) for name, values in (common | own).items()}
    return drawn | {"confidence": st.sampled_from([0.5, 0.9]), "evidence": spans()}


def readings():
    return st.one_of(
        [st.fixed_dictionaries({"kind": st.just(kind)} | fields_read(kind)) for kind in ("finding", "part", "fastener")]
    )


VALUES = {
    "finding": {"condition": ["bent", "cracked", "good", "torn"]},
    "part": {"state": ["needed", "ordered"], "count": ["1", "2"]},
    "fastener": {"drive": ["hex", "torx"], "size": ["", "18 mm"]},
}


@settings(max_examples=60, stateful_step_count=25, deadline=None, derandomize=True, suppress_health_check=list(HealthCheck))
class EveryDecisionSurvives(RuleBasedStateMachine):
    """Extractions that keep, change, move, drop, double and invent entries, and people who decide in between.

    `decided` is what a person left, by the number of the entry: nothing but another decision may change it.
    """

    @initialize(first=st.lists(readings(), min_size=1, max_size=5))
    def store(self, first):
        self.folder = tempfile.TemporaryDirectory()
        self.archive = Archive(Path(self.folder.name) / "jobs.sqlite", create=True)
        self.archive.connection.execute("PRAGMA synchronous = OFF")
        self.archive.add("1042", [(note(), log(note(), first))])
        self.read = plain(log(note(), first))
        self.decided, self.kept, self.ids = {}, [], set()

    def teardown(self):
        if hasattr(self, "archive"):
            self.archive.close()
            self.folder.cleanup()

    def rows(self):
        return {row["id"]: row for row in self.archive.connection.execute("SELECT * FROM entries")}

    def some(self, data, *standings):
        found = [entry_id for entry_id, row in self.rows().items() if row["standing"] in standings]
        return data.draw(st.sampled_from(sorted(found))) if found else None

    @rule(data=st.data())
    def accept(self, data):
        if entry_id := self.some(data, "open", "rejected", "gone"):
            self.decided[entry_id] = "decided", contract(corrections.accept(self.archive, entry_id, "Kim"))

    @rule(data=st.data())
    def reject(self, data):
        if entry_id := self.some(data, "open", "decided", "gone"):
            self.decided[entry_id] = "rejected", contract(corrections.reject(self.archive, entry_id, "Kim"))

    @rule(
        data=st.data(), component=st.sampled_from(["", "hub", "lower arm"]), side=st.sampled_from(["", "left", "both"])
    )
    def change(self, data, component, side):
        if not (entry_id := self.some(data, "open", "decided", "gone")):
            return
        kind = self.rows()[entry_id]["kind"]
        own = {name: data.draw(st.sampled_from(values)) for name, values in VALUES[kind].items()}
        try:
            made = corrections.change(self.archive, entry_id, {"component": component, "side": side, **own}, "Kim")
        except InputError as problem:
            assert "already: accept it" in str(problem)
            return
        assert (made["position"]["side"] or "") == side
        self.decided[entry_id] = "decided", contract(made)

    @rule(condition=st.sampled_from(["bent", "cracked"]), words=st.sampled_from([None, "lower arm is bent", "18 mil"]))
    def add(self, condition, words):
        try:
            made = corrections.add(
                self.archive, "1042", "finding", {"component": "hub", "condition": condition}, "Kim", words=words
            )
        except InputError as problem:
            assert "says the same" in str(problem)
            return
        self.decided[made["id"]] = "decided", contract(made)

    @rule(data=st.data(), fresh=st.lists(readings(), max_size=2), times=st.integers(1, 2))
    def read_again(self, data, fresh, times):
        read = list(fresh)
        for entry in self.read:
            what = data.draw(st.sampled_from(["same", "moved", "changed", "dropped", "doubled"]))
            if what == "moved":
                entry = entry | {"evidence": data.draw(spans())}
            elif what == "changed":
                drawn = fields_read(entry["kind"])
                name = data.draw(st.sampled_from(sorted(drawn)))
                entry = entry | {name: data.draw(drawn[name])}
            read += [entry] * {"dropped": 0, "doubled": 2}.get(what, 1)
        self.read = plain(log(note(), sorted(read, key=lambda one: one["evidence"]["start"])[:8]))
        before = self.rows()
        changes = read_as(self.archive, self.read)
        self.check_report(before, changes)
        for _ in range(times):
            assert not read_as(self.archive, self.read)

    def check_report(self, before, changes):
        after = self.rows()
        open_before, open_now = (
            {entry_id: json.loads(row["payload"]) for entry_id, row in state.items() if row["standing"] == "open"}
            for state in (before, after)
        )
        # what is open is what was read and no decided entry stands for, word for word, each reading once
        left = [json.dumps(entry, sort_keys=True) for entry in self.read]
        for payload in open_now.values():
            left.remove(json.dumps(payload, sort_keys=True))
        # what is left over was read for an entry that a person decided, or says what such an entry says or said
        faces = set()
        for entry_id in self.decided:
            faces.add(matching.statement(json.loads(after[entry_id]["payload"])))
            for event in corrections.history(self.archive, entry_id):
                if event.what == "read":
                    faces.add(matching.statement(event.new))
        assert all(matching.statement(json.loads(entry)) in faces for entry in left)
        # what a person decided about comes back beside it under no other number
        for entry_id, payload in open_now.items():
            if entry_id not in open_before or matching.statement(open_before[entry_id]) != matching.statement(payload):
                assert matching.statement(payload) not in faces
        # the report tells of every difference
        assert {one["id"] for one in changes.added} == set(open_now) - set(open_before)
        assert {one["id"] for one in changes.gone} == set(open_before) - set(open_now)
        assert {one.before["id"] for one in changes.changed} == {
            entry_id
            for entry_id in set(open_now) & set(open_before)
            if fields.differences(open_before[entry_id], open_now[entry_id])
        }
        assert all(self.decided[one.before["id"]] == ("decided", contract(one.before)) for one in changes.kept)

    @precondition(lambda self: hasattr(self, "archive"))
    @invariant()
    def decisions_stand(self):
        state = self.rows()
        for entry_id, (stands, payload) in self.decided.items():
            assert (state[entry_id]["standing"], json.loads(state[entry_id]["payload"])) == (stands, payload)
        (stored,) = self.archive.job("1042", rejected=True).notes
        for entry in stored.entries:
            assert (entry["decided"] is not None) == (entry["id"] in self.decided)
        (stored,) = self.archive.job("1042").notes
        assert {entry["id"] for entry in stored.entries} == {
            entry_id for entry_id, row in state.items() if row["standing"] in ("open", "decided")
        }
        # no number is ever taken away or given anew, and no correction
        assert self.ids <= set(state)
        self.ids = set(state)
        made = [tuple(row) for row in self.archive.connection.execute("SELECT * FROM corrections ORDER BY id")]
        assert made[: len(self.kept)] == self.kept
        self.kept = made

    @precondition(lambda self: hasattr(self, "archive"))
    @invariant()
    def history_leads_to_what_stands(self):
        """An entry is what comes out when its history is told from the beginning."""
        for entry_id, row in self.rows().items():
            told, by_person = {}, False
            for event in corrections.history(self.archive, entry_id):
                match event.what:
                    case "added":
                        told, by_person = event.new, True
                    case "changed":
                        by_person = True
                        inner = told["position"] if event.field in ("side", "axle", "level", "depth") else told
                        assert inner[event.field] == event.old
                        inner[event.field] = event.new
                    case "accepted":
                        by_person = True
                        assert told == event.new
                    case "rejected":
                        by_person = True
                        assert told == event.old
                    case "read" if not by_person:
                        told = event.new
            assert told == json.loads(row["payload"])
            assert corrections.history(self.archive, entry_id)[-1].revision == row["revision"]


TestEveryDecisionSurvives = EveryDecisionSurvives.TestCase


# --- again: progress, interruption, a newer lexicon ------------------------------------------------


@pytest.fixture
def three_notes(path, tmp_path, run):
    for number, words in enumerate(("The hub is cracked.", "The lower arm is bent.", "New strut ordered.")):
        file = tmp_path / f"{number}.txt"
        file.write_text(words)
        run("add", file, "--job", f"104{number}", "--driver-side", "left")
    return path


def test_a_note_that_was_just_added_need_not_be_read_again(three_notes, run):
    assert "Every note was read with this lexicon and program already" in run("again", "--all").out
    assert json.loads(run("again", "--all", "--json").out) == []
    out = run("again", "--all", "--anyway").out
    assert "3 notes read again: 0 added, 0 gone, 0 changed, 0 kept" in out


def test_again_goes_on_where_it_was_interrupted(three_notes, run, monkeypatch):
    monkeypatch.setattr(again, "reader", lambda shop_file=None: "newer")
    really, calls = again.log_stored, []

    def interrupted(stored, lexicon=None):
        calls.append(stored.id)
        if len(calls) == 2:
            raise KeyboardInterrupt
        return really(stored)

    monkeypatch.setattr(again, "log_stored", interrupted)
    told = run("again", "--all", code=130)
    assert "1 of 3 notes read again; the same command goes on with the others" in told.err
    with Archive(three_notes) as archive:
        assert again.notes_to_read(archive) == [2, 3]
    assert "2 notes read again" in run("again", "--all").out
    assert calls == [1, 2, 2, 3]
    assert "already" in run("again", "1041").out


def test_a_note_is_renewed_whole_or_not_at_all(archive, monkeypatch):
    before = everything(archive)

    def broken(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(corrections, "put_in_order", broken)
    with pytest.raises(KeyboardInterrupt):
        read_as(archive, plain()[3:])
    assert everything(archive) == before


def test_one_job_is_read_again_and_the_others_are_not(three_notes, run, monkeypatch):
    monkeypatch.setattr(again, "reader", lambda shop_file=None: "newer")
    (changes,) = json.loads(run("again", "1041", "--json").out)
    assert (changes["job"], changes["note"], changes["problem"]) == ("1041", 2, None)
    with Archive(three_notes) as archive:
        assert again.notes_to_read(archive) == [1, 3]


def test_a_note_that_cannot_be_read_again_is_told_after_the_others(three_notes, run, monkeypatch):
    really = again.log_stored

    def refuse(stored, lexicon=None):
        if stored.id == 2:
            raise InputError("1.txt is no note: mend it.")
        return really(stored)

    monkeypatch.setattr(again, "log_stored", refuse)
    told = run("again", "--all", "--anyway", code=2)
    assert "2 notes read again" in told.out
    assert told.err == (
        "notelog: 1 note could not be read again, the first one (note 2 of job 1041) since: 1.txt is no note: mend "
        "it.\n"
    )


@pytest.mark.parametrize("arguments", [[], ["1042", "--all"]])
def test_again_needs_to_know_what(archive, run, arguments):
    assert "either the reference of a job, or --all" in run("again", *arguments, code=2).err


def test_a_newer_lexicon(path, tmp_path, run):
    """A component that the lexicon learns, from the checkout's own files: what was decided before stays."""
    file = tmp_path / "bay2.txt"
    file.write_text("The signal gantry is bent. The lower arm is cracked.")
    run("add", file, "--job", "1042")
    entries = json.loads(run("job", "1042", "--json").out)["notes"][0]["entries"]
    (gantry,) = [one for one in entries if one["condition"] == "bent"]
    (arm,) = [one for one in entries if one["condition"] == "cracked"]
    assert gantry["component"]["label"] == "signal gantry"
    run("correct", arm["id"], "side=left", "--by", "Kim")
    house = tmp_path / "newer"
    shutil.copytree(Path(notelog.__file__).parent, house / "notelog", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copytree(data_folder("lexicon"), house / "lexicon", dirs_exist_ok=True)
    learned = house / "lexicon" / "components" / "steering.csv"
    learned.write_text(learned.read_text(encoding="utf-8") + "signal_gantry,signal gantry,,,,,steering,,yes\n", "utf-8")

    def newer(*arguments):
        done = subprocess.run([*NOTELOG, *arguments], cwd=house, capture_output=True, text=True, check=True)
        return json.loads(done.stdout)

    (changes,) = newer("again", "--all", "--json")
    assert (changes["added"], changes["gone"], changes["kept"]) == ([], [], [])
    assert [
        (one["before"]["id"], one["before"]["component"]["id"], one["after"]["component"]["id"])
        for one in changes["changed"]
    ] == [(gantry["id"], "unknown", "signal_gantry")]
    assert newer("again", "--all", "--json") == []
    now = {one["id"]: one for one in newer("job", "1042", "--json")["notes"][0]["entries"]}
    assert now[arm["id"]]["position"]["side"] == "left"
    read_with = [event["read_with"] for event in newer("history", str(gantry["id"]), "--json")["events"]]
    assert len(set(read_with)) == 2


# --- the command line ------------------------------------------------------------------------------


def test_correct_tells_what_was_stored(archive, run):
    out = run("correct", 1, "side=left", "level=", "--by", "Kim", "--because", "seen from behind").out
    assert out.splitlines() == [
        "Entry 1: lower arm: bent, front left [side, level changed by Kim]",
        "  side changed from right to left",
        "  level changed from lower to empty",
    ]
    out = run("correct", 1, "side=both", "--by", "Lee").out
    assert "side changed from left to both (which Kim had set on " in out
    out = run("correct", 1, "--reject", "--by", "Jo").out
    assert out.startswith(
        "Entry 1: lower arm: bent, front both [rejected by Jo]\n  it was side, level changed by Lee on"
    )
    made = json.loads(run("correct", 2, "--accept", "--by", "Kim", "--json").out)
    assert (made["id"], made["kind"], made["decided"]["what"]) == (2, "part", "accepted")


def test_correct_adds_and_answers(archive, run):
    out = run("correct", "--add", "part", "--job", "1042", "component=drop link", "state=on hand", "count=2", "--quote",
              "the breaker bar", "--by", "Kim").out  # fmt: skip
    assert out == "Entry 11: 2 x anti-roll bar link: on hand [added by Kim]\n"
    assert run("correct", "--answer", "1/side", "left", "--job", "1042", "--by", "Kim").out == (
        "1/side: answered 'left' by Kim\n"
    )
    assert "taken back" in run("correct", "--answer", "1/side", "", "--job", "1042", "--by", "Kim").out


def test_who_decides_is_who_is_logged_in(archive, run, monkeypatch):
    monkeypatch.setenv("LOGNAME", "bay two")
    run("correct", 1, "--accept")
    assert corrections.history(archive, 1)[-1].who == "bay two"


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        ([], "one thing at a time"),
        (["1"], "one thing at a time"),
        (["1", "--accept", "--reject"], "one thing at a time"),
        (["1", "side=left", "--accept"], "one thing at a time"),
        (["--accept"], "Give the number of the entry"),
        (["side=left"], "Give the number of the entry"),
        (["one", "--accept"], "'one' is no number of an entry"),
        (["-1", "--accept"], None),
        (["1", "left"], "'left' is no FIELD=VALUE"),
        (["1", "side=left", "side=right"], "'side' is given twice"),
        (["1", "side=middle"], "one of left, right or both"),
        (["1", "=left"], "no field ''"),
        (["99", "--accept"], "no entry 99"),
        (["1", "--accept", "--by", ""], "Nobody is named"),
        (["1", "--accept", "--job", "1042"], "needs no --job"),
        (["1", "side=left", "--seen", "2"], "has the revision 1 and not 2"),
        (["--add", "part", "state=needed"], "Name the job"),
        (["--add", "part", "1", "state=needed", "--job", "1042"], "'1' is no FIELD=VALUE"),
        (["1", "--answer", "q", "left", "--job", "1042"], "is there already"),
        (["--answer", "q", "left"], "Name the job"),
    ],
)
def test_correct_refuses_in_one_sentence(archive, run, arguments, told):
    before = everything(archive)
    done = run("correct", *arguments, code=2)
    assert done.out == ""
    if told:
        assert done.err.startswith("notelog: ")
        assert done.err.count("\n") == 1
        assert told in done.err
    assert everything(archive) == before


def test_history_is_printed(archive, run):
    corrections.change(archive, 1, {"side": "left"}, "Kim", why="seen from behind")
    read = plain()
    read[0]["condition"] = "cracked"
    read_as(archive, read)
    lines = run("history", 1).out.splitlines()
    assert lines[0] == "Entry 1  lower arm: bent, front left lower  decided"
    told = [line.split(maxsplit=3) for line in lines[3:]]
    assert [(one[0], one[3].split()[0]) for one in told] == [("1", "extraction"), ("2", "Kim"), ("3", "extraction")]
    assert "side changed from right to left" in lines[4]
    assert lines[4].rstrip().endswith("seen from behind")
    assert "(condition: bent to cracked)" in lines[5]
    kept = json.loads(run("history", 1, "--json").out)
    assert (kept["standing"], [event["what"] for event in kept["events"]]) == ("decided", ["read", "changed", "read"])
    assert "no entry 99" in run("history", 99, code=2).err
    assert "no number" in run("history", "x", code=2).err


def test_job_find_and_export_show_what_people_decided(archive, run):
    run("correct", 1, "condition=cracked", "--by", "Kim")
    run("correct", 3, "--reject", "--by", "Kim")
    run("correct", "--add", "labour", "--job", "1042", "hours=2", "--by", "Lee")
    out = " ".join(run("job", "1042").out.split())
    assert "lower arm: cracked [condition changed by Kim]" in out
    assert "2 h [added by Lee]" in out
    assert "play (absent)" not in out
    assert "play (absent) [rejected by Kim]" in " ".join(run("job", "1042", "--rejected").out.split())
    assert "lower arm: cracked [condition changed by Kim]" in run("find", "cracked").out
    assert "rejected by Kim" in run("find", "no play", "--rejected").out
    assert "play (absent)" not in run("find", "no play").out
    for more, count in (([], 10), (["--rejected"], 11)):
        kept = json.loads(run("export", "1042", "--to", "json", *more).out)["job"]["notes"][0]["entries"]
        assert len(kept) == count
        lines = run("export", "1042", "--to", "csv", *more).out.splitlines()
        assert len(lines) == count + 1
    table = {line["entry"]: line for line in csv.DictReader(lines)}
    cells = ("decision", "decided_by", "changed_fields", "condition", "by_hand")
    assert [table["1"][name] for name in cells] == ["changed", "Kim", "condition", "cracked", ""]
    assert [table["11"][name] for name in cells] == ["added", "Lee", "", "", "yes"]
    assert [table[number]["decision"] for number in ("2", "3")] == ["", "rejected"]


def test_a_new_reading_of_what_a_person_decided_is_shown(archive, run, monkeypatch):
    monkeypatch.setenv("COLUMNS", "300")
    corrections.accept(archive, 1, "Kim")
    read = plain()
    read[0]["condition"] = "cracked"
    read[0]["position"]["side"] = "left"
    read_as(archive, read)
    out = " ".join(run("job", "1042").out.split())
    assert "lower arm: bent [accepted by Kim; now read as: lower arm: cracked, front left lower]" in out


def test_again_prints_what_changed(archive, run, monkeypatch):
    corrections.accept(archive, 2, "Kim")
    read = plain()
    read[0]["condition"] = "cracked"
    del read[1], read[6]
    monkeypatch.setattr(again, "log_stored", lambda stored, lexicon=None: log(note(), read))
    out = run("again", "1042").out
    lines = [" ".join(line.split()) for line in out.splitlines()[2:]]
    assert lines == [
        "1042 bay2.txt 8 gone thread lock",
        "1042 bay2.txt 1 changed lower arm: cracked, front right lower condition: bent to cracked",
        "1042 bay2.txt 2 kept lower arm: needed, front right [accepted by Kim] no longer read",
        "1 note read again: 0 added, 1 gone, 1 changed, 1 kept",
    ]


def test_nothing_of_the_archive_is_lost_by_all_this(archive):
    before = rows(archive)
    corrections.reject(archive, 1, "Kim")
    read_as(archive, plain()[5:])
    assert rows(archive) == before


@pytest.mark.parametrize("unit", ["Nm", "lbft", "V", "C", "mm"])
def test_every_unit_can_be_given_as_it_is_written(unit):
    from notelog.archive.fields import parsed

    assert parsed("measurement", {"unit": unit}) == {"unit": unit}


def test_a_torque_below_nothing_is_refused():
    from notelog.archive.fields import validated

    with pytest.raises(InputError, match="A torque of -115 cannot be meant"):
        validated({"kind": "measurement", "quantity": "torque", "low": -115.0, "high": 115.0, "unit": "Nm"})
