"""A command that was copied with its dots stores nothing, and one whose names are known has them."""

from __future__ import annotations

import re
import shlex
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.records import KINDS, Kind

Run = Callable[..., Any]


def entries(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("SELECT count(*) FROM entries").fetchone()[0])


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind.own and not kind.from_file], ids=lambda one: one.name)
def test_a_command_that_makes_a_record_stores_nothing_as_it_stands(bevelbook: Run, db: Path, kind: Kind) -> None:
    bevelbook("--db", db, "new")
    before = entries(db)
    command = kind.command()
    assert "=..." in command
    refused = bevelbook("--db", db, *shlex.split(command)[1:])
    assert refused.code == 2, command
    assert entries(db) == before


@pytest.mark.parametrize("dots", ["...", "…", ".. .", ".", '"..."', " … "])
@pytest.mark.parametrize(
    "words",
    [
        "person|name=",
        "car|name=",
        "event|name=",
        "diff|label=",
        "fluid|label=",
        "idea|text=",
        "bottle|fluid=house 7k|lot=",
        "event-car|car=red|event=",
        "run|run_on=2026-05-03|event=",
        "run|run_on=2026-05-03|driver=",
        "run|run_on=2026-05-03|rear=",
        "weighing|mass=22.4g|build=",
        "build|diff=rear-a|fluid=",
        "car-value|car=red|value=soft|what=",
    ],
)
def test_dots_alone_are_no_name(bevelbook: Run, db: Path, words: str, dots: str) -> None:
    for made in ("fluid|label=house 7k", "car|name=red", "diff|label=rear-a"):
        assert bevelbook("--db", db, "record", *made.split("|")).code == 0
    before = entries(db)
    refused = bevelbook("--db", db, "record", *f"{words}{dots}".split("|"))
    assert (refused.code, entries(db)) == (2, before)
    assert f"{words.rpartition('|')[2]}".rstrip("=") + ": dots stand for what you write there" in refused.err
    assert "in their place." in refused.err


def test_dots_as_the_record_to_change_say_what_they_stand_for(bevelbook: Run, db: Path) -> None:
    bevelbook("--db", db, "new")
    for words in (("build", "...", "dry_mass=12g"), ("car", "…", "note=x"), ("weighing", "...", "note=x")):
        refused = bevelbook("--db", db, "record", *words)
        assert refused.code == 2
        assert "In a command that is printed dots stand for what you write there." in refused.err
        assert "Make it first" not in refused.err


def test_dots_in_a_remark_and_in_a_name_are_kept(bevelbook: Run, db: Path) -> None:
    assert bevelbook("--db", db, "record", "car", "name=no. 7...", "note=...").code == 0
    with closing(sqlite3.connect(db)) as connection:
        assert connection.execute("SELECT name, note FROM cars").fetchall() == [("no. 7...", "...")]


@pytest.mark.parametrize(
    ("words", "printed"),
    [
        ("record|run|run_on=today|driver=ana", ["record person name=ana"]),
        ("record|run|run_on=today|driver=ana m", ['record person "name=ana m"']),
        ("record|event-car|event=spring race|car=red", ['record event "name=spring race"']),
        ("plan|spring race", ['record event "name=spring race"']),
        ("record|weighing|build=rear-z/3|mass=22g", ["record build diff=rear-z", "record diff label=rear-z"]),
        ("record|build|diff=rear z", ['record diff "label=rear z"']),
        ("record|run|2026-05-03/2|grip=high", ["record run run_on=2026-05-03"]),
        ("record|weighing|build=2026-05-03/2|mass=22g", ["record build diff=...", "record diff label=..."]),
        ("record|run|run_on=today|driver=a\nb", ["record person name=..."]),
    ],
)
def test_what_is_not_there_is_made_by_a_command_with_its_name(
    bevelbook: Run, db: Path, words: str, printed: list[str]
) -> None:
    bevelbook("--db", db, "new")
    refused = bevelbook("--db", db, *words.split("|"))
    assert refused.code == 2
    said = [found.replace(f"--db {db} ", "") for found in re.findall(r"'bevelbook ([^']*)'", refused.err)]
    assert said == printed
