"""Similar jobs and what to look at besides: the rule of likeness, planted chances recovered, Wilson's interval."""

import json
import random
from decimal import Decimal

import pytest
from handmade import finding, log, named, note
from statsmodels.stats.proportion import proportion_confint

from notelog.archive import Archive, Vehicle, corrections, similar
from notelog.archive.likeness import Comparer, Damage, idf
from notelog.archive.look_too import LEAST_JOBS, look_too, such_jobs, wilson, with_numbers
from notelog.archive.vocabulary import vocabulary
from notelog.cli import main
from notelog.errors import InputError

KNOWN = vocabulary()


def add(archive, job, *damage, **more):
    """A job with a note of findings, each (component, condition, more fields...)."""
    of = note(f"As it was said of job {job}.")
    made = [finding(of, one[0], one[1], "As it was said", **(one[2] if len(one) > 2 else {})) for one in damage]
    archive.add(job, [(of, log(of, made))], **more)


def at(side, axle="front", **more):
    return {"position": {"side": side, "axle": axle}, **more}


@pytest.fixture
def archive(tmp_path):
    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        yield archive


def alike(archive, reference):
    return {one.job: one.likeness for one in similar.similar(archive, similar.case_of_job(archive, reference, KNOWN), KNOWN)}


# --- likeness --------------------------------------------------------------------------------------


def test_the_order_of_likeness(archive):
    bent = [("lower arm", "bent", at("left")), ("wheel", "buckled", at("left"))]
    add(archive, "this", *bent)
    add(archive, "same", *bent)
    add(archive, "mirrored", ("lower arm", "bent", at("right")), ("wheel", "buckled", at("right")))
    add(archive, "kindred", ("lower arm", "buckled", at("left")), ("wheel", "buckled", at("left")))
    add(archive, "half", ("lower arm", "bent", at("left")))
    add(archive, "other side of one", ("lower arm", "bent", at("right")), ("wheel", "buckled", at("left")))
    add(archive, "elsewhere", ("bonnet", "dented"))
    found = alike(archive, "this")
    assert "this" not in found and "elsewhere" not in found
    assert found["same"].alike == found["mirrored"].alike == 1.0
    assert (found["same"].mirrored, found["mirrored"].mirrored) == (False, True)
    assert 1 > found["kindred"].alike > found["half"].alike > 0.3
    assert 1 > found["other side of one"].alike
    assert [one.component for one in found["half"].here_only] == ["wheel"]
    assert found["half"].there_only == []


def test_rare_damage_weighs_more(archive):
    for number in range(20):
        add(archive, f"common {number}", ("bumper", "scratched"))
    add(archive, "rare", ("steering rack", "leaking"))
    add(archive, "this", ("bumper", "scratched"), ("steering rack", "leaking"))
    found = similar.similar(archive, similar.case_of_job(archive, "this", KNOWN), KNOWN)
    assert found[0].job == "rare"
    assert idf(1, 22) > idf(21, 22)


def test_relatives_count_in_part():
    comparer = Comparer(KNOWN, lambda damage: 1.0)

    def much(one, other):
        return comparer.much([Damage(*one)], [Damage(*other)])[0]

    same = much(("strut", "broken", "left", "front"), ("strut", "broken", "left", "front"))
    part = much(("strut", "broken", "left", "front"), ("strut_top_mount", "broken", "left", "front"))
    corner = much(("strut", "broken", "left", "front"), ("lower_arm", "broken", "left", "front"))
    assert same == 1 > part > corner > 0
    assert much(("strut", "broken", "left", "front"), ("lower_arm", "broken", "left", "rear")) == 0
    assert much(("strut", "broken", "left", "front"), ("bonnet", "broken", "left", "front")) == 0


def test_likeness_is_the_same_both_ways_round_for_one_damage_and_never_above_one():
    dice = random.Random(4)
    parts = ["strut", "strut_top_mount", "lower_arm", "wheel", "bonnet", "radiator", "hub"]
    comparer = Comparer(KNOWN, lambda damage: 1.0 + len(damage.component) / 10)

    def some():
        return [Damage(dice.choice(parts), dice.choice(["bent", "buckled", "leaking"]), dice.choice(["left", "right", None, "both"]),
                       dice.choice(["front", "rear", None])) for _ in range(dice.randint(1, 4))]  # fmt: skip

    for _ in range(200):
        one, other = some(), some()
        assert 0 <= comparer.much(one, other)[0] <= 1 + 1e-9
        assert comparer.much(one, one)[0] == pytest.approx(1)
        assert comparer.much(one[:1], other[:1]) == pytest.approx(comparer.much(other[:1], one[:1]))
        turned = [damage.turned() for damage in other]
        assert comparer.much(one, other) == pytest.approx(comparer.much(one, turned))


