"""The README and DEVELOPERS.md tell the truth: what they print is what is printed, what they name is there.

`python tests/test_readme.py --update` writes the output of the README's commands anew.

A `console` block of the README holds commands, each after "$ ", and under each one what it prints. A line "..." stands
for any lines. A `text` block that names a file is that file. Dates are not compared.
"""

import ast
import difflib
import fnmatch
import os
import re
import shlex
import subprocess
import sys
import tempfile
from dataclasses import dataclass, field
from pathlib import Path

import pytest

CHECKOUT = Path(__file__).resolve().parents[1]
README = CHECKOUT / "README.md"
DEVELOPERS = CHECKOUT / "DEVELOPERS.md"
PACKAGE = CHECKOUT / "notelog"
WIDTH = 80

# --- the README's commands -------------------------------------------------------------------------

BLOCK = re.compile(r"^```(?P<info>[^\n`]*)\n(?P<body>.*?)^```$", re.MULTILINE | re.DOTALL)
ANY_LINES = "..."


@dataclass
class Command:
    """A command of a console block, and what the README says that it prints."""

    line: str
    said: list[str] = field(default_factory=list)


def blocks(text, info):
    return [match for match in BLOCK.finditer(text) if match["info"].split()[:1] == [info]]


def commands_of(body):
    found = []
    for line in body.splitlines():
        if line.startswith("$ "):
            found.append(Command(line[2:]))
        else:
            found[-1].said.append(line)
    return found


class Shop:
    """A folder as a reader has it who follows the README: the clone's files, a `.venv`, the README's own files."""

    def __init__(self, folder, text):
        self.folder = Path(folder)
        for name in ("demo_notes", "lexicon", "tests"):
            (self.folder / name).symlink_to(CHECKOUT / name)
        programs = self.folder / ".venv" / "bin"
        programs.mkdir(parents=True)
        python = shlex.quote(sys.executable)
        for name, run in {"python": python, "notelog": f"{python} -m notelog.cli"}.items():
            (programs / name).write_text(f'#!/bin/sh\nexec {run} "$@"\n')
            (programs / name).chmod(0o755)
        for match in blocks(text, "text"):
            for name in match["info"].split()[1:]:
                (self.folder / name).write_text(match["body"], encoding="utf-8")
        kept = {name: value for name, value in os.environ.items() if not name.startswith("NOTELOG")}
        self.environment = {
            **kept,
            "PATH": f"{programs}{os.pathsep}{os.environ['PATH']}",
            "PYTHONPATH": str(CHECKOUT),
            "PYTHONUTF8": "1",
            "HOME": str(self.folder),
            "NOTELOG_ARCHIVE": str(self.folder / "archive.sqlite"),
            "NOTELOG_SETTINGS": str(self.folder / "settings.toml"),
            "COLUMNS": str(WIDTH),
        }

    def printed(self, line):
        """What a command prints, line by line; a command that fails is a failure of the README."""
        run = subprocess.run(
            ["bash", "-o", "pipefail", "-c", line],
            check=False, cwd=self.folder, env=self.environment, encoding="utf-8", timeout=300,
            stdin=subprocess.DEVNULL, capture_output=True,
        )  # fmt: skip
        assert run.returncode == 0, f"$ {line}\n{run.stderr}"
        lines = [one.rstrip() for one in run.stdout.splitlines()]
        while lines and not lines[-1]:
            lines.pop()
        return lines


def comparable(lines):
    return [re.sub(r"\b\d{4}-\d\d-\d\d\b", "YYYY-MM-DD", line.rstrip()) for line in lines]


def pieces(said):
    """The runs of lines between the "..." lines."""
    runs = [[]]
    for line in said:
        if line == ANY_LINES:
            runs.append([])
        else:
            runs[-1].append(line)
    return runs


def agrees(said, printed):
    """Whether the lines said are those printed, "..." standing for any lines.

    >>> agrees(["a", "...", "d"], ["a", "b", "c", "d"]), agrees(["a", "...", "c"], ["a", "b", "c", "d"])
    (True, False)
    """
    first, *others = pieces(comparable(said))
    printed = comparable(printed)
    if not others:
        return first == printed
    if printed[: len(first)] != first:
        return False
    at, last = len(first), others.pop()
    for piece in others:
        while at + len(piece) <= len(printed) and printed[at : at + len(piece)] != piece:
            at += 1
        if at + len(piece) > len(printed):
            return False
        at += len(piece)
    return len(printed) - at >= len(last) and (not last or printed[-len(last) :] == last)


