"""Finding by understanding: what matches, what never does, in which order, page by page, and why."""

import re
from datetime import date

import pytest
from handmade import finding, log, named, note
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from notelog.archive import Archive, Vehicle, corrections, similar
from notelog.archive.asking import ask, find_jobs
from notelog.archive.vocabulary import vocabulary
from notelog.errors import InputError

TODAY = date(2026, 11, 25)
KNOWN = vocabulary()


def add(archive, job, *findings, text="As it was said.", dictated=None, vehicle=None):
    """A job with a note and findings, each (component, condition) with more fields as it has them."""
    of = note(f"{text} Job {job}.")
    made = [finding(of, one[0], one[1], text.split()[0], **(one[2] if len(one) > 2 else {})) for one in findings]
    archive.add(job, [(of, log(of, made))], vehicle=vehicle, dictated=dictated)


def place(side=None, axle=None):
    return {"position": {"side": side, "axle": axle}}


@pytest.fixture(scope="module")
def archive(tmp_path_factory):
    with Archive(tmp_path_factory.mktemp("find") / "jobs.sqlite", create=True) as archive:
        hatch, van = Vehicle.given(model="Type 5 hatch", year=2016), Vehicle.given(make="Zonda", model="panel van")
        add(archive, "arm right", ("lower arm", "bent", place("right", "front")), dictated="2025-06-01", vehicle=hatch)
        add(archive, "arm left", ("lower arm", "bent", place("left", "front")), dictated="2026-02-01", vehicle=van)
        add(archive, "arm buckled", ("lower arm", "buckled", place("right", "front")), dictated="2026-03-01")
        add(archive, "arm denied", ("lower arm", "bent", {"status": "absent"} | place("right", "front")))
        add(archive, "arm suspected", ("lower arm", "bent", {"status": "suspected"} | place("right", "front")))
        add(archive, "joint", ("ball joint", "broken", place("right", "front")))
        add(archive, "kerb", ("wheel", "buckled", place("left", "front")), text="Slid into a kerbstone in the wet.")
        add(archive, "both", ("lower arm", "bent", place("right", "front")), ("wheel", "buckled", place("both", "front")))
        add(archive, "bonnet", ("bonnet", "dented"), text="A kerbstone flew up.")
        add(archive, "rejected", ("hub", "cracked"))
        (hub,) = archive.connection.execute("SELECT entry_id FROM facts WHERE component_id = 'hub'").fetchone()
        corrections.reject(archive, hub, "Kim")
        yield archive


def found(archive, text, **options):
    asked = ask(archive, text, KNOWN, today=TODAY, driver_side=options.pop("side", "right"))
    return find_jobs(archive, asked, KNOWN, **options)


def jobs(archive, text, **options):
    """The jobs that match in full."""
    return [one.job for one in found(archive, text, **options).jobs if not one.missing]


@pytest.mark.parametrize(
    "text, expected",
    [
        ("bent wishbone offside front", {"arm right", "both"}),
        ("bent control arm driver's side", {"arm right", "both"}),
        ("bent lower arm", {"arm right", "arm left", "both"}),
        ("lower arm bent left", {"arm left"}),
        ("lower arm", {"arm right", "arm left", "both", "arm buckled"} | ({"joint"} if "ball_joint" in KNOWN.with_parts("lower_arm") else set())),
        ("no bend in the lower arm", {"arm denied"}),
        ("suspected bent lower arm", {"arm suspected"}),
        ("buckled wheel nearside", {"both", "kerb"}),
        ("buckled wheel offside", {"both"}),
        ("lower arm bent and wheel buckled", {"both"}),
        ("bent lower arm hatchback", {"arm right"}),
        ("bent lower arm 2016 hatchback", {"arm right"}),
        ("bent lower arm 2017 hatchback", set()),
        ("bent lower arm zonda", {"arm left"}),
        ("bent lower arm last year", {"arm right"}),
        ("bent lower arm since January 2026 until March 2026", {"arm left"}),
        ("hood dented", {"bonnet"}),
        ("damaged wheel", {"both", "kerb"}),
        ("cracked hub", set()),
        ("kerbstone", {"kerb", "bonnet"}),
        ("buckled wheel kerbstone", {"kerb", "both"}),
        ('buckled wheel "in the wet"', {"kerb"}),
        ("hatchback", {"arm right"}),
        ("nearside", {"arm left", "both", "kerb"}),
    ],
)
def test_what_matches(archive, text, expected):
    assert set(jobs(archive, text)) == expected


def test_rejected_entries_are_found_when_they_are_asked_for(archive):
    assert jobs(archive, "rejected cracked hub") == ["rejected"]


def test_words_that_mean_nothing_rank(archive):
    assert jobs(archive, "buckled wheel") == ["both", "kerb"]
    assert jobs(archive, "buckled wheel kerbstone") == ["kerb", "both"]


def test_what_is_near_comes_behind_and_says_what_is_missing(archive):
    page = found(archive, "bent wishbone offside front")
    near = [one for one in page.jobs if one.missing]
    assert [one.job for one in near] == ["arm buckled"]
    assert page.jobs.index(near[0]) == page.total == 2
    assert "buckled is nearly bent" in near[0].entries[0].why
    assert found(archive, "bent wishbone offside front", exact=True).near == 0
    both = found(archive, "lower arm bent, wheel buckled")
    assert [one.job for one in both.jobs][0] == "both"
    assert {one.job for one in both.jobs[1:]} >= {"arm left", "kerb"}


