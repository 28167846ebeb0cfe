"""Answers to the ledger's questions: what an answer says of an entry goes into it, as a correction that a person made."""

import json

import pytest
from handmade import log, named, note

from notelog.archive import Archive, again, answering, corrections, ledgers
from notelog.archive.standing import contract, what_is_said
from notelog.errors import InputError
from notelog.job import ledger
from notelog.job.questions import FIELDS, NO_PART, SOMETHING_ELSE

TEXT = "The strut is bent. Took it off. Needs u-bolts. The wibble plate is cracked. Undid the 80 mil bolt."
SIDE, OFF, BOLTS, PLATE, SIZE = range(1, 6)
"""The entries of the note, by number: each has something that the ledger asks about."""


def entries(of):
    def at(words):
        start = of.text.index(words)
        return {"start": start, "end": start + len(words), "text": words}

    arm, it = named("lower arm"), named("lower arm", "it")
    return [
        {"kind": "finding", "component": named("strut"), "condition": "bent", "evidence": at("The strut is bent")},
        {"kind": "operation", "component": it, "action": "remove", "evidence": at("Took it off"), "confidence": 0.6,
         "position": {"side": "left"}},
        {"kind": "part", "component": named("u-bolt", "u-bolts", "u_bolt"), "state": "needed", "evidence": at("Needs u-bolts"),
         "position": {"axle": "rear"}},
        {"kind": "finding", "component": named("wibble plate", id="unknown"), "condition": "cracked",
         "evidence": at("The wibble plate is cracked"), "position": {"side": "left"}},
        {"kind": "fastener", "type": "bolt", "size": {"value": 80, "unit": "mm"}, "evidence": at("80 mil bolt"), "component": arm},
    ]  # fmt: skip


@pytest.fixture
def archive(path):
    with Archive(path, create=True) as archive:
        of = note(TEXT)
        archive.add("1042", [(of, log(of, entries(of)))])
        yield archive


def asked(archive):
    job = archive.job("1042")
    made = ledger(ledgers.job_notes(job), answered=ledgers.answered(archive, "1042"))
    return {question.id: question for question in made.questions}


def answer(archive, question, value, who="Kim"):
    return corrections.answer(archive, "1042", question, value, who)


def entry(archive, number):
    return corrections.entry(archive, number)


def everything(archive):
    return [line for line in archive.connection.iterdump() if "_fts" not in line]


# --- what is changed -------------------------------------------------------------------------------


def test_every_question_that_is_asked_is_about_an_entry(archive):
    found = asked(archive)
    assert {"side_missing:1", "unclear_it:2", "count_missing:3", "unknown_part:4", "odd_size:5"} <= set(found)
    for question in found.values():
        name, number = answering.asked_about(question.id)
        assert FIELDS[question.kind] == question.field
        assert question.field.endswith(name) and str(number) == question.entry


@pytest.mark.parametrize(
    ("question", "value", "field", "now"),
    [
        ("side_missing:1", "left", "position", {"side": "left", "axle": None, "level": None, "depth": None}),
        ("side_missing:1", "Both", "position", {"side": "both", "axle": None, "level": None, "depth": None}),
        ("count_missing:3", "4", "count", 4),
        ("unclear_it:2", "hub", "component", {"id": "hub", "label": "hub", "said": "it"}),
        ("unclear_it:2", SOMETHING_ELSE, "component", None),
        ("unknown_part:4", "drop link", "component", {"id": "anti_roll_bar_link", "label": "anti-roll bar link", "said": "wibble plate"}),
        ("unknown_part:4", "wobble plate", "component", {"id": "unknown", "label": "wobble plate", "said": "wibble plate"}),
        ("odd_size:5", "18 mm", "size", {"value": 18.0, "unit": "mm"}),
        ("odd_size:5", "8 mm hexagon key, M10 (ISO 4762)", "size", {"value": 8.0, "unit": "mm"}),
        ("odd_size:5", "M8 across flats", "size", {"value": 8.0, "unit": "M"}),
    ],
)  # fmt: skip
def test_an_answer_that_says_something_else_puts_the_entry_right(archive, question, value, field, now):
    number = answering.asked_about(question)[1]
    before = entry(archive, number)
    made = answer(archive, question, value)
    after = entry(archive, number)
    assert after[field] == now
    assert made.entry == after and made.left == ""
    assert contract(after) == {**contract(before), field: now}
    [event] = made.changed
    assert (event.what, event.who, event.why) == ("changed", "Kim", f"answer to {question}")
    assert corrections.history(archive, number)[-1] == event
    assert question not in asked(archive)


@pytest.mark.parametrize(
    ("question", "value"),
    [
        ("unclear_it:2", "Lower arm"), ("unknown_part:4", "wibble plate"), ("odd_size:5", "80 mm"),
        ("side_missing:1", "not known"), ("count_missing:3", "not known"), ("odd_size:5", "Not known"),
    ],
)  # fmt: skip
def test_an_answer_that_says_the_same_or_that_nobody_knows_changes_nothing(archive, question, value):
    before = archive.job("1042")
    made = answer(archive, question, value)
    assert (made.changed, made.left) == ([], "")
    assert archive.job("1042") == before
    assert question not in asked(archive)