def renewed(said, printed):
    """The lines said, put right by what is printed: a run between "..." begins at the printed line most like its own.

    >>> renewed(["...", "2. A job: B 7", "..."], ["1. A note", "", "2. A job: C 9", "", "3. A search"])
    ['...', '2. A job: C 9', '...']
    """
    if agrees(said, printed):
        return said
    runs = pieces(said)
    if len(runs) == 1:
        return printed
    made, at = [], 0
    for number, run in enumerate(runs):
        if number:
            made.append(ANY_LINES)
        if not run:
            continue
        if number == 0:
            start = 0
        elif number == len(runs) - 1:
            start = len(printed) - len(run)
        else:
            start = max(
                range(at, len(printed)), key=lambda k: difflib.SequenceMatcher(None, run[0], printed[k]).ratio()
            )
        made += printed[start : start + len(run)]
        at = start + len(run)
    return made


def rewritten(text):
    """The README with the output of its commands as it is now."""
    with tempfile.TemporaryDirectory(prefix="notelog-readme-") as folder:
        shop = Shop(folder, text)

        def block(match):
            if match["info"].split()[:1] != ["console"]:
                return match[0]
            lines = []
            for command in commands_of(match["body"]):
                lines += [f"$ {command.line}", *renewed(command.said, shop.printed(command.line))]
            return "\n".join(["```console", *lines, "```"])

        return BLOCK.sub(block, text)


@pytest.fixture(scope="module")
def readme():
    return README.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def checked(readme, tmp_path_factory):
    """Every command of the README with what it is said to print and what it prints; run in order, in one folder."""
    shop = Shop(tmp_path_factory.mktemp("readme"), readme)
    return [
        (command, shop.printed(command.line))
        for match in blocks(readme, "console")
        for command in commands_of(match["body"])
    ]


def test_every_command_prints_what_the_readme_says(checked):
    assert len(checked) >= 10
    wrong = []
    for command, printed in checked:
        if not agrees(command.said, printed):
            now = comparable(renewed(command.said, printed))
            difference = difflib.unified_diff(comparable(command.said), now, "README", "now", lineterm="", n=1)
            wrong.append("\n".join([f"$ {command.line}", *difference]))
    assert not wrong, "run `python tests/test_readme.py --update` and look at what changed:\n\n" + "\n\n".join(wrong)


def test_the_log_shown_is_what_the_readme_says_of_it(checked):
    """What the README's words claim of its own note: the log is the one that a careful colleague would write."""
    [printed] = [printed for command, printed in checked if "row['summary']" in command.line]
    assert sorted(printed) == sorted(
        [
            "lower arm: bent | left",
            "anti-roll bar link: broken | left",
            "wheel bearing: play (absent) | left",
            "hub: good | left",
            "track rod end: bent (suspected) | left",
            "lower arm: remove | left",
            "lower arm: ordered | left",
            "anti-roll bar link: needed | left",
            "hub nut: nut 32 mm | left",
            "breaker bar |",
            "camber -2.5 deg | left",
            "1.5 h |",
            "lower arm: 85.00 GBP |",
        ]
    )


def test_no_output_in_the_readme_is_left_out(checked):
    """Every command has lines of its output in the README, and not only "..."."""
    silent = [
        command.line
        for command, printed in checked
        if printed and not [one for one in command.said if one != ANY_LINES]
    ]
    assert not silent


def test_the_readme_names_no_folder_of_a_machine(readme):
    assert not re.search(r"/(home|root|tmp|mnt|Users)\b", readme)


def test_the_two_commands_are_one_line_each_and_set_all_up(readme):
    lines = [match["body"].splitlines() for match in blocks(readme, "bash")]
    assert [len(one) for one in lines] == [1, 1]
    [demo], [tests] = lines
    for line in (demo, tests):
        assert line.startswith("python3 -m venv .venv && .venv/bin/python -m pip install -q ")
    assert demo.endswith(" && .venv/bin/notelog demo")
    assert tests.endswith(" && .venv/bin/python -m pytest")


def test_every_command_of_the_program_is_in_the_readme(readme):
    from typer.main import get_command

    from notelog.cli import app

    [help_] = [match["body"] for match in blocks(readme, "console") if match["body"].startswith("$ notelog --help\n")]
    assert set(get_command(app).commands) == set(re.findall(r"^  ([a-z]+)  ", help_, re.MULTILINE))


def test_every_kind_of_entry_is_in_the_readme(readme):
    from notelog.scoring import KINDS

    assert re.findall(r"^\| ([a-z]+) \|", readme, re.MULTILINE) == ["kind", *KINDS]


def test_the_continuous_integration_runs_the_readmes_own_line():
    script = (CHECKOUT / ".ci" / "run").read_text(encoding="utf-8")
    assert os.access(CHECKOUT / ".ci" / "run", os.X_OK)
    assert "README.md" in script


