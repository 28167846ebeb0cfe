"""The ledger of a job: against gold ledgers written by hand, against oracles, and against published values."""

import itertools
import json
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import notelog
from notelog.errors import InputError
from notelog.job import JobNote, Limits, ledger, read_limits
from notelog.job.rules import rules_of
from notelog.lexicon import load
from notelog.lexicon.words import normal
from notelog.scoring import maximum_matching

JOBS = sorted((Path(__file__).parent / "ledgers").glob("job-*.json"))
SECTIONS = ("parts_to_buy", "loose_ends", "nothing_ordered")
LEXICON = load()


# --- gold ledgers ----------------------------------------------------------------------------------


def one_of(value, choice):
    """A gold value, or the chosen one of those that are right."""
    return value[choice] if isinstance(value, list) else value


def named(value):
    """The component of a gold entry: the first of its names that the lexicon knows."""
    names = [name for name in (value if isinstance(value, list) else [value]) if name]
    if not names:
        return None
    term = next((term for name in names if (term := LEXICON.find(name))), None)
    return {"id": term.id if term else "unknown", "label": term.label if term else names[0], "said": names[0]}


def entry_of(gold, number, choice):
    """A gold entry as a log entry; its evidence is no more than its place in the note."""
    fields = {key: one_of(value, choice) for key, value in gold.items() if key not in ("component", "tool", "material")}
    for key in ("component", "tool", "material"):
        if key in gold:
            fields[key] = named(gold[key])
    return {**fields, "evidence": {"start": number, "end": number + 1, "text": "x"}, "confidence": 1.0}


def gold_notes(job, choice):
    return [
        JobNote(
            id=str(number),
            when=note["when"],
            author=note["author"],
            driver_side=job["driver_side"],
            entries=[
                {"id": f"{number}-{place}", "entry": entry_of(gold, place, choice)}
                for place, gold in enumerate(note["entries"])
            ],
        )
        for number, note in enumerate(job["notes"], 1)
    ]


def extracted_notes(job):
    return [
        JobNote.of_log(number, notelog.extract(note["text"], job["driver_side"]), note["when"], note["author"])
        for number, note in enumerate(job["notes"], 1)
    ]


def made(path, choice=0):
    """The ledger of a gold job: from its gold entries (of values that are all right, the one at `choice`), or with
    choice None from what is extracted of its text."""
    job = json.loads(path.read_text(encoding="utf-8"))
    return ledger(extracted_notes(job) if choice is None else gold_notes(job, choice))


def any_of(value):
    return set(value) if isinstance(value, list) else {value}


