"""A profile that a plugin brings is used by its name; one that is wrong is named with its line and left out. Invented
data."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.notes.bundled_profiles import LANGUAGES
from bevelbook.notes.known_profiles import known_profiles, profile_called
from bevelbook.plugin.registry import Registry, load

Run = Callable[..., Any]

PLUGIN = """
from pathlib import Path
from bevelbook import Profile, hookimpl

HERE = str(Path(__file__).parent)

@hookimpl
def bevelbook_profiles():
    return (
        Profile("our-sheet", "The sheet of our bench", HERE, "ours.yaml"),
        Profile("dutch", "Sheets in Dutch", HERE, "dutch.yaml", "nl"),
        Profile("torn", "A torn one", HERE, "torn.yaml"),
        Profile("gone", "One that is gone", HERE, "gone.yaml"),
        Profile("Our Sheet", "A wrong name", HERE, "ours.yaml"),
        Profile("our-sheet", "Twice", HERE, "dutch.yaml"),
        "ours.yaml",
    )
"""
OURS = 'columns: {"wer": "builder", "womit": "diff"}\noptions: {decimal: ","}\n'
DUTCH = 'columns: {"datum": "date", "diff": "diff"}\n'
TORN = 'columns:\n  "wer": "bilder"\n'
LEFT_OUT = (
    "profile 'torn': torn.yaml, line 2",
    "profile 'gone': ",
    "a Profile named 'Our Sheet': lower-case words joined by hyphens are wanted",
    "profile 'our-sheet': 'our-sheet' is there already, which is used",
    "bevelbook_profiles returned 'ours.yaml', which is not a Profile",
)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    made = tmp_path / "plugins"
    made.mkdir()
    for name, text in (("sheets.py", PLUGIN), ("ours.yaml", OURS), ("dutch.yaml", DUTCH), ("torn.yaml", TORN)):
        (made / name).write_text(text, encoding="utf-8")
    return made


def test_it_is_used_by_its_name_and_listed_and_a_wrong_one_is_named_and_left_out(
    bevelbook: Run, db: Path, folder: Path
) -> None:
    Path("notes.csv").write_text("date;wer;womit;oil mass\n2026-05-03;ana;K-01;1,35\n", encoding="utf-8")
    done = bevelbook(
        "--plugins", folder, "--db", db, "import", "notes.csv", "--profile", "Our-Sheet", "--json", "--rows"
    )
    values = done.json["rows"][0]["values"]
    assert (values["builder"], values["diff"], values["oil_mass_g"]) == ("ana", "K-01", 1.35)
    listed = bevelbook("--plugins", folder, "help", "import").out
    assert (
        "our-sheet: The sheet of our bench" in listed
        and "dutch or nl: Sheets in Dutch" in listed
        and "torn" not in listed
    )
    said = " ".join(bevelbook("--plugins", folder, "calculators").out.split())
    assert all(one in said for one in LEFT_OUT), said
    refused = bevelbook("--plugins", folder, "--db", db, "import", "notes.csv", "--profile", "our-shet")
    assert refused.code == 2 and 'there is no profile named "our-shet". Did you mean our-sheet?' in refused.err


def test_the_languages_are_there_by_name_and_code_with_their_plugin_or_without(registry: Registry) -> None:
    for one in (registry, load(entry_points=())):
        known = known_profiles(one)
        assert {name: profile.language for name, profile in known.items()} == LANGUAGES


def test_a_file_goes_before_a_name(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, registry: Registry) -> None:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "german").write_text('options: {decimal: "."}', encoding="utf-8")
    for name, decimal in (("german", "."), ("de", ","), ("German", ",")):
        assert profile_called(Path(name), lambda: known_profiles(registry)).decimal == decimal
    with pytest.raises(InputError, match="cannot be read"):
        profile_called(Path("nowhere.yaml"), lambda: known_profiles(registry))
    with pytest.raises(UnknownNameError, match='no profile named "nowhere"'):
        profile_called(Path("nowhere"), lambda: known_profiles(registry))
