"""The lexicon: how much is in it, that its check finds what is planted, and that it works from an installed wheel."""

import csv
import importlib.util
import json
import os
import shutil
import subprocess
import sys
import sysconfig
import venv
import zipfile
from collections import Counter
from pathlib import Path
from typing import get_args

import pytest

from notelog import lexicon
from notelog.hearing import hear
from notelog.lexicon.check import SYSTEMS, check
from notelog.lexicon.load import COMPONENT_COLUMNS
from notelog.models import Action, Condition, Drive, FastenerType, MappedText
from notelog.paths import data_folder
from notelog.understanding import COMPONENTS, understand

CHECKOUT = Path(__file__).resolve().parents[1]

# Springs are compressed seldom, and said to be so in few ways.
COMMON_ACTIONS = [action for action in get_args(Action) if action != "compress"]


@pytest.fixture(scope="module")
def shipped():
    return lexicon.load()


# --- how much is in it -----------------------------------------------------------------------------


def test_at_least_3500_components_with_25000_names_over_every_system(shipped):
    components = shipped.terms["component"].values()
    assert len(components) >= 3500
    assert sum(len(term.names) for term in components) >= 25000
    by_system = Counter(term.system for term in components)
    assert set(by_system) == set(SYSTEMS)
    assert min(by_system.values()) >= 35, by_system


def test_the_systems_are_those_of_a_repair_shop():
    wanted = (
        "chassis steering suspension brakes wheels driveline engine cooling air_conditioning exhaust fuel body "
        "structure doors glass lamps mirrors interior restraints electrics sensors high_voltage trailer"
    )
    assert set(SYSTEMS) == set(wanted.split())


def test_at_least_200_tools_and_80_materials(shipped):
    assert len(shipped.terms["tool"]) >= 200
    assert len(shipped.terms["material"]) >= 80


@pytest.mark.parametrize(
    ("kind", "of_the_log"),
    [("condition", Condition), ("action", Action), ("fastener", FastenerType), ("drive", Drive)],
)
def test_every_value_of_the_log_has_an_entry_and_no_entry_is_for_another(shipped, kind, of_the_log):
    assert set(shipped.terms[kind]) == set(get_args(of_the_log))


def test_every_group_of_words_is_asked_for_by_a_rule(shipped):
    code = "".join(path.read_text(encoding="utf-8") for path in (CHECKOUT / "notelog").rglob("*.py"))
    assert [group for group in shipped.words if f'"{group}"' not in code] == []


def ways(term):
    """The different ways to say a condition or an action, their inflections not counted."""
    return {way for listed in term.fields.values() for way in listed}


@pytest.mark.parametrize("condition", get_args(Condition))
def test_twelve_ways_to_say_each_common_condition(shipped, condition):
    assert len(ways(shipped.terms["condition"][condition])) >= 12


@pytest.mark.parametrize("action", COMMON_ACTIONS)
def test_twelve_ways_to_do_each_common_action(shipped, action):
    assert len(ways(shipped.terms["action"][action])) >= 12


def test_components_have_names_of_both_shores_and_abbreviations(shipped):
    components = shipped.terms["component"].values()
    for column, least in {"uk": 300, "us": 300, "short": 100}.items():
        assert sum(bool(term.fields[column]) for term in components) >= least, column
    assert sum(bool(term.part_of) for term in components) >= 500
    assert sum(term.sides for term in components) >= 200


@pytest.mark.parametrize(
    ("uk", "us"),
    # Common practice, no source: the same part by its names on both shores.
    [
        ("bonnet", "hood"),
        ("wing", "fender"),
        ("windscreen", "windshield"),
        ("track rod end", "tie rod end"),
        ("anti-roll bar", "sway bar"),
        ("drop link", "sway bar link"),
        ("gearbox", "transmission"),
        ("exhaust silencer", "muffler"),
        ("number plate", "license plate"),
        ("tail lamp", "taillight"),
        ("propshaft", "driveshaft"),
        ("arb", "sway bar"),
        ("tre", "tie rod end"),
    ],
)
def test_a_part_by_its_uk_and_its_us_name(shipped, uk, us):
    one, other = shipped.find(uk), shipped.find(us)
    assert one is not None and other is not None
    if (uk, us) != ("propshaft", "driveshaft"):  # In the UK a driveshaft goes to a wheel: one name, two parts.
        assert one is other