# --- DEVELOPERS.md ---------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def developers():
    return DEVELOPERS.read_text(encoding="utf-8")


def named_paths(text):
    """Every folder and file that the text names between backticks."""
    return sorted(
        {one for one in re.findall(r"`((?:[\w.-]+/)+[\w.-]*|[\w-]+\.(?:py|md|toml|csv))`", text) if ".venv" not in one}
    )


def test_every_folder_and_file_named_is_there(developers, readme):
    names = named_paths(developers)
    assert len(names) >= 40
    names += named_paths(readme)
    places = [CHECKOUT, PACKAGE, CHECKOUT / "tests", CHECKOUT / "lexicon"]
    assert [name for name in names if not any((place / name).exists() for place in places)] == []


def test_every_package_folder_is_named(developers):
    folders = {file.parent for file in PACKAGE.rglob("*.py")} - {PACKAGE}
    assert [str(one) for one in folders if f"`{one.relative_to(CHECKOUT).as_posix()}/`" not in developers] == []


def test_every_folder_of_the_checkout_is_named(developers):
    ignored = [line.strip("/") for line in (CHECKOUT / ".gitignore").read_text(encoding="utf-8").split()]
    tops = {one.name for one in CHECKOUT.iterdir() if one.is_dir() and not one.name.startswith(".")} | {".ci"}
    tops = {one for one in tops if not any(fnmatch.fnmatch(one, pattern) for pattern in ignored)}
    assert {"notelog", "lexicon", "tests", "demo_notes"} <= tops
    assert [one for one in sorted(tops) if f"`{one}/" not in developers] == []


def test_every_module_beside_the_folders_is_named(developers):
    modules = [file.name for file in PACKAGE.glob("*.py") if file.name != "__init__.py"]
    assert [one for one in modules if f"`notelog/{one}`" not in developers] == []


def test_every_component_of_the_pipeline_is_named(developers):
    from notelog.understanding import COMPONENTS

    assert [one for one in COMPONENTS if f"`{one.removeprefix('notelog_')}`" not in developers] == []


def rows_of_the_map(text):
    """The folders and modules of the map in its order, without "notelog/" and ".py"."""
    return [one.strip("/").removesuffix(".py") for one in re.findall(r"^\| `notelog/([\w/.]*)` \|", text, re.MULTILINE)]


def imported(file):
    """The package's folders and modules that a file imports, at its head or when it runs, by name."""
    package = file.relative_to(PACKAGE).parts[:-1]
    found = set()
    for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            if node.level:
                base = [*package[: len(package) - node.level + 1], *(node.module or "").split(".")]
            else:
                head, *base = (node.module or "").split(".")
                if head != "notelog":
                    continue
            base = [one for one in base if one]
            found |= {base[0]} if base else {alias.name for alias in node.names}
        elif isinstance(node, ast.Import):
            found |= {alias.name.split(".")[1] for alias in node.names if alias.name.startswith("notelog.")}
    return found


def test_a_folder_imports_only_what_stands_above_it_in_the_map(developers):
    order = rows_of_the_map(developers)
    known = {file.name.removesuffix(".py") for file in PACKAGE.iterdir()} & set(order)
    wrong = []
    for file in PACKAGE.rglob("*.py"):
        parts = file.relative_to(PACKAGE).parts
        own = parts[0].removesuffix(".py")
        if own == "__init__":
            continue
        assert own in order, f"{own} is not in the map of DEVELOPERS.md"
        for one in (imported(file) & known) - {own}:
            if order.index(one) > order.index(own):
                wrong.append(f"{'/'.join(parts)} imports {one}, which stands below {own} in the map")
    assert not wrong


def test_the_commands_named_are_there(developers):
    """Every `notelog ...` and `python tests/...` line of DEVELOPERS.md names a command or a file that exists."""
    from typer.main import get_command

    from notelog.cli import app

    names = set(
        re.findall(
            r"^(?:\S*/)?notelog ([a-z]+)", "\n".join(m["body"] for m in blocks(developers, "bash")), re.MULTILINE
        )
    )
    assert names and names <= set(get_command(app).commands)


def main():
    if sys.argv[1:] != ["--update"]:
        print(__doc__)
        return 2
    before = README.read_text(encoding="utf-8")
    after = rewritten(before)
    if after == before:
        print("The README is up to date.")
        return 0
    README.write_text(after, encoding="utf-8")
    print(*difflib.unified_diff(before.splitlines(), after.splitlines(), "before", "after", lineterm="", n=1), sep="\n")
    return 0


if __name__ == "__main__":
    sys.exit(main())
