"""The causes of misses: each kind of cause is told from the log and the text, and every miss has one."""

import json
from pathlib import Path

import pytest
from handmade import evidence
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from notelog import lexicon
from notelog.causes import CAUSES, Caused, Read, causes, counted, read
from notelog.cli import main
from notelog.log import Held, log_note
from notelog.models import Log
from notelog.reading import read_text
from notelog.scoring import GoldNote, Miss, Names, load_gold, misses

LEXICON = lexicon.load()
NAMES = Names(LEXICON.entries())
GOLD = load_gold(Path(__file__).parent / "gold")
TEXT = "The lower arm is bent and the hub is fine. If the wing were dented you would see it. Two hours, 18 mil bolts."


def thing(name):
    found = LEXICON.find(name)
    return {"id": found.id if found else "unknown", "label": found.label if found else name, "said": name}


def finding(name, condition, words, status="present", **more):
    return {"kind": "finding", "component": thing(name), "condition": condition, "status": status,
            "evidence": evidence(TEXT, words), "confidence": 0.9, **more}  # fmt: skip


def want(name, condition, status="present"):
    return {"kind": "finding", "component": name, "condition": condition, "status": status}


def made_log(entries=(), found=()):
    """A log of TEXT with these entries; `found` are its mentions: kind, id, words."""
    return Log.model_validate({
        "schema": "notelog/1", "note": {"source": "", "sha256": "", "driver_side": "right"}, "entries": list(entries),
        "mentions": [{"kind": kind, "id": id, "start": TEXT.index(words), "end": TEXT.index(words) + len(words)}
                     for kind, id, words in found], "warnings": [],
    })  # fmt: skip


def told(gold_entries, entries=(), found=(), ruled=(), held=()):
    gold = GoldNote(id="x", driver_side="right", text=TEXT, entries=list(gold_entries))
    log = made_log(entries, found)
    kept = [Held(made_log([entry]).entries[0], by) for entry, by in held]
    of = Read(log, [entry.model_dump() for entry in made_log(ruled).entries], kept)
    return [one.cause for one in causes(gold, misses(gold, log.entries, NAMES), of, LEXICON)]


ARM, BENT = ("component", "lower_arm", "lower arm"), ("condition", "bent", "bent")
ARM_BENT = finding("lower arm", "bent", "lower arm is bent")


@pytest.mark.parametrize(
    ("given", "cause"),
    [
        ({"found": [BENT]}, "part in no list"),
        ({"found": [ARM]}, "value in no list"),
        ({"found": []}, "neither in a list"),
        ({"found": [ARM, BENT]}, "not joined"),
        ({"found": [ARM, BENT], "ruled": [ARM_BENT]}, "held back by the learnt component"),
        ({"found": [ARM, BENT], "held": [(ARM_BENT, "hypothetical")]}, "held back by a qualifier"),
        ({"found": [ARM, BENT], "held": [(ARM_BENT, "retracted")]}, "held back by a qualifier"),
        ({"found": [ARM, BENT], "ruled": [finding("hub", "bent", "hub is fine")]}, "not joined"),
        ({"found": [ARM, BENT], "entries": [finding("hub", "bent", "bent and the hub")]}, "joined to the wrong part"),
        ({"found": [BENT], "entries": [finding("hub", "bent", "bent and the hub")]}, "part in no list"),
        ({"found": [ARM, BENT], "entries": [{**ARM_BENT, "status": "suspected"}]}, "wrong status"),
        ({"found": [ARM, BENT], "entries": [{**ARM_BENT, "condition": "cracked"}]}, "wrong value"),
        ({"found": [ARM], "entries": [{**ARM_BENT, "condition": "cracked"}]}, "value in no list"),
    ],
)
def test_a_finding_that_is_missing_or_half_right(given, cause):
    assert told([want("lower arm", "bent")], **given) == [cause]


def test_synonyms_and_plurals_are_the_same_part():
    gold = [want("bottom arm", "bent")]
    assert told(gold, found=[ARM, BENT]) == ["not joined"]
    assert told([want("dented", "bent")], found=[("component", "unknown", "dented"), BENT]) == ["not joined"]


@pytest.mark.parametrize(
    ("gold", "found", "cause"),
    [
        ({"kind": "labour", "hours": 2}, [], "figure not heard"),
        ({"kind": "labour", "hours": 2}, [("quantity", "h", "Two hours")], "not joined"),
        ({"kind": "cost", "amount": 5, "currency": "GBP"}, [("quantity", "h", "Two hours")], "figure not heard"),
        ({"kind": "tool", "tool": "breaker bar"}, [], "part in no list"),
        ({"kind": "material", "material": "brake fluid"}, [], "part in no list"),
        ({"kind": "fastener", "type": "bolt", "size": {"value": 18, "unit": "mm"}}, [], "value in no list"),
        ({"kind": "fastener", "type": "bolt", "size": {"value": 18, "unit": "mm"}}, [("fastener", "bolt", "bolts")], "not joined"),
        ({"kind": "part", "component": "lower arm", "state": "needed"}, [ARM], "not joined"),
        ({"kind": "part", "component": "lower arm", "state": "needed"}, [], "part in no list"),
    ],
)  # fmt: skip
def test_what_is_missing_of_other_kinds(gold, found, cause):
    assert told([gold], found=found) == [cause]


