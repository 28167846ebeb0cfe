"""What holds for the log of any text whatever: made or refused plainly, it quotes its words and is the same twice."""

import functools
import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

import notelog
from notelog import lexicon
from notelog.errors import InputError
from notelog.log import held_back, log_note
from notelog.models import Log
from notelog.reading import read_text
from notelog.understanding import LEARNT

# The first run of a process loads the lexicon and the pipeline, so that no time limit is put on an example.
slowly = settings(deadline=None, max_examples=200, suppress_health_check=[HealthCheck.too_slow])

PLACES = ["nearside", "offside", "n/s/f", "left front", "rear", "driver's side", "on the other side", "both", "upper"]
TALK = [
    "the", "a", "it", "that", "is", "was", "isn't", "has", "no", "not", "never", "I", "and", "but", "or", "if",
    "had", "been", "would", "might", "think", "looks", "could", "will", "must", "need", "ordered", "same",
    "again", "old", "new", "one", "scrap", "sorry", "said", "took", "off", "put", "back", "on", "out", "torqued",
    "to", "between", "minus", "half", "three", "eighths", "seventeen", "19", "M12", "by", "point", "T", "thirty",
    "mil", "mm", "degrees", "newton", "metres", "foot", "pounds", "quid", "hours", "minutes", "bar", "flange",
    "wibble",
]  # fmt: skip
MARKS = [".", ",", "?", ";", ":", "(", ")", "-", "\n", "\n\n", "[0:42]", "(2:10)", "00:01:15", "&", "'", '"', "…", "’"]


@functools.cache
def trade_words():
    """Names of things, words of conditions and verbs of actions, all of them as the lexicon has them."""
    terms = lexicon.load().terms
    names = {
        name for kind in ("component", "tool", "material", "fastener") for t in terms[kind].values() for name in t.names
    }
    conditions = {word for term in terms["condition"].values() for word in term.fields["predicates"]}
    actions = {word for term in terms["action"].values() for word in term.fields["verbs"]}
    lists = [sorted(names), sorted(conditions), sorted(actions), TALK, PLACES, MARKS]
    return st.one_of(st.text(max_size=8), *map(st.sampled_from, lists))


@st.composite
def talk(draw):
    """Words of the trade, of talk and of neither, in any order and with any marks: what no rule expects."""
    return draw(st.sampled_from([" ", " ", "  ", "\n", ""])).join(
        draw(st.lists(trade_words(), min_size=1, max_size=40))
    )


def cue_time(seconds, mark):
    return f"{seconds // 3600:02}:{seconds // 60 % 60:02}:{seconds % 60:02}{mark}000"


@st.composite
def notes(draw):
    """Talk in every format that is read."""
    texts = draw(st.lists(talk(), min_size=1, max_size=4))
    form = draw(st.sampled_from(["text", "stamped", "srt", "vtt", "json", "segments"]))
    at = draw(st.integers(0, 5000))
    if form == "text":
        return "\n".join(texts)
    if form == "stamped":
        return "\n".join(f"[{(at + 7 * n) // 60}:{(at + 7 * n) % 60:02}] {text}" for n, text in enumerate(texts))
    if form in ("json", "segments"):
        listed = [{"start": at + 7.5 * n, "end": at + 7.5 * n + 7, "text": text} for n, text in enumerate(texts)]
        return json.dumps({"segments": listed} if form == "segments" else listed)
    mark = "," if form == "srt" else "."
    cues = [
        f"{n + 1}\n{cue_time(at + 8 * n, mark)} --> {cue_time(at + 8 * n + 7, mark)}\n{text}\n"
        for n, text in enumerate(texts)
    ]
    return ("WEBVTT\n\n" if form == "vtt" else "") + "\n".join(cues)


def log_or_none(text, driver_side="right"):
    """The log of a text, or None where it is refused as bad input; any other failure is a failure of the test."""
    try:
        return notelog.extract(text, driver_side)
    except InputError as refused:
        sentence = str(refused)
        assert sentence.strip() and "\n" not in sentence.strip() and "Traceback" not in sentence
        return None