def each_side(line, sides):
    """A line of both sides as one for each, its count shared."""
    for side in ("left", "right") if sides == {"both"} else (None,):
        count = line.get("count")
        yield {**line, "side": {side} if side else sides, "count": count and (-(-count // 2) if side else count)}


def flat(section, lines):
    """Ledger lines as the dicts that gold ledgers hold."""
    for line in lines:
        row = {"component": {line.component.id, normal(line.component.label)}, "axle": {line.position.axle}}
        if section == "parts_to_buy":
            row |= {"count": line.count, "state": {line.state}}
        elif section == "loose_ends":
            row |= {"why": {line.why}}
        else:
            row |= {"condition": set(line.conditions)}
        yield from each_side(row, {line.position.side})


def gold_flat(lines, made):
    """Gold lines as the dicts that ledger lines are compared as; `made` are those.

    Where a line of both sides and one without a side are right, it is the one that was made.
    """
    for line in lines:
        names = any_of(line["component"])
        ids = {term.id for name in names if (term := LEXICON.find(name))}
        row = {key: any_of(value) for key, value in line.items() if key not in ("side", "count", "component")}
        row |= {"component": ids | {normal(name) for name in names}, "count": line.get("count")}
        sides = any_of(line["side"])
        if "both" in sides and not any(same({**row, "side": sides}, one) for one in made):
            sides = {"both"}
        yield from each_side(row, sides)


def same(gold, line):
    if gold.get("count") != line.get("count"):
        # A line of both sides may stand for two of one line without a side.
        return False
    row = next((row for name in line["component"] if (row := rules_of(LEXICON).one_a_side.get(name))), None)
    # Of what has one on each side of the vehicle (a headlamp) the axle says nothing, and may be said or not.
    compared = line.keys() - {"count"} - ({"axle"} if row and not row.corner else set())
    return all(gold[key] & line[key] for key in compared)


def compare(path, section, from_ledger):
    """(true positives, lines made, lines of the gold ledger) and what does not match."""
    lines = list(flat(section, getattr(from_ledger, section)))
    gold = list(gold_flat(json.loads(path.read_text(encoding="utf-8"))[section], lines))
    may = [[number for number, line in enumerate(lines) if same(row, line)] for row in gold]
    matching = maximum_matching(may)
    missing = [("missing", row) for number, row in enumerate(gold) if number not in matching]
    false = [("false", line) for number, line in enumerate(lines) if number not in matching.values()]
    return (len(matching), len(lines), len(gold)), missing + false


def ledger_counts(section, choice=0):
    """The micro F1 of a section over all gold jobs, and its counts; `choice` as for `made`."""
    counts = [compare(path, section, made(path, choice))[0] for path in JOBS]
    right, lines, gold = (sum(column) for column in zip(*counts))
    return {"f1": 2 * right / (lines + gold), "right": right, "made": lines, "gold": gold}


@pytest.mark.parametrize("choice", [0, -1])
@pytest.mark.parametrize("section", ["parts_to_buy", "loose_ends"])
def test_gold_ledgers(section, choice):
    assert len(JOBS) == 8
    counts = ledger_counts(section, choice)
    assert counts["gold"] >= 25
    assert counts["f1"] >= 0.85, counts


@pytest.mark.parametrize(("section", "least"), [("parts_to_buy", 0.58), ("loose_ends", 0.55)])
def test_gold_ledgers_from_extracted_entries(section, least):
    """Beside the figure from gold entries: what is left of it when the notes are read by the tool itself. Measured when
    this was written: 0.64 for the parts, 0.61 for the loose ends; what is missing is missing in the entries."""
    counts = ledger_counts(section, choice=None)
    assert counts["f1"] >= least, counts


def test_gold_damage_with_nothing_ordered():
    assert ledger_counts("nothing_ordered")["f1"] >= 0.85


# --- notes made by hand ----------------------------------------------------------------------------


def job_note(id, day, *entries, author="fitter", words=None):
    """A note of day `day` with entries given as dicts without evidence; `words` are their quotes."""
    made_entries = []
    for number, entry in enumerate(entries):
        text = entry.pop("text", None) or (words[number] if words else "x")
        confidence, accepted = entry.pop("confidence", 1.0), entry.pop("accepted", False)
        evidence = {"start": number * 40, "end": number * 40 + len(text), "text": text}
        full = {**entry, "evidence": evidence, "confidence": confidence}
        made_entries.append({"id": f"{id}-{number}", "entry": full, "accepted": accepted})
    when = None if day is None else datetime(2024, 3, 1, tzinfo=UTC) + timedelta(days=day)
    return JobNote(id=id, when=when, author=author, entries=made_entries)


def thing(name, said=None):
    term = LEXICON.find(name) or LEXICON.find(name.removesuffix("s"))
    return {"id": term.id if term else "unknown", "label": term.label if term else name, "said": said or name}


def place(words):
    fields = {"left": "side", "right": "side", "both": "side", "front": "axle", "rear": "axle", "lower": "level"}
    return {fields[word]: word for word in words.split()}


def finding(name, condition, where="", status="present", **more):
    return {"kind": "finding", "component": thing(name), "condition": condition, "position": place(where),
            "status": status, **more}  # fmt: skip


def operation(name, action, where="", status="done", **more):
    return {"kind": "operation", "component": thing(name) if name else None, "action": action, "position": place(where),
            "status": status, **more}  # fmt: skip


def part(name, state, where="", count=1, said=None, **more):
    return {
        "kind": "part",
        "component": thing(name, said),
        "state": state,
        "position": place(where),
        "count": count,
        **more,
    }


def reading(quantity, low, high, unit, where="", name=None):
    return {"kind": "measurement", "quantity": quantity, "low": low, "high": high, "unit": unit,
            "component": thing(name) if name else None, "position": place(where)}  # fmt: skip


def fastener(type, value, unit, name=None, drive=None, count=None, **more):
    return {"kind": "fastener", "type": type, "size": {"value": value, "unit": unit}, "drive": drive, "count": count,
            "component": thing(name) if name else None, **more}  # fmt: skip


def shown(lines, *fields):
    return [(line.component.label, line.position.side, *(getattr(line, field) for field in fields)) for line in lines]


# --- damage ----------------------------------------------------------------------------------------


def test_the_newest_statement_wins_and_the_older_one_is_shown():
    job = ledger(
        [
            job_note("1", 0, finding("strut", "bent", "left front"), words=["strut is bent"]),
            job_note("2", 1, finding("strut", "good"), words=["strut is straight after all"]),
        ]
    )
    assert job.damage == [] and job.nothing_ordered == []
    (line,) = job.seen_and_sound
    assert (line.component.label, line.position.side, line.sound) == ("strut", "left", ["good"])
    (contradiction,) = line.contradictions
    assert contradiction.before_quote.text == "strut is bent"
    assert contradiction.after_quote.text == "strut is straight after all"


def test_a_good_word_and_a_fault_in_one_note_are_both_kept():
    job = ledger([job_note("1", 0, finding("tailgate", "misaligned"), finding("tailgate", "good"))])
    (line,) = job.damage
    assert line.now == "damaged" and len(line.contradictions) == 1
    assert job.seen_and_sound == []


def test_what_was_mended_is_no_contradiction():
    job = ledger(
        [
            job_note("1", 0, finding("lower arm", "bent", "left front")),
            job_note(
                "2", 1, operation("lower arm", "replace", "left front"), finding("lower arm", "good", "left front")
            ),
        ]
    )
    (line,) = job.damage
    assert line.now == "mended" and line.contradictions == []
    assert line.conditions[0].mended[0].note == "2"
    assert shown(job.seen_and_sound, "sound") == [("lower arm", "left", ["good"])]


def test_a_new_belt_mends_its_fired_tensioner():
    job = ledger(
        [
            job_note(
                "1", 0, finding("seat belt pretensioner", "deployed", "left"), part("seat belt", "needed", "left")
            ),
            job_note("2", 1, operation("seat belt", "replace", "left")),
        ]
    )
    assert job.damage[0].now == "mended"


def test_both_sides_said_at_once_are_one_line():
    job = ledger([job_note("1", 0, finding("anti-roll bar link", "broken", "both front"))])
    assert shown(job.damage, "now") == [("anti-roll bar link", "both", "damaged")]


def test_a_denied_fault_is_sound_and_never_damage():
    job = ledger([job_note("1", 0, finding("wheel bearing", "play", "left front", "absent"))])
    assert job.damage == []
    assert shown(job.seen_and_sound, "sound") == [("wheel bearing", "left", ["no play"])]
    job = ledger([job_note("1", 0, finding("strut", "leaking", "left front", "absent"), finding("strut", "bent", "left front"),
                           finding("strut", "bent", "left front", "absent"))])  # fmt: skip
    assert shown(job.seen_and_sound, "sound") == [("strut", "left", ["not leaking"])]
    assert [(one.before, one.after) for one in job.damage[0].contradictions] == [("bent", "not bent")]


# --- parts -----------------------------------------------------------------------------------------


def test_a_part_carries_its_state_its_quotes_and_the_finding_behind_it():
    job = ledger(
        [
            job_note("1", 0, finding("track rod end boot", "torn", "left front"), part("track rod end", "needed", "left front"),
                     words=["boot torn", "wants an end"]),
            job_note("2", 1, part("track rod end", "ordered")),
            job_note("3", 2, part("track rod end", "on_hand")),
        ]
    )  # fmt: skip
    (line,) = job.parts_to_buy
    assert (line.state, line.count, line.fitted, line.basis) == ("on_hand", 1, 0, "asked")
    assert [quote.entry for quote in line.quotes] == ["1-1", "2-0", "3-0"]
    assert line.damage_said and line.findings == ["track rod end boot torn"]
    assert line.finding_quotes[0].text == "boot torn"
    assert job.nothing_ordered == []


def test_parts_without_damage_and_damage_without_parts():
    job = ledger([job_note("1", 0, part("radiator", "needed"), finding("wing", "dented", "right"))])
    assert [line.damage_said for line in job.parts_to_buy] == [False]
    assert [line.text for line in job.nothing_ordered] == ["dented, nothing ordered yet"]


def test_a_planned_repair_is_no_forgotten_part():
    job = ledger(
        [job_note("1", 0, finding("wing", "dented", "right"), operation("wing", "straighten", "right", "planned"))]
    )
    assert job.nothing_ordered == []


def test_the_old_part_put_back_for_now_is_not_the_new_one():
    job = ledger(
        [
            job_note("1", 0, finding("bumper cover", "torn", "front"), operation("bumper cover", "remove", "front")),
            job_note("2", 1, part("bumper cover", "ordered", "front"), operation("bumper cover", "fit", "front")),
        ]
    )
    assert [(line.state, line.fitted) for line in job.parts_to_buy] == [("ordered", 0)]
    assert [line.fate for line in job.removed] == ["put_back"]


def test_a_replacement_tells_of_a_part_that_nobody_asked_for():
    job = ledger(
        [job_note("1", 0, operation("radiator", "replace"), operation("strut", "replace", "both front", "planned"))]
    )
    assert [(line.component.label, line.count, line.state, line.basis) for line in job.parts_to_buy] == [
        ("radiator", 1, "fitted", "done"),
        ("strut", 2, "needed", "planned"),
    ]


def test_one_of_two_fitted():
    job = ledger(
        [
            job_note("1", 0, part("trailing arm bush", "needed", "rear", 2)),
            job_note("2", 1, operation("trailing arm bush", "replace", "left rear")),
        ]
    )
    (line,) = [line for line in job.parts_to_buy if line.count == 2]
    assert (line.fitted, line.state) == (1, "needed")


@pytest.mark.parametrize(
    ("name", "where", "lines"),
    [
        ("drop link", "front", [("both", "front", 2)]),
        ("drop link", "left front", [("both", "front", 2)]),  # there is one at each end of the bar
        ("wheel bearing", "rear", [("both", "rear", 2)]),
        ("headlamp", "right", [("both", None, 2)]),
        ("strut", "left", [("left", None, 2)]),  # one front, one rear
        ("tyre", "right rear", [("right", "rear", 2)]),  # twins
        ("brake pad clip", "left front", [("left", "front", 2)]),
    ],
)
def test_two_of_what_has_one_a_side_are_left_and_right(name, where, lines):
    job = ledger([job_note("1", 0, part(name, "needed", where, 2))])
    assert [(line.position.side, line.position.axle, line.count) for line in job.parts_to_buy] == lines


def test_two_said_at_one_side_and_again_at_the_other_are_bought_once():
    job = ledger(
        [
            job_note("1", 0, part("wheel arch liner", "needed", "left front", 2)),
            job_note("2", 1, part("wheel arch liner", "ordered", "right front", 2)),
            job_note("3", 2, part("wheel arch liner", "on_hand", "left front")),
        ]
    )
    assert shown(job.parts_to_buy, "count", "state") == [
        ("wheel arch liner", "left", 1, "on_hand"), ("wheel arch liner", "right", 1, "ordered")]  # fmt: skip


def test_a_count_without_a_place_is_shared_by_the_places_that_were_asked_for():
    job = ledger(
        [
            job_note("1", 0, part("trailing arm bush", "needed", "rear", 2)),
            job_note("2", 1, part("trailing arm bush", "ordered", "both rear", 2)),
        ]
    )
    assert shown(job.parts_to_buy, "count", "state") == [("trailing arm bush", "both", 2, "ordered")]


@pytest.mark.parametrize("words", ["rear wheels", "both rear wheels", "the road wheels"])
def test_several_are_left_and_right_and_one_that_is_back_leaves_the_other(words):
    off = operation("wheel", "remove", "rear")
    off["component"]["said"] = words
    back = operation("wheel", "fit", "left rear")
    (line,) = ledger([job_note("1", 0, off)]).loose_ends
    assert (line.position.side, line.position.axle) == ("both", "rear")
    assert shown(ledger([job_note("1", 0, off, back)]).removed, "fate") == [
        ("wheel", "left", "put_back"), ("wheel", "right", "loose")]  # fmt: skip


@pytest.mark.parametrize("name", ["airbag control module", "steering rack", "radiator", "alternator"])
def test_the_side_that_was_spoken_of_is_not_that_of_what_has_none(name):
    job = ledger([job_note("1", 0, operation(name, "remove", "left"), part(name, "needed"))])
    assert shown(job.loose_ends) == shown(job.parts_to_buy) == [(name, None)]
    two = ledger([job_note("1", 0, operation(name, "remove", "left"), operation(name, "remove", "right"))])
    assert [line.position.side for line in two.loose_ends] == ["left", "right"]


def test_used_once_hardware_is_a_proposal_marked_as_such():
    notes = [job_note("1", 0, operation("track rod end", "replace", "left front"))]
    (proposal,) = ledger(notes).used_once
    assert proposal.hardware.label == "track rod end nut" and proposal.source == "common practice"
    asked = job_note("2", 1, part("track rod end nut", "on_hand", "left front"))
    assert ledger([*notes, asked]).used_once == []


def test_a_short_name_of_another_note_is_the_one_component_that_it_ends():
    job = ledger(
        [
            job_note("1", 0, part("lower arm", "ordered", "left front lower")),
            job_note("2", 1, part("arm", "on_hand")),
        ]
    )
    assert shown(job.parts_to_buy, "state") == [("lower arm", "left", "on_hand")]
    assert [(question.kind, question.options[0]) for question in job.questions] == [("unclear_it", "lower arm")]


def test_a_short_name_that_could_be_two_stays_unknown():
    job = ledger(
        [
            job_note(
                "1", 0, part("lower arm", "needed", "left"), part("upper arm", "needed", "left"), part("arm", "ordered")
            )
        ]
    )
    assert "unknown" in {line.component.id for line in job.parts_to_buy}


# --- loose ends ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("opened", "closed", "why"),
    [
        (operation("wheel arch liner", "remove", "left front"), "fit", "removed"),
        (operation("battery", "disconnect"), "connect", "disconnected"),
        (operation("parking sensor", "disconnect", "left rear"), "connect", "not_plugged_in"),
        (operation("exhaust clamp", "loosen"), "tighten", "loosened"),
        (operation("cooling system", "drain"), "refill", "drained"),
        (operation("coil spring", "compress", "left front"), "fit", "compressed"),
        (operation("wheel", "fit", "left front"), "torque", "torque_not_stated"),
    ],
)
def test_what_is_opened_is_loose_until_it_is_closed(opened, closed, why):
    monday = [job_note("1", 0, dict(opened))]
    assert [line.why for line in ledger(monday).loose_ends] == [why]
    tuesday = job_note("2", 1, {**opened, "action": closed, "position": {}})
    assert ledger([*monday, tuesday]).loose_ends == []
    planned = job_note("2", 1, {**opened, "action": closed, "status": "planned"})
    assert [line.why for line in ledger([*monday, planned]).loose_ends] == [why]


@pytest.mark.parametrize(
    ("plug", "whole"), [("battery cable", "battery"), ("headlamp connector", "headlamp"), ("seat connector", "seat")]
)
def test_what_is_connected_has_its_plug_in(plug, whole):
    off = operation(plug, "disconnect", "left")
    assert [line.why for line in ledger([job_note("1", 0, dict(off))]).loose_ends] == ["disconnected"]
    assert ledger([job_note("1", 0, dict(off), operation(whole, "connect", "left"))]).loose_ends == []
    wrong = operation("bonnet", "connect")
    assert len(ledger([job_note("1", 0, dict(off), wrong)]).loose_ends) == 1


def test_one_side_back_leaves_the_other_loose():
    notes = [
        job_note("1", 0, operation("wheel", "remove", "both rear")),
        job_note("2", 1, operation("wheel", "fit", "left rear"), operation("wheel nut", "torque", "left rear")),
    ]
    assert shown(ledger(notes).loose_ends, "why") == [("wheel", "right", "removed")]


def test_coolant_drained_at_the_radiator_is_filled_in_the_system():
    notes = [job_note("1", 0, operation("radiator", "drain"), operation("cooling system", "refill"))]
    assert ledger(notes).loose_ends == []
    other = [job_note("1", 0, operation("differential", "drain"), operation("gearbox", "refill"))]
    assert shown(ledger(other).loose_ends, "why") == [("differential", None, "drained")]


def test_a_sensor_put_back_is_not_yet_plugged_in():
    steps = ["disconnect", "remove"]
    notes = [job_note("1", 0, *[operation("wheel speed sensor", step, "left front") for step in steps])]
    assert [line.why for line in ledger(notes).loose_ends] == ["removed"]
    back = job_note("2", 1, operation("wheel speed sensor", "fit", "left front"))
    assert [line.why for line in ledger([*notes, back]).loose_ends] == ["not_plugged_in"]


def test_the_nut_tells_of_the_wheel():
    notes = [
        job_note(
            "1", 0, operation("wheel", "fit", "left front"), operation("wheel nut", "torque", "left front", "planned")
        )
    ]
    (line,) = ledger(notes).loose_ends
    assert (line.component.label, line.also) == ("wheel nut", ["wheel"])


def test_torque_is_not_asked_of_trim_or_pads():
    names = [("door card", "left front"), ("brake pad", "front"), ("tyre", "left front"), ("radiator", "")]
    assert ledger([job_note("1", 0, *[operation(name, "fit", where) for name, where in names])]).loose_ends == []


def test_a_figure_states_a_torque_unless_it_is_still_to_do():
    figure = reading("torque", 90, 90, "Nm", "left front", "lower arm")
    fit = operation("lower arm", "fit", "left front")
    assert ledger([job_note("1", 0, dict(fit), dict(figure))]).loose_ends == []
    still = operation("lower arm", "torque", "left front", "planned")
    assert len(ledger([job_note("1", 0, dict(fit), dict(figure), still)]).loose_ends) == 1


# --- fasteners -------------------------------------------------------------------------------------

# Widths across flats, ISO 272 (M5 to M16 checked against a second public copy, the rest from memory).
ISO_272 = {5: 8, 6: 10, 8: 13, 10: 16, 12: 18, 14: 21, 16: 24, 18: 27, 20: 30, 24: 36}
# Older widths still met in workshops, DIN 931/933 (M10 and M12 checked, M14 from memory).
DIN_931 = {10: 17, 12: 19, 14: 22}
# Hexagon keys of socket head cap screws, ISO 4762 (checked against a second public copy).
ISO_4762 = {3: 2.5, 4: 3, 5: 4, 6: 5, 8: 6, 10: 8, 12: 10, 14: 12, 16: 14, 20: 17}
# Coarse pitches, ISO 262 (checked against a second public copy).
ISO_262 = {6: 1, 8: 1.25, 10: 1.5, 12: 1.75, 14: 2, 16: 2}
# Driving squares, ISO 1174-1 (from memory): inches and nominal millimetres.
ISO_1174 = {0.25: 6.3, 0.375: 10, 0.5: 12.5, 0.75: 20, 1: 25}


def fastener_line(*args, **more):
    (line,) = ledger([job_note("1", 0, fastener(*args, **more))]).fasteners
    return line


@pytest.mark.parametrize(("thread", "across"), ISO_272.items())
def test_iso_272(thread, across):
    line = fastener_line("nut", across, "mm")
    assert not line.odd and line.standard == f"M{thread} (ISO 272)"


@pytest.mark.parametrize(("thread", "across"), DIN_931.items())
def test_older_widths(thread, across):
    line = fastener_line("bolt", across, "mm")
    assert not line.odd and line.standard == f"older M{thread} (DIN 931/933)"


@pytest.mark.parametrize(("thread", "key"), ISO_4762.items())
def test_iso_4762(thread, key):
    line = fastener_line("bolt", key, "mm", drive="allen")
    assert not line.odd and line.standard == f"M{thread} (ISO 4762)"


@pytest.mark.parametrize(("thread", "pitch"), ISO_262.items())
def test_iso_262(thread, pitch):
    line = fastener_line("bolt", thread, "M")
    assert not line.odd and line.standard == f"M{thread}, pitch {pitch:g} mm (ISO 262)"


def tool_questions(value):
    evidence = {"start": 0, "end": 1, "text": "x"}
    tool = {"kind": "tool", "tool": {"id": "ratchet", "label": "ratchet", "said": "ratchet"},
            "size": {"value": value, "unit": "in"}, "evidence": evidence, "confidence": 1.0}  # fmt: skip
    return ledger([JobNote(id="1", entries=[{"id": "1-0", "entry": tool}])]).questions


@pytest.mark.parametrize(("inches", "nominal"), ISO_1174.items())
def test_iso_1174(inches, nominal):
    from notelog.job.sizes import tables_of

    assert tool_questions(inches) == []
    assert f"{nominal:g} mm nominal" in tables_of(LEXICON).squares[inches]


def test_a_driving_square_that_is_none():
    (question,) = tool_questions(0.4375)
    assert question.kind == "odd_size" and "0.5 in" in question.options


@pytest.mark.parametrize(
    ("args", "likely"),
    [
        (("bolt", 80, "mm"), "18 mm"),
        (("nut", 70, "mm"), "17 mm"),
        (("bolt", 13, "M"), "13 mm across flats, M8 (ISO 272)"),
        (("nut", 14.3, "mm"), "0.5625 in"),
        (("bolt", 6, "mm"), "6 mm hexagon key, M8 (ISO 4762)"),
        (("bolt", 18, "in"), "18 mm"),
        (("screw", 32, "T"), "T30"),
    ],
)
def test_an_odd_size_is_marked_with_its_likely_meaning(args, likely):
    line = fastener_line(*args)
    assert line.odd and line.standard == ""
    assert likely in line.likely


@pytest.mark.parametrize("size", [12, 14, 15, 17, 19, 22, 32])
def test_sizes_in_daily_use_are_not_odd(size):
    # common practice, no source: a track rod lock nut 17 mm, small heads 12 and 14 mm, hub nuts 32 mm
    assert not fastener_line("nut", size, "mm").odd


def test_fasteners_carry_torque_and_tool():
    # NIST SP 811, B.8: 1 lbf ft is 1.355 818 N m.
    tool = {
        "kind": "tool",
        "tool": {"id": "spanner", "label": "spanner", "said": "spanner"},
        "size": {"value": 18, "unit": "mm"},
    }
    notes = [
        job_note("1", 0, fastener("bolt", 18, "mm", "lower arm", count=2), tool),
        job_note("2", 1, reading("torque", 80, 80, "lbft", "", "lower arm")),
    ]
    (line,) = ledger(notes).fasteners
    assert (line.count, line.tools, line.torque_text) == (2, ["spanner"], "80 lbf ft")
    assert line.torque_low == pytest.approx(80 * 1.355818, abs=0.05)


# --- readings --------------------------------------------------------------------------------------


def test_conversions_are_those_of_nist():
    from notelog.job.quantities import convert

    # NIST SP 811, B.8 (inch and pound-force foot checked, psi from memory).
    assert convert(1, "in", "mm") == 25.4
    assert convert(1, "lbft", "Nm") == pytest.approx(1.355818, abs=1e-6)
    assert convert(1, "psi", "bar") == pytest.approx(6.894757 / 100, abs=1e-8)
    assert convert(1, "mi", "km") == pytest.approx(1.609344)
    assert convert(60, "arcmin", "deg") == pytest.approx(1)
    assert convert(68, "F", "C") == pytest.approx(20)


def test_conversions_agree_with_pint():
    import pint

    from notelog.job.quantities import _PINT, convert

    registry = pint.UnitRegistry()
    for one, other in [("in", "mm"), ("lbft", "Nm"), ("psi", "bar"), ("mi", "km"), ("arcmin", "deg"), ("cm", "in")]:
        expected = registry.Quantity(3.7, _PINT[one]).to(_PINT[other]).magnitude
        assert convert(3.7, one, other) == pytest.approx(expected, rel=1e-8)


def compare_sides(left, right, limits=None):
    notes = [
        job_note("1", 0, reading("camber", *left, "deg", "left front"), reading("camber", *right, "deg", "right front"))
    ]
    (line,) = ledger(notes, limits=limits).comparisons
    return line


def test_left_against_right_in_words():
    line = compare_sides((-0.5, -0.5), (-2.0, -1.5))
    assert (line.kind, line.verdict, line.at_least, line.at_most) == ("left_right", "shown", 1.0, 1.5)
    assert "a difference is shown" in line.text and "at least 1° and at most 1.5°" in line.text
    assert compare_sides((-1, -1), (-1, -1)).verdict == "not_shown"
    assert compare_sides((-1, 0), (-0.5, -0.5)).verdict == "cannot_be_told"


def test_before_against_after():
    notes = [
        job_note("1", 0, reading("toe", 10, 10, "arcmin", "front")),
        job_note("2", 1, reading("toe", 0.0, 0.05, "deg", "front")),
    ]
    (line,) = ledger(notes).comparisons
    assert (line.kind, line.verdict, line.unit) == ("before_after", "shown", "arcmin")
    assert (line.at_least, line.at_most) == (7, 10)


def test_two_readings_of_one_note_with_no_work_between_are_no_before_and_after():
    two = [
        reading("thickness", 22, 22, "mm", "left front", "brake disc"),
        reading("thickness", 21.8, 21.8, "mm", "left front", "brake disc"),
    ]
    assert ledger([job_note("1", 0, *two)]).comparisons == []


@pytest.mark.parametrize(
    ("quantity", "value", "words"),
    [
        # ISO 8855 (checked against two public definitions): camber positive outward at the top, toe-in positive.
        ("camber", 1.0, "leans outward"),
        ("camber", -1.0, "leans inward"),
        ("toe", 0.2, "toe-in"),
        ("toe", -0.2, "toe-out"),
    ],
)
def test_signs_of_iso_8855(quantity, value, words):
    (line,) = ledger([job_note("1", 0, reading(quantity, value, value, "deg", "left front"))]).readings
    assert words in line.sign and "ISO 8855" in line.sign


intervals = st.tuples(st.integers(-300, 300), st.integers(0, 150)).map(
    lambda pair: (pair[0] / 100, (pair[0] + pair[1]) / 100)
)


def points(interval, other):
    """Values of an interval: its ends, the other's ends where they lie in it, and steps between."""
    low, high = interval
    steps = [low + (high - low) * step / 20 for step in range(21)]
    return [value for value in [*steps, low, high, *other] if low <= value <= high]


@settings(max_examples=300, deadline=None)
@given(intervals, intervals, st.integers(0, 100).map(lambda hundredths: hundredths / 100))
def test_interval_statements_against_brute_force(first, second, more_than):
    from notelog.job.readings import difference

    found = difference(first, second)
    sizes = [abs(a - b) for a, b in itertools.product(points(first, second), points(second, first))]
    assert min(sizes) == pytest.approx(found.at_least, abs=1e-6)
    assert max(sizes) == pytest.approx(found.at_most, abs=1e-6)
    greater = [round(size, 6) > more_than for size in sizes]
    expected = "shown" if all(greater) else "cannot_be_told" if any(greater) else "not_shown"
    assert found.verdict(more_than) == expected


@settings(max_examples=100, deadline=None)
@given(intervals, intervals)
def test_limits_against_brute_force(found, limit):
    from notelog.job.readings import within

    inside = [limit[0] <= value <= limit[1] for value in points(found, limit)]
    # An interval that covers the limit has values on both sides of it, whether or not the points hit it.
    if all(inside):
        expected = "yes"
    else:
        expected = "cannot_be_told" if any(inside) else "no"
    assert within(*found, *limit) == expected


# --- limits of the shop ----------------------------------------------------------------------------

LIMITS = """
[[limit]]
quantity = "thickness"
component = "brake rotor"
axle = "front"
low = 22.0
unit = "mm"
why = "stamped on the disc"

[[side_difference]]
quantity = "camber"
most = 0.5
unit = "deg"

[[gauge]]
quantity = "camber"
plus_minus = 6
unit = "arcmin"
"""


@pytest.fixture
def limits_file(tmp_path):
    def write(text):
        path = tmp_path / "limits.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write


def test_no_limits_are_built_in():
    notes = [job_note("1", 0, reading("thickness", 2, 2, "mm", "left front", "brake disc"))]
    assert Limits() == Limits((), (), {})
    assert ledger(notes).readings[0].limits == []


def test_readings_against_the_shops_limits(limits_file):
    limits = read_limits(limits_file(LIMITS))
    figures = [(21.0, 21.5), (22.0, 23.0), (21.5, 22.5)]
    notes = [job_note("1", 0, *[reading("thickness", *figure, "mm", "left front", "brake disc") for figure in figures])]
    checks = [line.limits[0] for line in ledger(notes, limits=limits).readings]
    assert [check.within for check in checks] == ["no", "yes", "cannot_be_told"]
    assert checks[0].limit == "at least 22 mm" and checks[0].source == "limits.toml:3"
    rear = [job_note("1", 0, reading("thickness", 9, 9, "mm", "left rear", "brake disc"))]
    assert ledger(rear, limits=limits).readings[0].limits == []
    inches = [job_note("1", 0, reading("thickness", 1, 1, "in", "left front", "brake disc"))]
    assert ledger(inches, limits=limits).readings[0].limits[0].within == "yes"


def test_side_difference_and_gauge(limits_file):
    limits = read_limits(limits_file(LIMITS))
    assert compare_sides((-1, -1), (-1.8, -1.8), limits).verdict == "shown"
    assert compare_sides((-1, -1), (-1.6, -1.6), limits).verdict == "cannot_be_told"
    line = compare_sides((-1, -1), (-1.2, -1.2), limits)
    assert (line.verdict, line.more_than, line.at_least, line.at_most) == ("not_shown", 0.5, 0.0, 0.4)


@pytest.mark.parametrize(
    ("text", "line", "words"),
    [
        ('[[limit]]\nquantity = "camber"\nlow = 2\nhigh = -2\nunit = "deg"\n', 3, "upside down"),
        ('\n[[limit]]\nquantity = "camber"\nunit = "deg"\n', 3, "neither low nor high"),
        ('[[limit]]\nquantity = "cambre"\nhigh = 1\nunit = "deg"\n', 2, "quantity"),
        ('[[limit]]\nquantity = "camber"\nhigh = 1\nunit = "bar"\n', 4, "not measured in bar"),
        ('[[limit]]\nquantity = "camber"\nhigh = "one"\nunit = "deg"\n', 3, "write a number"),
        ('[[limit]]\nquantity = "camber"\nhigh = nan\nunit = "deg"\n', 3, "write a number"),
        ('[[limit]]\nquantity = "gap"\nhigh = 1\nunit = "mm"\ncomponent = "flux gate"\n', 5, "no component"),
        ('[[limit]]\nquantity = "gap"\nhigh = 1\nunit = "mm"\nmaximum = 4\n', 5, "no key"),
        ('[[side_difference]]\nquantity = "camber"\nmost = -1\nunit = "deg"\n', 3, "nought up"),
        ('[limits]\nlow = 1\n', 1, "no table"),
        ('[[gauge]]\nquantity = "toe"\nplus_minus = 1\nunit = "mm"\n[[gauge]]\nquantity = "toe"\nplus_minus = 2\nunit = "mm"\n', 6, "two"),
    ],
)  # fmt: skip
def test_bad_limits_are_told_with_file_line_and_reason(limits_file, text, line, words):
    with pytest.raises(InputError, match=f"limits.toml, line {line}: .*{words}"):
        read_limits(limits_file(text))


def test_limits_that_are_no_toml_or_no_file(limits_file, tmp_path):
    with pytest.raises(InputError, match="no TOML"):
        read_limits(limits_file("low = = 2"))
    with pytest.raises(InputError, match="does not exist"):
        read_limits(tmp_path / "none.toml")


# --- work, follow-ups, cautions --------------------------------------------------------------------


def test_work_planned_and_then_done_is_done():
    notes = [
        job_note("1", 0, operation("wing", "paint", "left", "planned"), {"kind": "labour", "hours": 1.5}),
        job_note("2", 1, operation("wing", "paint", "left"), {"kind": "labour", "hours": 0.25}),
    ]
    job = ledger(notes)
    assert shown(job.work, "action", "status") == [("wing", "left", "paint", "done")]
    assert job.hours_total == 1.75
    assert [line.when for line in job.work] == [datetime(2024, 3, 2, tzinfo=UTC)]


def state_of(job, id):
    return {line.id: line.state for line in job.follow_ups}.get(f"follow-up/{id}")


@pytest.mark.parametrize(
    ("trigger", "settled", "rule"),
    [
        (operation("lower arm", "replace", "left front"), operation("wheel alignment", "align"), "wheel_alignment"),
        (operation("track rod end", "fit", "left front"), operation("wheel alignment", "align"), "wheel_alignment"),
        (operation("brake hose", "replace", "left front"), operation("brake system", "bleed"), "brake_bleed"),
        (operation("brake system", "drain"), operation("brake system", "bleed"), "brake_bleed"),
        (operation("headlamp", "fit", "left"), operation("headlamp", "align", "left"), "lamp_aim"),
        (operation("windscreen", "replace"), operation("front camera", "calibrate"), "radar_camera_calibration"),
        (operation("bumper cover", "fit", "front"), operation("front radar", "calibrate"), "radar_camera_calibration"),
        (operation("seat belt", "replace", "left"), operation("airbag warning lamp", "test"), "restraint_lamp"),
        (operation("radiator", "replace"), operation("cooling system", "test"), "coolant_level"),
        (operation("strut", "replace", "left front"), operation(None, "test"), "road_test"),
        (operation("wheel speed sensor", "disconnect", "left front"), operation("fault code", "inspect"), "fault_codes"),
    ],
)
def test_follow_ups_by_rule(trigger, settled, rule):
    monday = [job_note("1", 0, dict(trigger))]
    assert state_of(ledger(monday), rule) == "open"
    assert state_of(ledger([*monday, job_note("2", 1, {**settled, "status": "planned"})]), rule) == "planned"
    assert state_of(ledger([*monday, job_note("2", 1, dict(settled))]), rule) == "done"
    # What was done before the work does not settle it.
    assert state_of(ledger([*monday, job_note("0", -1, dict(settled))]), rule) == "open"


@pytest.mark.parametrize("other", [operation("inverter", "test"), operation(None, "test"), operation("headlamp", "test")])
@pytest.mark.parametrize(
    ("trigger", "rule"),
    [(operation("battery", "disconnect"), "fault_codes"), (operation("radiator", "replace"), "coolant_level")],
)
def test_a_test_of_something_else_settles_nothing(trigger, other, rule):
    assert state_of(ledger([job_note("1", 0, dict(trigger)), job_note("2", 1, dict(other))]), rule) == "open"


def test_wheel_nuts_are_torqued_again():
    assert state_of(ledger([job_note("1", 0, operation("wheel", "fit", "left front"))]), "wheel_nuts_again") == "open"


def test_follow_ups_that_were_said():
    job = ledger([job_note("1", 0, operation("door card", "fit", "left front", "planned"))])
    assert [(line.origin, line.state, line.text) for line in job.follow_ups] == [
        ("said", "planned", "left front door card: fit")
    ]


@pytest.mark.parametrize(
    ("entry", "caution"),
    [
        (operation("coil spring", "compress", "left front"), "springs"),
        (finding("curtain airbag", "deployed", "left"), "airbags"),
        (operation("seat belt pretensioner", "remove", "left"), "belt_tensioners"),
        (operation("service disconnect", "disconnect"), "high_voltage"),
        (operation("wheel", "remove", "left front"), "jacking"),
        (operation("brake caliper", "remove", "left front"), "brakes"),
        (operation("fuel tank", "remove"), "fuel"),
        (operation("condenser", "remove"), "refrigerant"),
        (operation("quarter panel", "weld", "left", "planned"), "welding_sensors"),
        (operation("b-pillar", "weld", "left"), "high_strength_steel"),
    ],
)
def test_cautions_by_what_was_touched(entry, caution):
    job = ledger([job_note("1", 0, dict(entry))])
    assert f"caution/{caution}" in {line.id for line in job.cautions}


def test_cautions_are_short_and_defer():
    from notelog.job.rules import rules_of

    for rule in rules_of(LEXICON).cautions:
        assert len(rule.text) <= 170, rule.id
        assert any(words in rule.text for words in ("maker", "local rules")), rule.id
    assert ledger([job_note("1", 0, finding("door card", "scratched", "left front"))]).cautions == []


# --- questions -------------------------------------------------------------------------------------


def asked(*entries, **more):
    return [(question.kind, question.entry) for question in ledger([job_note("1", 0, *entries)], **more).questions]


def test_a_side_that_the_job_does_not_tell_is_asked_once():
    assert asked(finding("lower arm", "bent", "front"), finding("lower arm", "cracked", "front")) == [
        ("side_missing", "1-0")
    ]
    assert asked(finding("lower arm", "bent", "left"), operation("lower arm", "remove")) == []
    assert asked(finding("radiator", "leaking")) == []


@pytest.mark.parametrize(("name", "axle"), [("tail lamp", ""), ("lower arm", "front"), ("strut", "rear")])
def test_a_part_for_the_side_that_is_good_is_asked_about(name, axle):
    left, right = f"left {axle}".strip(), f"right {axle}".strip()
    looked = [finding(name, "broken", left), finding(name, "good", right)]
    job = ledger([job_note("1", 0, *looked, part(name, "needed", right))])
    (question,) = job.questions
    assert (question.id, question.field) == ("side_missing:1-2", "position.side")
    assert "It was found good, and the left one damaged." in question.text
    for asked_for in (part(name, "needed", left), part(name, "needed", f"both {axle}".strip())):
        assert ledger([job_note("1", 0, *map(dict, looked), asked_for)]).questions == []
    both_asked = [*map(dict, looked), part(name, "needed", left), part(name, "needed", right)]
    assert ledger([job_note("1", 0, *both_asked)]).questions == []


def test_a_count_that_is_missing_is_asked():
    assert asked(part("u-bolt", "needed", "left front", said="u-bolts")) == [("count_missing", "1-0")]
    assert asked(part("u-bolt", "needed", "left front", 4, said="u-bolts")) == []
    nuts = fastener("nut", 18, "mm", "lower arm", text="18 mil nuts on the lower arm")
    assert asked(nuts) == [("count_missing", "1-0")]


def test_an_unclear_it_is_asked_about():
    took_off = {**operation("lower arm", "remove", "left", text="took it off", confidence=0.6)}
    assert asked(dict(took_off)) == [("unclear_it", "1-0")]
    assert asked({**took_off, "confidence": 0.9}) == []
    assert asked({**took_off, "accepted": True}) == []
    assert asked(operation(None, "remove", text="took it off")) == [("unclear_it", "1-0")]


def test_what_does_not_sound_like_its_part_is_asked_about():
    heard = {**operation("lower arm", "remove", "left"), "component": thing("lower arm", "flower farm stand")}
    assert asked(heard) == [("mishearing", "1-0")]
    assert asked({**heard, "component": thing("lower arm", "bottom arm")}) == []


def test_unknown_parts_and_odd_sizes_are_asked_about():
    assert asked(finding("flange plate widget", "bent", "left")) == [("unknown_part", "1-0")]
    (question,) = ledger([job_note("1", 0, fastener("bolt", 80, "mm", text="80 mil bolt"))]).questions
    assert (question.kind, question.options[0], question.field) == ("odd_size", "18 mm", "size")


def test_an_answered_question_is_not_asked_again():
    notes = [job_note("1", 0, finding("lower arm", "bent"))]
    (question,) = ledger(notes).questions
    assert question.id == "side_missing:1-0"
    assert ledger(notes, answered={question.id}).questions == []


# --- the whole -------------------------------------------------------------------------------------


def test_every_line_can_be_traced():
    for path in JOBS:
        job = made(path)
        entries = {f"{note.id}-{number}" for note in job.notes for number in range(note.entries)}
        for section in ("damage", "seen_and_sound", "parts_to_buy", "nothing_ordered", "used_once", "loose_ends", "removed",
                        "fasteners", "readings", "comparisons", "work", "hours", "follow_ups", "cautions", "questions"):  # fmt: skip
            lines = getattr(job, section)
            assert len({line.id for line in lines}) == len(lines), (path.name, section)
            for line in lines:
                assert line.quotes and {quote.entry for quote in line.quotes} <= entries


def test_json_form_is_stable_and_read_back():
    for path in JOBS:
        job = made(path)
        text = job.model_dump_json(by_alias=True)
        assert json.loads(text)["schema"] == "notelog.ledger/1"
        assert type(job).model_validate_json(text) == job
        assert made(path).model_dump_json(by_alias=True) == text


def test_a_job_without_notes_and_other_warnings():
    assert ledger([]).warnings == ["The job has no notes."]
    notes = [job_note("1", 9, finding("strut", "bent", "left")), job_note("2", None)]
    warnings = ledger(notes, now=datetime(2024, 3, 2)).warnings
    assert any("note 2" in warning for warning in warnings)
    assert any("Note 1 is dated 2024-03-10" in warning for warning in warnings)


def test_ids_that_stand_twice_are_refused():
    with pytest.raises(InputError, match="note id '1' stands twice"):
        ledger([job_note("1", 0), job_note("1", 1)])


def test_rules_name_only_what_the_lexicon_has():
    from notelog.job.rules import rules_of

    assert rules_of(LEXICON).problems == ()


@pytest.mark.parametrize(
    ("name", "row", "words"),
    [
        ("cautions.csv", "x,any,,explode,,Mind it.,why,common practice", "'explode' is no action"),
        ("followups.csv", "x,any,,fit,,,,,why,common practice", "says nothing"),
        ("followups.csv", "x,system:rocket,,fit,,Do it.,,,why,common practice", "system:rocket"),
        ("used_once.csv", "x,any,,fit,clip,none,no,why,common practice", "whole number"),
        ("torque.csv", "any,perhaps,why,common practice", "yes or no"),
        ("loose_ends.csv", "remove,any,,gone,fit,,why,common practice", "needs one action"),
        ("cautions.csv", "x,any,,fit,,Mind it.,why,", "source is empty"),
        ("one_a_side.csv", "bumper,,,why,common practice", "corner or side"),
        ("one_a_side.csv", "bumper,side,perhaps,why,common practice", "corner or side"),
    ],
)
def test_bad_rules_are_told_with_file_line_and_reason(tmp_path, name, row, words):
    import shutil

    folder = tmp_path / "lexicon"
    shutil.copytree(LEXICON.folder, folder)
    path = folder / name
    lines = path.read_text(encoding="utf-8").rstrip("\n").splitlines()
    path.write_text("\n".join([*lines, row]) + "\n", encoding="utf-8")
    with pytest.raises(InputError, match=f"{name}, line {len(lines) + 1}: .*{words}"):
        ledger([job_note("1", 0)], lexicon=load(folder))


# --- properties ------------------------------------------------------------------------------------

NAMES = st.sampled_from(
    ["lower arm", "lower arms", "wheel", "wheels", "wheel nut", "headlamps", "radiator", "bumper", "bumper cover",
     "parking sensor", "arm"]
)  # fmt: skip
PLACES = st.builds(
    lambda *words: " ".join(word for word in words if word),
    st.sampled_from(["", "left", "right", "both"]),
    st.sampled_from(["", "front", "rear"]),
)
OPERATIONS = st.builds(
    operation,
    NAMES,
    st.sampled_from(
        ["remove", "fit", "replace", "loosen", "tighten", "torque", "disconnect", "connect", "drain", "refill", "cut"]
    ),
    PLACES,
    st.sampled_from(["done", "done", "done", "planned", "not_done"]),
)
FINDINGS = st.builds(
    finding,
    NAMES,
    st.sampled_from(["bent", "good", "cracked"]),
    PLACES,
    st.sampled_from(["present", "absent", "suspected"]),
)
PARTS = st.builds(part, NAMES, st.sampled_from(["needed", "ordered", "on_hand"]), PLACES, st.integers(1, 4))
READINGS = st.builds(lambda value, where: reading("camber", value, value + 1, "deg", where), st.integers(-3, 3), PLACES)
ENTRIES = st.one_of(OPERATIONS, OPERATIONS, FINDINGS, PARTS, READINGS)


@st.composite
def jobs(draw, entries=ENTRIES):
    """Notes of different days, each with a few entries."""
    contents = draw(st.lists(st.lists(entries, max_size=6), min_size=1, max_size=5))
    days = draw(st.permutations(range(len(contents))))
    return [
        job_note(str(number), day, *map(dict, content)) for number, (day, content) in enumerate(zip(days, contents))
    ]


@settings(max_examples=150, deadline=None)
@given(jobs(), st.randoms(use_true_random=False))
def test_the_order_in_which_notes_were_added_does_not_matter(notes, random):
    other = list(notes)
    random.shuffle(other)
    assert ledger(other).model_dump_json() == ledger(notes).model_dump_json()


@settings(max_examples=150, deadline=None)
@given(NAMES, PLACES, st.integers(1, 4), st.lists(st.sampled_from(["needed", "ordered", "on_hand"]), min_size=1, max_size=4))
def test_what_is_said_again_is_not_bought_again(name, where, count, states):
    notes = [job_note(str(day), day, part(name, state, where, count)) for day, state in enumerate(states)]
    sides = 2 if where.startswith("both") else 1
    assert sum(line.count for line in ledger(notes).parts_to_buy) == max(count, sides)
    assert {line.state for line in ledger(notes).parts_to_buy} == {states[-1]}


@settings(max_examples=100, deadline=None)
@given(jobs())
def test_line_ids_stand_once_whatever_is_said(notes):
    job = ledger(notes)
    for section, lines in job:
        if isinstance(lines, list) and section not in ("notes", "warnings"):
            assert len({line.id for line in lines}) == len(lines), section


@settings(max_examples=150, deadline=None)
@given(jobs())
def test_every_removed_thing_is_exactly_one_of_put_back_replaced_loose(notes):
    job = ledger(notes)
    for note in notes:
        for given_entry in note.entries:
            entry = given_entry.entry
            if entry.kind != "operation" or entry.action not in ("remove", "cut") or entry.status != "done":
                continue
            lines = [line for line in job.removed if given_entry.id in {quote.entry for quote in line.quotes}]
            sides = sum(2 if line.position.side == "both" else 1 for line in lines)
            # "Front wheels off" is both of them.
            both = entry.position.side == "both" or (
                entry.component.said.endswith("s") and entry.position.side is None and lines[0].position.side is not None
            )
            assert sides == (2 if both else 1)
            assert all((line.fate == "loose") == (line.back_quotes == []) for line in lines)
    # A line of its own in the loose ends, or told by that of what it holds.
    loose = {(line.component.id, line.position.model_dump_json()) for line in job.loose_ends if line.why == "removed"}
    for line in job.removed:
        told = (line.component.id, line.position.model_dump_json()) in loose
        if line.fate == "loose" and line.component.id != "wheel_nut" and line.position.side != "both":
            assert told or any(
                one.position.side == "both" and one.component == line.component for one in job.loose_ends
            )
        if line.fate != "loose":
            assert not told


WHOLE_PLACES = st.builds(
    lambda side, axle: f"{side} {axle}", st.sampled_from(["left", "right"]), st.sampled_from(["front", "rear"])
)
STEPS = st.builds(
    operation, st.sampled_from(["lower arm", "headlamp"]), st.sampled_from(["remove", "fit", "replace"]), WHOLE_PLACES
)


@settings(max_examples=150, deadline=None)
@given(jobs(STEPS))
def test_fates_against_an_oracle(notes):
    expected = {}
    for note in sorted(notes, key=lambda note: note.when):
        for given_entry in note.entries:
            entry = given_entry.entry
            where = (entry.component.id, entry.position.side, entry.position.axle)
            if entry.action == "remove":
                expected[where] = "loose"
            elif expected.get(where) == "loose":
                expected[where] = "replaced" if entry.action == "replace" else "put_back"
    lines = ledger(notes).removed
    assert {(line.component.id, line.position.side, line.position.axle): line.fate for line in lines} == expected
    assert len(lines) == len(expected)


if __name__ == "__main__":
    for name in SECTIONS:
        print(name, "from gold entries", ledger_counts(name), "from extracted entries", ledger_counts(name, None))
