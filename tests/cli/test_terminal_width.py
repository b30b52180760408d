"""Lines fit the terminal: help, sentences and tables, at the width that ``COLUMNS`` says, which POSIX names for it.

Source: POSIX.1-2017, Base Definitions, 8.3 Other Environment Variables: COLUMNS.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from browser_team import make_team
from conftest import Outcome

from bevelbook.manual.commands import COMMANDS
from bevelbook.plugin.registry import load

Run = Callable[..., Outcome]
WORDS = (
    ("calculators",),
    ("check",),
    ("compare", "rear-a/1", "rear-a/2"),
    ("calc", "tightening", "--for", "rear-a"),
    ("calc", "fill-target", "--dry-mass", "12.4", "--oil-mass", "1.86", "--explain"),
    ("card", "rear-a/2"),
    ("card", "--run-sheet"),
    ("history",),
    ("calls",),
    ("record", "run", "--fields"),
    ("record",),
    ("help",),
    ("help", "units"),
    ("help", "calculators/degas"),
)


def too_long(out: str, width: int) -> list[str]:
    """Lines wider than the terminal, but for commands to copy."""
    return [line for line in out.split("\n") if len(line) > width and "bevelbook " not in line]


@pytest.mark.parametrize("width", [50, 80])
def test_what_a_command_prints_fits_the_terminal(bevelbook: Run, monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    make_team(Path("bevelbook.db"))
    monkeypatch.setenv("COLUMNS", str(width))
    for words in WORDS:
        done = bevelbook(*words)
        assert done.out, words
        assert too_long(done.out, width) == [], words


@pytest.mark.parametrize("width", [50, 80])
def test_every_help_fits_the_terminal(bevelbook: Run, monkeypatch: pytest.MonkeyPatch, width: int) -> None:
    monkeypatch.setenv("COLUMNS", str(width))
    asked = [(), *((name,) for name in COMMANDS), *(("calc", name) for name in load().calculators)]
    for words in asked:
        done = bevelbook(*words, "--help")
        assert done.code == 0, words
        assert too_long(done.out, width) == [], words


def test_without_a_terminal_a_table_keeps_its_rows_on_one_line(bevelbook: Run) -> None:
    wide = bevelbook("calculators").out.splitlines()
    assert any(len(line) > 100 for line in wide)
    assert sum(line.startswith("tightening ") for line in wide) == 1
