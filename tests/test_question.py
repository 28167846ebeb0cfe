"""Questions in the words of the trade: what they are read as, in both dialects, with mistakes, and when they are none."""

from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from notelog.archive.question import MOST_CHARACTERS, narrowed, read_question, told
from notelog.archive.times import times_in
from notelog.archive.vocabulary import vocabulary
from notelog.errors import InputError

TODAY = date(2026, 11, 25)
KNOWN = vocabulary()


def read(text, side="right", in_use=lambda word: ""):
    return read_question(text, KNOWN, driver_side=side, today=TODAY, in_use=in_use)


def wanted(text, side="right"):
    return [
        (one.components, one.conditions or one.actions or one.state, dict(one.places), one.status)
        for one in read(text, side).wanted
    ]


RIGHT_FRONT = {"side": ("right",), "axle": ("front",)}
LEFT_FRONT = {"side": ("left",), "axle": ("front",)}


@pytest.mark.parametrize(
    "text, expected",
    [
        ("bent strut offside front", [(("strut",), ("bent",), RIGHT_FRONT, "")]),
        ("front offside strut is bent", [(("strut",), ("bent",), RIGHT_FRONT, "")]),
        ("the front strut was bent on the right", [(("strut",), ("bent",), RIGHT_FRONT, "")]),
        ("strut bent and wheel bearing noisy", [(("strut",), ("bent",), {}, ""), (("wheel_bearing",), ("noisy",), {}, "")]),
        ("sill and door dented left", [(("sill",), ("dented",), {"side": ("left",)}, ""), (("door",), ("dented",), {"side": ("left",)}, "")]),
        ("n/s/f: hub cracked, lower arm bent", [(("hub",), ("cracked",), LEFT_FRONT, ""), (("lower_arm",), ("bent",), LEFT_FRONT, "")]),
        ("cracked or shattered headlamp", [(("headlamp",), ("cracked", "shattered"), {}, "")]),
        ("radiator or condenser leaking", [(("radiator", "condenser"), ("leaking",), {}, "")]),
        ("no play in the wheel bearing", [(("wheel_bearing",), ("play",), {}, "absent")]),
        ("hub is not cracked", [(("hub",), ("cracked",), {}, "absent")]),
        ("bent hub without play in the wheel bearing", [(("hub",), ("bent",), {}, ""), (("wheel_bearing",), ("play",), {}, "absent")]),
        ("suspected bent subframe", [(("subframe",), ("bent",), {}, "suspected")]),
        ("replaced radiator", [(("radiator",), ("replace",), {}, "")]),
        ("strut ordered", [(("strut",), "ordered", {}, "")]),
        ("lower arm, bent", [(("lower_arm",), ("bent",), {}, "")]),
        ("anything seized at the rear", [((), ("seized",), {"axle": ("rear",)}, "")]),
        ("front or rear subframe corroded", [(("subframe",), ("corroded",), {"axle": ("front", "rear")}, "")]),
    ],
)  # fmt: skip
def test_what_is_wanted(text, expected):
    assert wanted(text) == expected


@pytest.mark.parametrize(
    "uk, us",
    [
        ("wishbone bent nearside front", "control arm bent passenger side front"),
        ("bonnet buckled", "hood buckled"),
        ("wing dented offside", "fender dented driver's side"),
        ("windscreen cracked", "windshield cracked"),
        ("track rod end bent n/s", "outer tie rod bent left"),
        ("anti-roll bar broken", "sway bar broken"),
        ("boot lid dented, bumper torn", "trunk lid dented, bumper torn"),
    ],
)
def test_both_dialects_ask_for_the_same(uk, us):
    assert wanted(uk) == wanted(us) != []


def test_nearside_follows_the_driver():
    assert wanted("nearside hub bent", "right") == wanted("left hub bent") == wanted("driver's side hub bent", "left")
    assert wanted("driver's side hub bent", "right") == wanted("offside hub bent", "right") == wanted("right hub bent", "left")