def test_words_that_are_no_part_are_rejected(archive):
    assert NO_PART in asked(archive)["unknown_part:4"].options
    made = answer(archive, "unknown_part:4", NO_PART)
    assert [event.what for event in made.changed] == ["rejected"]
    assert PLATE not in [one["id"] for one in archive.job("1042").notes[0].entries]
    # It was a part after all.
    made = answer(archive, "unknown_part:4", "drop link", "Lee")
    assert [event.what for event in made.changed] == ["accepted", "changed"]
    assert entry(archive, PLATE)["component"]["id"] == "anti_roll_bar_link"


@pytest.mark.parametrize(
    "told",
    [
        {"kind": "cost", "amount": 65.0, "currency": "GBP"},
        {"kind": "measurement", "quantity": "length", "low": 22.0, "high": 22.0, "unit": "mm"},
        {"kind": "fastener", "type": "bolt", "size": {"value": 18, "unit": "mm"}},
    ],
)
def test_a_figure_stays_when_the_words_beside_it_are_no_part(path, told):
    of = note("Second hand, that one, and we know it.")
    words = {"start": 0, "end": 11, "text": "Second hand"}
    with Archive(path, create=True) as archive:
        archive.add("1042", [(of, log(of, [{**told, "component": named("second hand", id="unknown"), "evidence": words}]))])
        made = answer(archive, "unknown_part:1", NO_PART)
        assert [(event.what, event.field) for event in made.changed] == [("changed", "component")]
        (now,) = archive.job("1042").notes[0].entries
        assert now["component"] is None and {**now, **told} == now
        assert asked(archive) == {}


@pytest.mark.parametrize(
    ("value", "damaged"),
    [("drop link", ["anti-roll bar link"]), ("wibble plate", ["wibble plate"]), ("wobble plate", ["wobble plate"])],
)
def test_what_a_word_means_is_asked_once_for_the_job(path, value, damaged):
    words = ("The wibble plate is cracked.", "Looked again: wibble plate is bent and the wibble plate is rusty.")
    with Archive(path, create=True) as archive:
        for text in words:
            of = note(text)
            archive.add("1042", [(of, log(of, [
                {"kind": "finding", "component": named("wibble plate", id="unknown"), "condition": condition,
                 "position": {"side": "left"},
                 "evidence": {"start": (at := text.index(said)), "end": at + len(said), "text": said}}
                for condition, said in (("cracked", "cracked"), ("bent", "bent"), ("corroded", "rusty")) if said in text
            ]))])  # fmt: skip
        assert [one for one in asked(archive) if one.startswith("unknown")] == ["unknown_part:1"]
        answer(archive, "unknown_part:1", value)
        assert asked(archive) == {}
        made = ledger(ledgers.job_notes(archive.job("1042")))
        assert [line.component.label for line in made.damage] == damaged
        assert [one.condition for one in made.damage[0].conditions] == ["cracked", "bent", "corroded"]


def test_an_answer_to_one_question_leaves_the_others_to_be_asked(archive):
    before = asked(archive)
    answer(archive, "count_missing:3", "4")
    assert set(before) - set(asked(archive)) == {"count_missing:3"}
    shown = entry(archive, BOLTS)["decided"]
    assert (shown["what"], shown["fields"], shown["by_answer"]) == ("changed", ["count"], True)
    corrections.change(archive, BOLTS, {"state": "ordered"}, "Kim")
    assert entry(archive, BOLTS)["decided"]["by_answer"] is False


def test_a_newer_answer_takes_the_place_of_an_older_one(archive):
    answer(archive, "side_missing:1", "left")
    made = answer(archive, "side_missing:1", "right", "Lee")
    assert [(event.old, event.new, event.who) for event in made.changed] == [("left", "right", "Lee")]
    assert entry(archive, SIDE)["position"]["side"] == "right"


@pytest.mark.parametrize(
    ("question", "values"),
    [
        ("side_missing:1", ["left"]), ("side_missing:1", ["left", "right"]), ("unclear_it:2", ["hub", SOMETHING_ELSE]),
        ("unknown_part:4", ["drop link"]), ("unknown_part:4", [NO_PART]), ("odd_size:5", ["18 mm"]), ("count_missing:3", ["4"]),
    ],
)  # fmt: skip
def test_an_answer_that_is_taken_back_takes_its_correction_back(archive, question, values):
    number = answering.asked_about(question)[1]
    before = what_is_said(entry(archive, number))
    for value in values:
        answer(archive, question, value)
    answer(archive, question, "")
    assert what_is_said(entry(archive, number)) == before
    assert number in [one["id"] for one in archive.job("1042").notes[0].entries]
    assert question in asked(archive)


