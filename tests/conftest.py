"""Fixtures of the tests that run commands: an archive of the test's own, and the command line with what it printed."""

import pytest

from notelog.cli import main


@pytest.fixture
def path(tmp_path, monkeypatch):
    """Where the archive lies that commands use; nothing is there yet."""
    monkeypatch.setenv("NOTELOG_ARCHIVE", str(tmp_path / "jobs.sqlite"))
    monkeypatch.setenv("NOTELOG_SETTINGS", str(tmp_path / "settings.toml"))
    monkeypatch.setenv("COLUMNS", "160")
    return tmp_path / "jobs.sqlite"


@pytest.fixture
def run(path, capfd):
    """Runs a command, whose exit code must be `code`, and gives what it printed (`out`, `err`)."""

    def run(*arguments, code=0):
        capfd.readouterr()
        assert main([str(one) for one in arguments]) == code
        return capfd.readouterr()

    return run
