"""Figures of the archive against pandas and numpy over the same entries; the picture; the commands like and figures."""

import json
import random
import xml.etree.ElementTree as ElementTree
from datetime import date
from decimal import Decimal

import numpy
import pandas
import pytest
from handmade import finding, log, named, note

from notelog.archive import Archive, Vehicle
from notelog.archive.figures import figures
from notelog.archive.vocabulary import vocabulary
from notelog.cli import main
from notelog.errors import InputError
from notelog.out.picture import drawn

KNOWN = vocabulary()
PARTS, CONDITIONS = ["hub", "strut", "lower arm", "bonnet", "strut top mount"], ["bent", "cracked", "good", "worn"]
TODAY = date(2026, 6, 30)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """An archive, its file, and its findings as a data frame."""
    dice, rows = random.Random(11), []
    path = tmp_path_factory.mktemp("figures") / "jobs.sqlite"
    with Archive(path, create=True) as archive:
        for number in range(80):
            day = f"{dice.choice([2024, 2025, 2026])}-{dice.randint(1, 6):02}-{dice.randint(1, 28):02}"
            of = note(f"Job {number}: as it was said.")
            vehicle, findings = dice.choice(["van", "hatch", None]), []
            for _ in range(dice.randint(1, 4)):
                part, condition, side = dice.choice(PARTS), dice.choice(CONDITIONS), dice.choice(["left", None])
                status = dice.choice(["present", "present", "absent", "suspected"])
                findings.append(finding(of, part, condition, "as it was said", status=status, position={"side": side}))
                rows.append((number, day, part, condition, side, status, vehicle))
            archive.add(str(number), [(of, log(of, findings))], dictated=day, vehicle=Vehicle.given(model=vehicle))
    frame = pandas.DataFrame(rows, columns=["job", "day", "part", "condition", "side", "status", "vehicle"])
    return path, frame[(frame.status == "present") & (frame.condition != "good")]


def counted(frame, by):
    groups = frame.groupby(by, dropna=False)
    return {name: (jobs, entries) for name, jobs, entries in zip(groups.groups, groups.job.nunique(), groups.size(), strict=True)}


def told(counts):
    return {one.name: (one.jobs, one.entries) for one in counts}


def test_counts_are_those_of_pandas(made):
    path, frame = made
    with Archive(path) as archive:
        found = figures(archive, KNOWN, today=TODAY)
    assert found.jobs == frame.job.nunique()
    assert told(found.counts["component"]) == counted(frame, "part")
    assert told(found.counts["condition"]) == counted(frame, "condition")
    assert told(found.counts["month"]) == counted(frame.assign(month=frame.day.str[:7]), "month")
    assert told(found.counts["place"]) == counted(frame.fillna({"side": "not said"}), "side")
    vehicles = frame.fillna({"vehicle": "not said"}).replace({"vehicle": {"hatch": "hatchback"}})
    assert told(found.counts["vehicle"]) == counted(vehicles, "vehicle")
    last = frame[(frame.day > "2025-06-30") & (frame.day <= "2026-06-30")]
    before = frame[(frame.day > "2024-06-30") & (frame.day <= "2025-06-30")]
    for one in found.counts["component"]:
        assert one.last_year == last[last.part == one.name].job.nunique()
        assert one.year_before == before[before.part == one.name].job.nunique()


def test_counts_of_a_component_with_its_parts_in_a_time(made):
    path, frame = made
    with Archive(path) as archive:
        found = figures(archive, KNOWN, components=["strut"], since="2025-01-01", until="2025-12-31", today=TODAY)
    part = frame[frame.part.isin(["strut", "strut top mount"]) & frame.day.str.startswith("2025")]
    assert told(found.counts["component"]) == counted(part, "part")
    assert found.jobs == part.job.nunique()


def test_quartiles_of_hours_and_prices_are_those_of_numpy(tmp_path):
    prices = [92.0, 88.5, 120.0, 101.25, 79.0, 95.0]
    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        for number, price in enumerate(prices):
            of = note(f"Job {number}: hub bent, needs a hub, hub is {price} quid.")
            said = {"start": 0, "end": 3, "text": "Job"}
            made = [
                finding(of, "hub", "bent", "hub bent"),
                {"kind": "part", "component": named("hub"), "state": "needed", "evidence": said},
                {"kind": "cost", "amount": price, "currency": "GBP", "component": named("hub"), "evidence": said},
            ]
            archive.add(str(number), [(of, log(of, made))])
        found = figures(archive, KNOWN)
    (spread,) = found.spreads["prices"]
    wanted = numpy.percentile(prices, [25, 50, 75])
    assert [float(one) for one in (spread.low, spread.median, spread.high)] == pytest.approx(wanted)
    assert isinstance(spread.median, Decimal)
    assert (spread.component, spread.unit, spread.count, found.priced, found.priced_of) == ("hub", "GBP", 6, 6, 6)


def test_a_picture(made):
    with Archive(made[0]) as archive:
        found = figures(archive, KNOWN, today=TODAY)
    svg, png = drawn(found, ".svg"), drawn(found, ".PNG")
    assert ElementTree.fromstring(svg).tag.endswith("svg")
    assert b"strut top mount" in svg and svg == drawn(found, ".svg")
    assert png.startswith(b"\x89PNG")
    with pytest.raises(InputError, match=r"end its name with \.svg or \.png"):
        drawn(found, ".gif")


def test_an_empty_archive_has_figures(tmp_path):
    with Archive(tmp_path / "jobs.sqlite", create=True) as archive:
        archive.set_vehicle("1", Vehicle(year=2016), create=True)
        found = figures(archive, KNOWN)
    assert (found.jobs, found.counts["component"], found.spreads) == (0, [], {"hours": [], "prices": []})
    assert drawn(found, ".png")


def test_the_commands(made, tmp_path, capsysbinary):
    def run(*arguments, code=0):
        assert main([*arguments, "--archive", str(made[0])]) == code
        captured = capsysbinary.readouterr()
        return (captured.err if code else captured.out).decode()

    picture = tmp_path / "picture.svg"
    assert "with damage" in run("figures", "--picture", str(picture))
    assert picture.read_bytes().startswith(b"<?xml")
    found = json.loads(run("figures", "--component", "hub", "--json"))
    assert [one["name"] for one in found["counts"]["component"]] == ["hub"]
    assert "no component" in run("figures", "--component", "flux gate", code=2)
    job = str(made[1].job.iloc[0])
    alike = json.loads(run("like", job, "--json"))
    assert alike["jobs"][0]["alike"] >= alike["jobs"][-1]["alike"] > 0
    assert job not in [one["job"] for one in alike["jobs"]]
    assert "shared:" in run("like", job)
    note_file = tmp_path / "note.txt"
    note_file.write_text("The nearside hub is cracked and the strut is bent.")
    told = json.loads(run("like", "--note", str(note_file), "--vehicle", "van", "--json"))
    assert {one["component"] for one in told["damage"]} == {"hub", "strut"} and told["jobs"]
    for arguments in (("like",), ("like", job, "--note", "x.txt")):
        assert "one of both" in run(*arguments, code=2)
    assert "no job 'none'" in run("like", "none", code=2)