@pytest.mark.parametrize(
    ("entry", "more", "cause"),
    [
        (finding("wing", "dented", "wing were dented"), {}, "supposed or general talk taken for fact"),
        (finding("hub", "cracked", "hub is fine"), {"held": [(finding("hub", "cracked", "hub is fine"), "general")]},
         "supposed or general talk taken for fact"),
        (finding("wibble", "cracked", "hub is fine"), {"ruled": [finding("wibble", "cracked", "hub is fine")]}, "part that is none"),
        (finding("hub", "cracked", "hub is fine"), {}, "made up by the learnt component"),
        (finding("hub", "cracked", "hub is fine"), {"ruled": [finding("hub", "cracked", "hub is fine")]}, "no such line in the gold note"),
    ],
)  # fmt: skip
def test_what_is_made_up(entry, more, cause):
    assert told([], entries=[entry], **more) == [cause]


def test_what_is_made_up_beside_a_right_entry():
    """The right one is matched; the other one differs from it in its part, its status or its condition."""
    gold = [want("lower arm", "bent")]
    for other, cause in (
        (finding("hub", "bent", "bent and the hub"), "joined to the wrong part"),
        ({**ARM_BENT, "status": "absent"}, "wrong status"),
        ({**ARM_BENT, "condition": "worn"}, "wrong value"),
    ):
        assert told(gold, entries=[ARM_BENT, other], ruled=[ARM_BENT, other]) == [cause]


def test_the_words_that_a_miss_is_about_are_quoted():
    gold = GoldNote(id="x", driver_side="right", text=TEXT, entries=[want("lower arm", "bent")])
    log = made_log(found=[ARM, BENT])
    [one] = causes(gold, misses(gold, [], NAMES), Read(log, [], []), LEXICON)
    assert "lower arm is bent" in one.words
    false = Miss("finding", "false", None, {**finding("wing", "dented", "wing were dented")})
    [one] = causes(gold, [false], Read(log, [], []), LEXICON)
    assert one.words == "If the wing were dented you would see it"


def test_every_miss_of_the_gold_notes_has_a_cause():
    found: list[Caused] = []
    for gold in GOLD[:8]:
        log = log_note(read_text(gold.text), gold.driver_side)
        missed = misses(gold, log.entries, NAMES)
        made = causes(gold, missed, read(gold, log, LEXICON), LEXICON)
        assert [one.miss for one in made] == missed
        found += made
    assert {one.cause for one in found} <= set(CAUSES)
    assert sum(counted(found).values()) == len(found) > 20
    assert list(counted(found)) == [cause for cause in CAUSES if cause in counted(found)]


@settings(deadline=None, max_examples=20, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(GOLD), st.sampled_from(GOLD), st.randoms(use_true_random=False))
def test_causes_are_told_of_any_two_notes_put_together(one, other, random):
    """The log of one note against the gold entries of another: nearly all is missing or made up, and nothing fails."""
    words = one.text.split()
    at = random.randrange(max(1, len(words) - 25))
    gold = GoldNote(id="x", driver_side="right", text=" ".join(words[at : at + 25]), entries=other.entries[:6])
    log = log_note(read_text(gold.text), "right")
    missed = misses(gold, log.entries, NAMES)
    assert all(made.cause in CAUSES for made in causes(gold, missed, read(gold, log, LEXICON), LEXICON))


# --- the command -----------------------------------------------------------------------------------


@pytest.fixture
def run(tmp_path, monkeypatch, capfd):
    monkeypatch.setenv("NOTELOG_ARCHIVE", str(tmp_path / "jobs.sqlite"))
    monkeypatch.setenv("COLUMNS", "100")
    gold = {"id": "one", "driver_side": "right", "text": "The hub is cracked. The sprocket is bent.", "entries": [
        want("hub", "cracked"), want("anti-roll bar", "bent"), want("lower arm", "worn"), want("strut", "worn")]}  # fmt: skip
    (tmp_path / "one.json").write_text(json.dumps(gold))

    def run(*arguments):
        capfd.readouterr()
        assert main(["score", str(tmp_path / "one.json"), "--misses", *arguments]) == 0
        return capfd.readouterr().out

    return run


def test_counts_come_first_and_then_examples(run):
    out = run()
    assert max(map(len, out.splitlines())) <= 100
    assert out.index("Cause ") < out.index("neither in a list  2 misses")
    assert "lower arm, worn, present" in out and "strut, worn, present" in out
    assert "... and 1 more" in run("--examples", "1")
    assert "In the gold note" not in run("--examples", "0")


def test_json_has_the_cause_of_every_miss(run):
    found = json.loads(run("--json", "--examples", "1"))
    assert sum(found["causes"].values()) == len(found["misses"]) >= 3
    assert found["causes"]["neither in a list"] == 2
    assert all({"note", "kind", "what", "gold", "predicted", "field", "cause", "words"} == set(one) for one in found["misses"])