@pytest.mark.parametrize(
    ("said", "side", "axle"),
    # Common practice, no source: the trade's short forms for a corner of the vehicle, driver on the right.
    [
        ("o/s/f", "right", "front"),
        ("osf", "right", "front"),
        ("n/s/r", "left", "rear"),
        ("nsr", "left", "rear"),
        ("n/s/f", "left", "front"),
        ("o/s", "right", None),
        ("lh", "left", None),
        ("rh", "right", None),
    ],
)
def test_a_place_by_its_short_form(said, side, axle):
    import notelog

    [entry] = notelog.extract(f"{said} wing dented").entries
    assert (entry.position.side, entry.position.axle) == (side, axle)


@pytest.mark.parametrize("kind", ["component", "tool", "material"])
def test_every_entry_is_reached_by_its_names(shipped, kind):
    """Through hearing and the component that finds mentions: each entry by one name, and 99 of 100 names at least."""
    unreached, names, missed = [], 0, []
    for term in shipped.terms[kind].values():
        by_name = [name for name in term.names if term.id in understood(kind, f"the {name} .")]
        if not by_name:
            unreached.append(term.source)
        names += len(term.names)
        missed += sorted(set(term.names) - set(by_name))
    print(f"{len(missed)} of {names} names of {kind} entries do not lead to their own:", *missed, sep="\n  ")
    assert not unreached
    assert len(missed) <= 0.01 * names


def understood(kind, text):
    mapped = MappedText(text, list(range(len(text))), list(range(1, len(text) + 1)))
    mentions = understand(hear(mapped), without=COMPONENTS[1:])._.talk.mentions
    return {one.id for mention in mentions for one in (mention, mention.holder) if one and one.kind == kind}


# --- the check -------------------------------------------------------------------------------------


@pytest.fixture
def copy(tmp_path):
    """A copy of the shipped lexicon, to plant something in."""
    return Path(shutil.copytree(data_folder("lexicon"), tmp_path / "lexicon"))


def plant(file, *cells):
    """Add a row to a file of a lexicon, and tell its line."""
    text = file.read_text(encoding="utf-8").rstrip("\n")
    file.write_text(f"{text}\n{','.join(cells)}\n", encoding="utf-8")
    return len(text.splitlines()) + 1


def component(id, label, **columns):
    row = {"id": id, "label": label, "system": "steering", **columns}
    return [row.get(column, "") for column in COMPONENT_COLUMNS]


def problems(folder):
    return [(Path(one.file).name, one.line, one.message) for one in check(folder)]


def test_the_shipped_lexicon_is_sound():
    assert check() == []


def test_a_sound_copy_is_sound(copy):
    assert problems(copy) == []


def test_a_sound_new_entry_is_sound(copy):
    plant(copy / "components" / "steering.csv", *component("wibble_rod", "wibble rod", also="wibble link", sides="yes"))
    assert problems(copy) == []


@pytest.mark.parametrize(
    ("columns", "told"),
    [
        ({"uk": "drop link"}, "'drop link' stands in"),
        ({"also": "Drop-Link"}, "anti_roll_bar_link"),
        ({"short": "tre"}, "track_rod_end"),
        ({"also": "drop links"}, "anti_roll_bar_link"),
        ({"part_of": "wobble_column"}, "wibble_rod is part of wobble_column, which no entry is"),
        ({"part_of": "wibble_rod"}, "wibble_rod is said to be part of itself"),
        ({"system": "plumbing"}, "'plumbing'"),
        ({"also": "(!)"}, "'(!)' of wibble_rod holds no word"),
    ],
    ids=["clash", "clash but for writing", "clash of an abbreviation", "clash of a plural", "orphan", "part of itself",
         "no such system", "unreachable"],
)  # fmt: skip
def test_what_is_planted_among_the_components_is_found(copy, columns, told):
    line = plant(copy / "components" / "steering.csv", *component("wibble_rod", "wibble rod", **columns))
    found = problems(copy)
    # Of two rows that clash the later one is named first, and the other one in the message.
    where = f"steering.csv:{line}"
    assert any(told in message and where in f"{file}:{at}: {message}" for file, at, message in found), found


