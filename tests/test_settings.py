"""The settings file: defaults, changes kept whole, and what cannot be is told."""

import tomllib
from dataclasses import asdict

import pytest
from hypothesis import given
from hypothesis import strategies as st

from notelog import settings
from notelog.cli import main
from notelog.errors import InputError
from notelog.settings import Settings


@pytest.fixture(autouse=True)
def file(tmp_path, monkeypatch):
    file = tmp_path / "folder" / "settings.toml"
    monkeypatch.setenv("NOTELOG_SETTINGS", str(file))
    return file


def test_without_a_file_the_defaults_hold():
    assert settings.load() == Settings(driver_side="right", currency="", shop="")


def test_what_is_saved_is_loaded(file):
    kept = Settings("left", "USD", 'The "Long" Bay \\ 2 – Größe')
    assert settings.save(kept) == file
    assert settings.load() == kept


@given(st.text())
def test_every_shop_name_is_kept_or_refused(name):
    import json

    try:
        made = Settings(shop=name)
    except InputError:
        assert not " ".join(name.split()).isprintable()
        return
    # the reference is Python's own TOML reader
    assert tomllib.loads(f"shop = {json.dumps(made.shop, ensure_ascii=False)}")["shop"] == made.shop


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ('driver_side = "middle"', "must be 'left' or 'right'"),
        ("driver_side = 1", "must be text"),
        ('currency = "pounds"', "must be a code"),
        ('colour = "red"', "'colour', which is no setting"),
        ("driver_side = right", "is no TOML"),
        ("\0", "is no TOML"),
    ],
)
def test_a_damaged_file_is_told_and_left_alone(file, text, told, capsys):
    file.parent.mkdir()
    file.write_text(text)
    with pytest.raises(InputError, match=told):
        settings.load()
    assert main(["settings", "--driver-side", "left"]) == 2
    assert str(file) in capsys.readouterr().err
    assert file.read_text() == text


def test_bytes_that_are_no_text(file):
    file.parent.mkdir()
    file.write_bytes(b'shop = "\xff"')
    with pytest.raises(InputError, match="is no TOML"):
        settings.load()


def test_a_file_in_the_way_of_the_folder(file):
    file.parent.write_text("")
    with pytest.raises(InputError, match="cannot be"):
        settings.save(Settings())


def test_the_command_changes_only_what_is_given(file, capsys):
    assert main(["settings", "--driver-side", "left", "--shop", "Long Bay"]) == 0
    assert main(["settings", "--currency", "usd"]) == 0
    assert settings.load() == Settings("left", "USD", "Long Bay")
    capsys.readouterr()
    assert main(["settings", "--json"]) == 0
    import json

    assert json.loads(capsys.readouterr().out) == asdict(settings.load()) | {"file": str(file)}


def test_a_wrong_value_changes_nothing(file, capsys):
    main(["settings", "--currency", "USD"])
    before = file.read_bytes()
    assert main(["settings", "--currency", "dollars"]) == 2
    assert main(["settings", "--driver-side", "middle"]) == 2
    assert file.read_bytes() == before
    assert list(file.parent.iterdir()) == [file]


def test_a_linked_file_stays_a_link(file):
    file.parent.mkdir()
    real = file.parent / "real.toml"
    real.write_text("")
    file.symlink_to(real)
    settings.save(Settings("left"))
    assert file.is_symlink()
    assert tomllib.loads(real.read_text())["driver_side"] == "left"
