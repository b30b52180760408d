"""An older database says that it was brought to this version, where the copy is, and what went."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from conftest import Outcome
from released import released

from bevelbook.store.last_step import LAST_STEP
from bevelbook.store.opening import Upgraded

Run = Callable[..., Outcome]
NOTICE = (
    rf"bevelbook: old\.db was brought from step 2 to step {LAST_STEP}; "
    r"the file as it was is kept as (\S+\.db)(; .*)?\.\n"
)


@pytest.fixture
def old(tmp_path: Path) -> Path:
    return released(tmp_path / "old.db")


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("new", "--migrate"), 0),
        (("record", "person", "name=zoe"), 0),
        (("record", "build", "diff=nosuch", "built_on=2026-05-01"), 2),
        (("check", "--rebuild"), 1),
    ],
)
def test_each_command_that_writes_says_it_once(bevelbook: Run, old: Path, words: tuple[str, ...], code: int) -> None:
    first = bevelbook("--db", old, *words)
    said = re.search(NOTICE, first.err)
    assert said is not None, first.err
    assert first.code == code
    assert old.with_name(said[1]).exists()
    assert "was brought" not in bevelbook("--db", old, *words).err


def test_calculating_and_keeping_brings_it_over_like_any_other(bevelbook: Run, old: Path) -> None:
    with closing(sqlite3.connect(old)) as connection:
        (label,) = connection.execute(
            "SELECT label FROM builds WHERE dry_mass_g IS NOT NULL AND oil_mass_g IS NOT NULL"
        ).fetchone()
    done = bevelbook("--db", old, "calc", "fill-target", "--for", label, "--keep", "--json")
    assert re.search(NOTICE, done.err), done.err
    assert done.json["kept"]["id"]
    assert len(done.json["notices"]) == 1


def test_results_that_went_are_counted() -> None:
    lines = [Upgraded("old.db", 2, 3, "old.before-step-3.db", dropped).line() for dropped in (0, 1, 57)]
    assert lines == [
        "old.db was brought from step 2 to step 3; the file as it was is kept as old.before-step-3.db.",
        "old.db was brought from step 2 to step 3; the file as it was is kept as old.before-step-3.db; "
        "1 kept result that the facts now answer was dropped.",
        "old.db was brought from step 2 to step 3; the file as it was is kept as old.before-step-3.db; "
        "57 kept results that the facts now answer were dropped.",
    ]