def check_quotes(log, text):
    for entry in log.entries:
        evidence = entry.evidence
        assert 0 <= evidence.start < evidence.end <= len(text), entry
        assert evidence.text == text[evidence.start : evidence.end], entry
        if evidence.t_start is not None and evidence.t_end is not None:
            assert evidence.t_start <= evidence.t_end, entry
        assert entry.why and all(re.fullmatch(r"[a-z ]+: [^\n]+", line) for line in entry.why), entry.why
    for mention in log.mentions:
        assert 0 <= mention.start < mention.end <= len(text), mention


# --- any text --------------------------------------------------------------------------------------


@slowly
@given(st.one_of(st.text(), st.text(alphabet=st.characters(codec="utf-8"), max_size=400), talk(), notes()))
@example("\ufeffn/s/f lower arm bent")
@example("the arm\u00a0is\u2028bent\u0085and\x0bthe hub\x0cis cracked")
@example("İ ſ ß ŉ lower arm bent")
@example("bent\u0301 lo\u0308wer arm bent")
@example("\U0001f527 lower arm bent \U0001f527")
@example("[]")
@example('{"segments": [{"start": 0, "end": 1, "text": "drop"}, {"start": 1, "end": 2, "text": "link bent"}]}')
@example("WEBVTT\n\n00:00.000 --> 00:01.000\n<v A>drop</v>\n\n00:01.000 --> 00:02.000\nlink bent")
@example("1/0 inch nut, M0 bolt, minus, between, T, and a half of")
@example("-" * 300 + " bent")
@example("no " * 300 + "play")
@example("same again " * 100)
def test_a_text_is_logged_or_refused_and_the_log_quotes_it(text):
    log = log_or_none(text)
    if log is not None:
        check_quotes(log, text)


@slowly
@given(notes(), st.sampled_from(["left", "right"]))
def test_the_same_text_gives_the_same_log(text, driver_side):
    first, second = log_or_none(text, driver_side), log_or_none(text, driver_side)
    assert (first is None) == (second is None)
    if first is not None:
        assert first.model_dump_json(by_alias=True) == second.model_dump_json(by_alias=True)
        assert [entry.why for entry in first.entries] == [entry.why for entry in second.entries]


@slowly
@given(notes(), st.sampled_from([(), LEARNT, ("notelog_spotter",), ("notelog_judge",), ("notelog_qualifiers",), ("notelog_places", *LEARNT)]))
def test_components_may_be_left_out_of_any_text(text, without):
    """What is measured without a component is measured on any text; what was held back quotes it as well."""
    try:
        note = read_text(text)
    except InputError:
        return
    check_quotes(log_note(note, "right", without), text)
    for held in held_back(note, "right", without):
        assert held.by in ("hypothetical", "general", "other_vehicle", "retracted")
        assert held.entry.evidence.text == text[held.entry.evidence.start : held.entry.evidence.end]


def test_another_process_gives_the_same_log():
    """Nothing hangs on the order of sets, which changes from process to process (PYTHONHASHSEED)."""
    program = "import notelog, sys; print(notelog.extract(sys.stdin.read()).model_dump_json(by_alias=True))"
    logs = {
        subprocess.run(
            [sys.executable, "-c", program],
            input="\n".join(SENTENCES), encoding="utf-8", check=True, stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[1], env={**os.environ, "PYTHONHASHSEED": seed, "PYTHONUTF8": "1"},
        ).stdout
        for seed in ("1", "2", "3")
    }  # fmt: skip
    assert len(logs) == 1
    assert len(json.loads(logs.pop())["entries"]) >= 10


@slowly
@given(notes())
def test_the_log_goes_to_json_and_back(text):
    log = log_or_none(text)
    if log is not None:
        printed = log.model_dump_json(by_alias=True)
        assert Log.model_validate_json(printed).model_dump_json(by_alias=True) == printed


@slowly
@given(notes())
def test_no_fact_is_logged_twice(text):
    """Said twice, logged once: no two entries of a note differ in nothing but their evidence and confidence."""
    log = log_or_none(text)
    if log is not None:
        kept = [entry.model_dump_json(exclude={"evidence", "confidence", "count"}) for entry in log.entries]
        seen = [one for one in kept if kept.count(one) > 1]
        assert not seen