@pytest.mark.parametrize(
    "text, since, until",
    [
        ("bent strut last year", "2025-01-01", "2025-12-31"),
        ("bent strut this month", "2026-11-01", "2026-11-30"),
        ("bent strut last month", "2026-10-01", "2026-10-31"),
        ("bent strut since March", "2026-03-01", None),
        ("bent strut since December", "2025-12-01", None),
        ("bent strut in 2024", "2024-01-01", "2024-12-31"),
        ("bent strut 2024", "2024-01-01", "2024-12-31"),
        ("bent strut 2024-02", "2024-02-01", "2024-02-29"),
        ("bent strut before May 2025", None, "2025-04-30"),
        ("bent strut after 2025-03-31", "2025-04-01", None),
        ("bent strut between March and May 2025", "2025-03-01", "2025-05-31"),
        ("bent strut in the last 2 weeks", "2026-11-11", None),
        ("bent strut yesterday", "2026-11-24", "2026-11-24"),
        ("bent strut last week", "2026-11-16", "2026-11-22"),
        ("bent strut since 2024 before 2026", "2024-01-01", "2025-12-31"),
        ("it may be a bent strut", None, None),
    ],
)
def test_times(text, since, until):
    asked = read(text)
    assert (asked.since, asked.until) == (since, until)
    assert asked.wanted[0].components == ("strut",)


def test_no_time_where_there_is_none():
    assert times_in("torque 2030 Nm on the 1999x hub, march on", TODAY) == []


def test_vehicles():
    asked = read("bent strut hatchback 2016 estate car", in_use=lambda word: "")
    assert (asked.classes, asked.model_years, asked.since) == (("hatchback", "estate"), (2016,), None)
    asked = read("bent strut zonda", in_use=lambda word: "vehicle" if word == "zonda" else "")
    assert (asked.vehicle_words, asked.rest) == (("zonda",), ())


@pytest.mark.parametrize(
    "typed, meant",
    [("wishbnoe", "wishbone"), ("stub axel", "axle"), ("radiater", "radiator"), ("linc", "link"), ("snaped", "snapped"),
     ("suspenion", "suspension"), ("bering", "bearing"), ("windsceen", "windscreen")],
)  # fmt: skip
def test_typing_mistakes_are_forgiven_and_told(typed, meant):
    asked = read(f"bent {typed}")
    assert [one for _, one in asked.taken] == [meant]
    assert told(asked, KNOWN)[0][0] == "taken as"


def test_a_word_that_the_archive_has_is_no_mistake():
    assert read("bent hub bering", in_use=lambda word: "note").taken == ()


@pytest.mark.parametrize("text", ["", " ", '"', "***", "()", "_", "\0", "“”", "-- ; --"])
def test_no_word(text):
    with pytest.raises(InputError, match="no word to look for"):
        read(text)


@pytest.mark.parametrize("text", ["the and of", "with which", "show me all the jobs", "is it the one"])
def test_only_words_that_stand_everywhere(text):
    with pytest.raises(InputError, match="stand in every note"):
        read(text)


@pytest.mark.parametrize("text", ["since 2026 before 2025 bent strut", "after May 2025 until April 2025"])
def test_times_that_exclude_each_other(text):
    with pytest.raises(InputError, match="no day is both"):
        read(text)


def test_too_long():
    with pytest.raises(InputError, match=f"may have {MOST_CHARACTERS}"):
        read("bent strut " * 1000)
    with pytest.raises(InputError, match="ask for less at once"):
        read(", ".join(f"{what} {part}" for what in ("bent", "cracked") for part in ("hub", "strut", "sill", "door", "wheel", "radiator", "bonnet")))


def test_options_take_the_place_of_what_the_words_said():
    asked = narrowed(read("bent strut"), KNOWN, component=["sway bar"], place=["nearside"], since="2025", today=TODAY)
    assert asked.wanted[0].components == ("anti_roll_bar",)
    assert asked.wanted[0].conditions == ("bent",)
    assert dict(asked.wanted[0].places) == {"side": ("left",)}
    assert asked.since == "2025-01-01"
    for options, said in [({"component": ["flux gate"]}, "no component"), ({"place": ["moon"]}, "no place"),
                          ({"since": "soon"}, "no time"), ({"since": "2026", "until": "2025"}, "no day is both")]:  # fmt: skip
        with pytest.raises(InputError, match=said):
            narrowed(read("bent strut"), KNOWN, today=TODAY, **options)


@settings(deadline=None, max_examples=150)
@given(st.one_of(
    st.text(max_size=120),
    st.lists(st.sampled_from(["strut", "bent", "no", "or", "and", "left", "front", "2025", "since", ",", ":", '"', "hatchback",
                              "NEAR", "OR", "*", "rejected", "may", "replaced", "maybe", "with", "';--", "(", "ordered"]), max_size=20)
    .map(" ".join),
))  # fmt: skip
def test_any_question_is_read_or_refused_in_a_sentence(text):
    try:
        asked = read(text)
    except InputError as refused:
        assert str(refused).rstrip().endswith(".")
    else:
        assert told(asked, KNOWN)