def test_the_vehicle_is_a_mild_weight(archive):
    for name, model in (("this", "hatch"), ("other class", "van"), ("same class", "hatchback"), ("not known", None)):
        add(archive, name, ("hub", "cracked", at("left")), vehicle=Vehicle.given(model=model))
    found = alike(archive, "this")
    assert found["same class"].alike == found["not known"].alike == 1 > found["other class"].alike == 0.9


def test_denied_suspected_good_and_rejected_is_no_damage(archive):
    add(archive, "this", ("hub", "cracked"))
    add(archive, "denied", ("hub", "cracked", {"status": "absent"}))
    add(archive, "suspected", ("hub", "cracked", {"status": "suspected"}))
    add(archive, "good", ("hub", "good"))
    add(archive, "rejected", ("hub", "cracked"))
    (entry,) = archive.connection.execute("SELECT max(id) FROM entries").fetchone()
    corrections.reject(archive, entry, "Kim")
    assert alike(archive, "this") == {}
    with pytest.raises(InputError, match="Job good has no damage to look for"):
        similar.case_of_job(archive, "good", KNOWN)
    with pytest.raises(InputError, match="The note has no damage to look for"):
        similar.case_of_entries([])


# --- look here too ---------------------------------------------------------------------------------


@pytest.mark.parametrize("of", [1, 2, 5, 9, 50, 1000])
def test_the_interval_is_that_of_statsmodels(of):
    for successes in {0, 1, of // 3, of // 2, of - 1, of}:
        assert wilson(successes, of) == pytest.approx(proportion_confint(successes, of, method="wilson"), abs=1e-12)
    assert wilson(0, 0) == (0, 1)


def planted(archive, jobs, dice, chances):
    """Jobs of one planted kind, with companions at their chances, among as many others."""
    for number in range(jobs):
        with_them = [(part, "broken") for part, chance in chances.items() if dice.random() < chance]
        add(archive, f"kind {number}", ("lower arm", "bent", at(dice.choice(["left", "right"]))), ("wheel", "buckled"), *with_them)
        add(archive, f"other {number}", ("bonnet", "dented"), ("bumper", "scratched"))


def test_planted_chances_are_recovered(tmp_path):
    """Over 200 random archives the stated interval holds the planted share in 93 to 97 % of the cases."""
    dice = random.Random(2026)
    parts = ["inner tie rod", "strut", "hub", "anti-roll bar link"]
    cases = held = 0
    for number in range(200):
        with Archive(tmp_path / f"{number}.sqlite", create=True) as archive:
            archive.connection.execute("PRAGMA synchronous = OFF")
            chances = {part: dice.uniform(0.3, 0.9) for part in parts}
            with archive.writing():
                planted(archive, dice.randint(30, 60), dice, chances)
                add(archive, "this", ("lower arm", "bent", at("left")), ("wheel", "buckled"))
            case = similar.case_of_job(archive, "this", KNOWN)
            found = {one.label: one for one in look_too(archive, case, KNOWN, limit=99)}
            for part, chance in chances.items():
                cases += 1
                held += part in found and found[part].low <= chance <= found[part].high
    assert cases == 800
    assert 0.93 <= held / cases <= 0.97, held / cases


def test_few_jobs_never_shout(archive):
    for number in range(LEAST_JOBS - 1):
        add(archive, f"kind {number}", ("hub", "cracked"), ("strut", "bent"))
    add(archive, "this", ("hub", "cracked"))
    case = similar.case_of_job(archive, "this", KNOWN)
    assert look_too(archive, case, KNOWN) == []
    for number in range(20):
        add(archive, f"other {number}", ("bonnet", "dented"))
    add(archive, "one more", ("hub", "cracked"), ("strut", "bent"))
    (one,) = look_too(archive, case, KNOWN)
    assert (one.jobs, one.of, one.share) == (5, 5, 1.0)
    assert one.question == "strut: damaged on 5 of 5 such jobs, mostly bent; not mentioned here"
    assert one.smoothed < 0.75


def test_what_is_good_or_mentioned_or_as_frequent_everywhere_is_not_proposed(archive):
    for number in range(12):
        add(archive, f"kind {number}", ("hub", "cracked"), ("strut", "bent"), ("lower arm", "bent"), ("bonnet", "dented"), ("track rod end", "bent"))
        add(archive, f"other {number}", ("bonnet", "dented"))
    add(archive, "this", ("hub", "cracked"), ("strut", "good"), ("lower arm", "bent", {"status": "absent"}))
    found = look_too(archive, similar.case_of_job(archive, "this", KNOWN), KNOWN)
    assert [one.component for one in found] == ["track_rod_end"]


def test_what_is_part_of_a_good_thing_is_not_proposed(archive):
    for number in range(12):
        add(archive, f"kind {number}", ("hub", "cracked"), ("strut top mount", "broken"))
        add(archive, f"other {number}", ("bonnet", "dented"))
    add(archive, "this", ("hub", "cracked"))
    add(archive, "good", ("hub", "cracked"), ("strut", "good"))
    proposed = [[one.component for one in look_too(archive, similar.case_of_job(archive, job, KNOWN), KNOWN)] for job in ("this", "good")]
    assert proposed == [["strut_top_mount"], []]


def test_hours_and_prices_are_medians_of_such_jobs(archive):
    for number, (hours, price) in enumerate([(1.0, 80.0), (1.5, 90.0), (3.0, 200.0), (2.0, 85.0), (1.0, 95.0)]):
        of = note(f"Job {number}. Hub cracked. Replaced the strut, took {hours} hours. Strut is needed, strut was {price} quid.")

        def said(words, of=of):
            start = of.text.index(words)
            return {"start": start, "end": start + len(words), "text": words}

        strut = named("strut")
        made = [
            finding(of, "hub", "cracked", "Hub cracked"), finding(of, "strut", "bent", "Replaced the strut"),
            {"kind": "operation", "component": strut, "action": "replace", "status": "done", "evidence": said("Replaced the strut")},
            {"kind": "labour", "hours": hours, "evidence": said(f"took {hours} hours")},
            {"kind": "part", "component": strut, "state": "needed", "evidence": said("Strut is needed")},
            {"kind": "cost", "amount": price, "currency": "GBP", "component": strut, "evidence": said(f"strut was {price} quid")},
        ]
        archive.add(f"kind {number}", [(of, log(of, made))])
        add(archive, f"other {number}", ("bonnet", "dented"))
    add(archive, "this", ("hub", "cracked"))
    case = similar.case_of_job(archive, "this", KNOWN)
    with archive.reading() as connection:
        among = similar.compared(connection, case, KNOWN)
    assert len(such_jobs(among)) == 5
    (one,) = with_numbers(archive, look_too(archive, case, KNOWN), among)
    assert (one.hours, one.hours_jobs, one.cost, one.currency, one.cost_jobs) == (1.5, 5, Decimal("90"), "GBP", 5)


def test_the_estimate_shows_it_as_an_allowance_apart_from_its_sums(archive, capsysbinary):
    for number in range(8):
        add(archive, f"kind {number}", ("hub", "cracked"), ("strut", "bent"))
        add(archive, f"other {number}", ("bonnet", "dented"))
    add(archive, "this", ("hub", "cracked"))
    add(archive, "sound", ("hub", "good"))

    def run(*arguments):
        assert main(["estimate", *arguments, "--archive", str(archive.path)]) == 0
        return capsysbinary.readouterr().out.decode()

    plain, more = run("this"), run("this", "--allowance")
    assert more.startswith(plain.rstrip()) and "Allowance" not in plain
    assert "strut: damaged on 8 of 8 such jobs, mostly bent; not mentioned here" in more.replace("\n", " ")
    assert "share 100%, 95 % interval 68% to 100%; 47% of all jobs" in more
    told = json.loads(run("this", "--allowance", "--json"))
    assert [one["component"] for one in told.pop("allowance")] == ["strut"]
    without = json.loads(run("this", "--json"))
    assert {key: value for key, value in told.items() if key != "made"} == {key: value for key, value in without.items() if key != "made"}
    assert "give no cause for one" in run("sound", "--allowance")