@slowly
@given(talk())
def test_spaces_before_the_first_word_only_move_the_offsets(text):
    log, moved = log_or_none("x. " + text), log_or_none("   x. " + text)
    if log is not None and moved is not None:
        assert [(e.kind, e.evidence.start + 3, e.evidence.text) for e in log.entries] == [
            (e.kind, e.evidence.start, e.evidence.text) for e in moved.entries
        ]


@slowly
@given(talk())
def test_the_other_driver_side_changes_only_sides_and_money(text):
    """Where the driver sits changes left and right and whose money it is; never which parts there are."""
    right, left = log_or_none(text, "right"), log_or_none(text, "left")
    if right is not None and left is not None:
        kinds = [
            sorted(e.kind for e in log.entries if e.kind in ("tool", "material", "labour")) for log in (right, left)
        ]
        assert kinds[0] == kinds[1]


# --- growth ----------------------------------------------------------------------------------------

SENTENCES = [
    "Offside front now, the lower arm is bent and I think the hub might be as well.",
    "No play in the wheel bearing, same again on the other side.",
    "Undid the two eighteen mil bolts with the half inch breaker bar, they were seized, so I soaked them.",
    "had it been worn I'd have swapped it but no it spins lovely camber reads minus one and a half degrees",
    "Ordered a new headlamp, eighty five quid, the old one was smashed, took it off and put the bracket back on.",
]


MOST_LINES_A_WORD = 4000


def lines_run(text, without=()):
    """How many lines of Python run for a text: its work, counted and not timed."""
    count = 0

    def local(frame, event, argument):
        nonlocal count
        count += event == "line"
        return local

    before = sys.gettrace()
    sys.settrace(lambda frame, event, argument: local)
    try:
        log_note(read_text(text), without=without)
    finally:
        sys.settrace(before)
    return count


@pytest.mark.parametrize("between", [" ", "\n", "\n\n"], ids=["one paragraph", "lines", "paragraphs"])
def test_the_work_grows_with_the_length_of_the_note(between):
    """Four times the text is at most five times the work: no part of the way is quadratic."""
    short = between.join(SENTENCES * 4)
    lines_run(short)  # what is made once and kept is made here
    assert lines_run(between.join(SENTENCES * 16)) <= 5 * lines_run(short)


def test_the_work_grows_with_the_length_of_a_note_without_any_mark():
    unmarked = " ".join(SENTENCES).lower().replace(",", "").replace(".", "")
    lines_run(unmarked)
    assert lines_run(" ".join([unmarked] * 16)) <= 5 * lines_run(" ".join([unmarked] * 4))


@pytest.mark.parametrize("word", ["and", "lower arm", "it", "left", "same again", "17", "[0:42]", "(", "the",
                                  "no", "not", "bent", "nut", "17mm", "need", "sorry", "probably", "scrap that"])  # fmt: skip
def test_the_work_grows_with_the_length_of_a_note_that_says_one_word_only(word):
    """By the rules at most five times the work for four times the text; with the learnt components, which may see in the
    thousandth word what they do not see in the first ones, a fixed number of lines for each word."""
    short, long = (" ".join(["lower arm bent.", *[word] * times]) for times in (100, 400))
    lines_run(short, LEARNT)  # what is made once and kept is made here
    assert lines_run(long, LEARNT) <= 5 * lines_run(short, LEARNT)
    for times in (400, 1600):
        text = " ".join(["lower arm bent.", *[word] * times])
        assert lines_run(text) <= MOST_LINES_A_WORD * len(text.split())


def test_the_work_grows_with_the_number_of_things_in_a_note():
    """The same for notes in which every sentence is about another component, so that nothing is said twice."""
    labels = sorted(term.label for term in lexicon.load().terms["component"].values())[:400]
    sentences = [f"The {label} is cracked, I took it off and ordered a new one." for label in labels]
    short, long = " ".join(sentences[::4]), " ".join(sentences)
    lines_run(short)
    assert lines_run(long) <= 5 * lines_run(short)
    assert len(notelog.extract(long).entries) >= 3 * len(notelog.extract(short).entries)