@pytest.mark.parametrize("file", ["tools.csv", "materials.csv"])
def test_a_clash_of_tools_or_materials_is_found(copy, file):
    known = next(iter(lexicon.load().terms[file[:-5]].values())).label
    line = plant(copy / file, "wibble_thing", "wibble thing", known, "", "", "")
    [(where, at, message)] = problems(copy)
    assert (where, at) == (file, line)
    assert repr(known) in message


def test_parts_that_are_over_others_parts_of_themselves_are_found_once(copy):
    steering = copy / "components" / "steering.csv"
    lines = [
        plant(steering, *component("wibble_rod", "wibble rod", part_of="wobble_rod")),
        plant(steering, *component("wobble_rod", "wobble rod", part_of="wubble_rod")),
        plant(steering, *component("wubble_rod", "wubble rod", part_of="wibble_rod")),
        plant(steering, *component("wabble_rod", "wabble rod", part_of="wobble_rod")),
    ]
    [(file, line, message)] = problems(copy)
    assert (file, line) == ("steering.csv", lines[0])
    assert message == "wibble_rod is part of wobble_rod is part of wubble_rod is part of wibble_rod: a part of itself."


@pytest.mark.parametrize(
    ("file", "row", "told"),
    [
        ("cues.csv", ("buckled", "denied", "before"), "'buckled' of cue denied stands in condition buckled"),
        ("cues.csv", ("no sign of", "doubted", "before"), "'no sign of' of cue doubted stands in cue denied"),
        ("cues.csv", ("no sign of", "denied", "before"), "'no sign of' stands in line"),
        ("fluid_systems.csv", ("moon water", "moon_tank"), "moon water belongs to moon_tank, which no entry is"),
        ("short_senses.csv", ("wibble", "bent", "moon_tank"), "wibble belongs to moon_tank, which no entry is"),
        ("two_meanings.csv", ("wibble", "cue denied;cue planned"), "'wibble' is in no condition, action or cue"),
        ("two_meanings.csv", ("no sign of", "cue denied;cue planned"), "'no sign of' has one meaning only"),
    ],
)
def test_what_is_planted_in_the_other_files_is_found_with_its_line(copy, file, row, told):
    line = plant(copy / file, *row)
    [(where, at, message)] = problems(copy)
    assert (where, at) == (file, line)
    assert told in message


@pytest.mark.parametrize(("kind", "column"), [("conditions", 2), ("actions", 2)])
def test_one_surface_in_two_conditions_or_actions_is_found(copy, kind, column):
    path = copy / f"{kind}.csv"
    lines = path.read_text(encoding="utf-8").splitlines()
    for at in (1, 2):
        cells = next(csv.reader([lines[at]]))
        cells[column] += ";wibble wobbled"
        lines[at] = ",".join(cells)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    [(file, line, message)] = problems(copy)
    assert (file, line) == (f"{kind}.csv", 3)
    assert "'wibble wobbled'" in message
    assert f"{kind}.csv:2" in message


def test_several_are_all_found_in_the_order_of_their_lines(copy):
    steering, tools = copy / "components" / "steering.csv", copy / "tools.csv"
    lines = [
        plant(steering, *component("wibble_rod", "wibble rod", part_of="nothing")),
        plant(steering, *component("wobble_rod", "wobble rod", system="nothing")),
        plant(tools, "wibble_tool", "wibble tool", "breaker bar", "", "", ""),
    ]
    assert [(file, line) for file, line, _ in problems(copy)] == list(
        zip(["steering.csv", "steering.csv", "tools.csv"], lines, strict=True)
    )


def test_the_command_names_file_and_line_and_fails(copy):
    line = plant(copy / "components" / "steering.csv", *component("wibble_rod", "wibble rod", part_of="nothing"))
    run = subprocess.run(
        [sys.executable, "-m", "notelog.cli", "lexicon", "check", str(copy)],
        check=False, cwd=CHECKOUT, capture_output=True, encoding="utf-8", env={**os.environ, "COLUMNS": "200"},
    )  # fmt: skip
    assert run.returncode == 2
    assert f"steering.csv:{line}:" in run.stdout
    assert "1 problem" in run.stderr