def test_what_an_answer_put_right_stands_when_the_note_is_read_again(archive):
    answer(archive, "side_missing:1", "left")
    of = note(TEXT)
    again.read_again(archive, 1, lambda stored: log(of, entries(of)))
    assert entry(archive, SIDE)["position"]["side"] == "left"


# --- what is left ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("decide", "told"),
    [
        (lambda a: corrections.change(a, SIDE, {"side": "right"}, "Lee"), "the side was set by Lee on "),
        (lambda a: corrections.accept(a, SIDE, "Lee"), "the entry was accepted by Lee on "),
        (lambda a: corrections.reject(a, SIDE, "Lee"), "the entry was rejected by Lee on "),
    ],
    ids=["set", "accepted", "rejected"],
)
def test_what_a_person_decided_is_never_changed_by_an_answer(archive, decide, told):
    decide(archive)
    before = entry(archive, SIDE)
    made = answer(archive, "side_missing:1", "left")
    assert made.left.startswith(told) and made.changed == []
    assert entry(archive, SIDE) == before
    assert corrections.answers(archive, "1042")["side_missing:1"].value == "left"
    answer(archive, "side_missing:1", "")
    assert entry(archive, SIDE) == before


def test_what_a_person_set_after_an_answer_is_left_as_well(archive):
    answer(archive, "side_missing:1", "left")
    corrections.change(archive, SIDE, {"side": "both"}, "Lee")
    for value in ("right", ""):
        answer(archive, "side_missing:1", value)
        assert entry(archive, SIDE)["position"]["side"] == "both"


def test_another_field_that_a_person_set_is_kept(archive):
    corrections.change(archive, SIDE, {"condition": "cracked"}, "Lee")
    answer(archive, "side_missing:1", "left")
    now = entry(archive, SIDE)
    assert (now["condition"], now["position"]["side"]) == ("cracked", "left")


@pytest.mark.parametrize(
    ("question", "value", "told"),
    [
        ("side_missing:1", "middle", "The side cannot be 'middle': it is one of left, right or both."),
        ("count_missing:3", "some", "The count cannot be 'some': it is a whole number from 1 to 9999."),
        ("odd_size:5", "big", "The size cannot be 'big'"),
    ],
)
def test_an_answer_that_the_field_cannot_have_is_refused_and_nothing_is_stored(archive, question, value, told):
    before = everything(archive)
    with pytest.raises(InputError) as refused:
        answer(archive, question, value)
    assert told in str(refused.value)
    assert everything(archive) == before


def test_an_answer_about_an_entry_of_another_job_or_of_none_is_only_kept(archive):
    of = note("The hub is bent.")
    archive.add("1043", [(of, log(of, []))])
    before = archive.job("1042")
    for question in ("side_missing:1", "side_missing:999", "how many", "side_missing:0", "colour_missing:1"):
        made = corrections.answer(archive, "1043", question, "left", "Kim")
        assert made.entry is None and made.changed == []
    assert archive.job("1042") == before


def test_answer_and_change_are_stored_together_or_not_at_all(archive, monkeypatch):
    before = everything(archive)

    def fail(*_, **__):
        raise InputError("no")

    monkeypatch.setattr(corrections, "change", fail)
    with pytest.raises(InputError):
        answer(archive, "side_missing:1", "left")
    assert everything(archive) == before


# --- the command -----------------------------------------------------------------------------------


def test_the_command_tells_what_the_answer_changed(archive, run):
    def told(question, value, by="Kim"):
        return run("correct", "--answer", question, value, "--job", "1042", "--by", by).out

    assert told("side_missing:1", "left") == (
        "side_missing:1: answered 'left' by Kim\n"
        "  entry 1: strut: bent, left\n"
        "    side changed from empty to left\n"
    )  # fmt: skip
    assert told("unclear_it:2", "lower arm") == "unclear_it:2: answered 'lower arm' by Kim\n"
    assert "say which part it is with: notelog correct 2 component=NAME" in told("unclear_it:2", SOMETHING_ELSE)
    run("correct", 3, "count=2", "--by", "Lee")
    assert "  entry 3 is left as it is: the count was set by Lee on " in told("count_missing:3", "4")
    assert "answer to side_missing:1" in run("history", 1).out
    made = json.loads(run("correct", "--answer", "odd_size:5", "18 mm", "--job", "1042", "--by", "Kim", "--json").out)
    assert made["entry"]["size"] == {"value": 18.0, "unit": "mm"}
    assert [(one["field"], one["what"]) for one in made["changed"]] == [("size", "changed")]


def test_the_command_refuses_in_one_sentence(archive, run):
    err = run("correct", "--answer", "side_missing:1", "middle", "--job", "1042", "--by", "Kim", code=2).err
    assert err == "notelog: The side cannot be 'middle': it is one of left, right or both.\n"