def test_never_the_other_side_nor_what_was_denied(archive):
    everything = found(archive, "bent wishbone offside front", limit=100)
    assert not {"arm left", "arm denied", "arm suspected"} & {one.job for one in everything.jobs}


def test_the_same_question_in_both_dialects_and_by_either_side(archive):
    def ids(text, side="right"):
        return [(one.job, [hit.entry["id"] for hit in one.entries]) for one in found(archive, text, side=side).jobs]

    assert ids("bent wishbone nearside front") == ids("bent control arm passenger side front") == ids("bent lower arm left front")
    assert ids("bent wishbone nearside front") == ids("bent control arm driver's side front", side="left")
    assert ids("bonnet dented") == ids("hood dented") != []


def test_pages_are_the_whole_list_in_pieces(archive):
    whole = [one.job for one in found(archive, "lower arm bent", limit=50).jobs]
    pieces = [one.job for at in range(len(whole)) for one in found(archive, "lower arm bent", limit=1, offset=at).jobs]
    assert pieces == whole and len(whole) == len(set(whole)) > 3
    assert found(archive, "lower arm bent", limit=5, offset=100).jobs == []


def test_what_is_told_of_a_job(archive):
    (first, *_) = found(archive, "buckled wheel nearside kerbstone").jobs
    assert (first.job, first.vehicle, first.missing) == ("kerb", Vehicle(), [])
    (hit,) = first.entries
    assert (hit.entry["component"]["id"], hit.words, hit.why) == ("wheel", "Slid", ["wheel", "buckled", "left"])


def test_a_corrected_entry_is_found_as_it_stands(tmp_path):
    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        add(archive, "1", ("hub", "cracked"))
        corrections.change(archive, 1, {"component": "strut", "side": "left"}, "Kim")
        assert jobs(archive, "cracked strut nearside") == ["1"]
        assert jobs(archive, "cracked hub") == []


def test_entries_that_are_no_findings(tmp_path):
    of = note("Fitted a new radiator. Strut ordered. Took nothing off. The hub was not removed.")
    radiator, strut, hub = named("radiator"), named("strut"), named("hub")
    said = {"start": 0, "end": 6, "text": "Fitted"}
    made = [
        {"kind": "operation", "component": radiator, "action": "replace", "status": "done", "evidence": said},
        {"kind": "part", "component": strut, "state": "ordered", "evidence": said},
        {"kind": "operation", "component": hub, "action": "remove", "status": "not_done", "evidence": said},
    ]
    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        archive.add("1", [(of, log(of, made))])
        assert jobs(archive, "replaced radiator") == jobs(archive, "strut ordered") == ["1"]
        assert jobs(archive, "removed hub") == jobs(archive, "strut on hand") == []
        assert jobs(archive, "not removed hub") == ["1"]


@pytest.mark.parametrize(
    "text", ["'; DROP TABLE jobs; --", 'strut" OR "1', "NEAR(strut, bent)", "col: strut*", "strut AND NOT bent", "1=1", "% hub \\", "strut^2 -bent"]
)
def test_other_languages_are_only_words(archive, text):
    before = archive.connection.execute("SELECT count(*) FROM jobs").fetchone()[0]
    found(archive, text)
    assert archive.connection.execute("SELECT count(*) FROM jobs").fetchone()[0] == before == 10


@settings(deadline=None, max_examples=100, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.one_of(st.text(max_size=80), st.lists(st.sampled_from(
    ["strut", "bent", "lower arm", "no", "or", "wheel", "left", "front", "2025", "since", ",", ":", '"', "hatchback", "kerbstone",
     "OR", "*", "rejected", "replaced", "maybe", "with", "zonda", "ordered", "damaged"]), max_size=14).map(" ".join)))  # fmt: skip
def test_any_question_is_answered_or_refused_in_a_sentence(archive, text):
    try:
        page = found(archive, text, limit=3)
    except InputError as refused:
        assert str(refused).endswith(".")
    else:
        assert len(page.jobs) == min(3, page.total + page.near) or page.near == 0 and len(page.jobs) <= 3


@pytest.mark.parametrize("text", ["bent lower arm", "bent wishbone offside front hatchback last year", "no play in the hub", "anything seized",
                                  "replaced radiator", "lower arm bent, wheel buckled", "kerbstone", "wheel kerbstone", "2025", "strut ordered", "offside", "damaged nearside"])  # fmt: skip
def test_nothing_is_scanned_in_full(archive, text):
    """Every statement of find and like goes by an index: SQLite's own plan of each is looked at."""
    statements = []
    archive.connection.set_trace_callback(statements.append)
    try:
        found(archive, text)
        similar.similar(archive, similar.case_of_job(archive, "both", KNOWN), KNOWN)
    finally:
        archive.connection.set_trace_callback(None)
    asked = [one for one in statements if one.lstrip().startswith(("SELECT", "WITH"))]
    assert len(asked) > 5
    for one in asked:
        for row in archive.connection.execute(f"EXPLAIN QUERY PLAN {one}"):
            assert not re.match(r"SCAN (facts|entries|notes|jobs)\b", row["detail"]), (row["detail"], one)