# --- the wheel -------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def wheel(tmp_path_factory):
    """The wheel of this checkout. Where its build tool is installed nothing is downloaded."""
    place = tmp_path_factory.mktemp("wheel")
    here = ["--no-build-isolation"] if importlib.util.find_spec("hatchling") else []
    pip("wheel", "--no-deps", *here, "--wheel-dir", str(place), str(CHECKOUT))
    [file] = place.glob("notelog-*.whl")
    return file


@pytest.fixture(scope="module")
def installed(wheel, tmp_path_factory):
    """A virtual environment with the wheel in it, and the packages of this one behind it, far from the checkout."""
    place = tmp_path_factory.mktemp("installed")
    venv.create(place / "venv", with_pip=False)
    python = place / "venv" / "bin" / "python"
    pip("--python", str(python), "install", "--no-deps", "--no-index", str(wheel))
    asked = [str(python), "-c", "import sysconfig; print(sysconfig.get_path('purelib'))"]
    site = Path(subprocess.run(asked, check=True, capture_output=True, text=True).stdout.strip())
    here = dict.fromkeys(sysconfig.get_path(name) for name in ("purelib", "platlib"))
    (site / "packages_of_the_tests.pth").write_text("".join(f"{folder}\n" for folder in here))

    def run(*command, given=""):
        environment = {name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "NOTELOG"))}
        environment |= {"HOME": str(place), "COLUMNS": "100", "PYTHONUTF8": "1"}
        done = subprocess.run(
            [str(python.parent / command[0]), *command[1:]],
            check=False, cwd=place, env=environment, input=given, capture_output=True, encoding="utf-8",
        )  # fmt: skip
        assert done.returncode == 0, done.stderr
        return done.stdout

    return run


def pip(*arguments):
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet", *arguments]
    done = subprocess.run(command, check=False, cwd=CHECKOUT, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr


def test_the_wheel_holds_every_file_of_the_lexicon_and_of_the_demo(wheel):
    packed = {name for name in zipfile.ZipFile(wheel).namelist() if name.startswith("notelog/data/")}
    files = {
        f"notelog/data/{file.relative_to(CHECKOUT).as_posix()}"
        for folder in ("lexicon", "demo_notes")
        for file in (CHECKOUT / folder).rglob("*")
        if file.is_file()
    }
    assert packed == files


def test_the_wheel_holds_no_tests_and_holds_the_licence(wheel):
    names = zipfile.ZipFile(wheel).namelist()
    assert not [name for name in names if "test" in Path(name).name.lower()]
    assert any(name.endswith("LICENSE") for name in names)


def test_the_installed_wheel_is_what_runs(installed):
    where = installed("python", "-c", "import notelog; print(notelog.__file__)")
    assert "site-packages" in where
    assert not Path(where.strip()).is_relative_to(CHECKOUT)


def test_lexicon_show_from_the_installed_wheel(installed):
    shown = installed("notelog", "lexicon", "show", "drop link")
    assert "anti-roll bar link" in shown
    assert "sway bar link" in shown
    [about] = json.loads(installed("notelog", "lexicon", "show", "drop link", "--json"))
    assert about["id"] == "anti_roll_bar_link"
    assert about["part_of"] == "anti-roll bar"


def test_lexicon_check_and_export_from_the_installed_wheel(installed, shipped):
    assert "sound" in installed("notelog", "lexicon", "check")
    entries = json.loads(installed("notelog", "lexicon", "export", "--json"))
    assert len(entries) == len(shipped.entries())
    assert set(entries[0]) >= {"id", "kind", "label", "synonyms"}


def test_a_note_and_the_demo_from_the_installed_wheel(installed):
    [entry] = json.loads(installed("notelog", "extract", "-", "--json", given="n/s/f drop link snapped"))["entries"]
    assert (entry["component"]["id"], entry["condition"]) == ("anti_roll_bar_link", "broken")
    assert entry["position"] == {"side": "left", "axle": "front"}
    assert "notelog add FILE" in installed("notelog", "demo")
