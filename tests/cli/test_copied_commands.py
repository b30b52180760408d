"""Commands that are printed to be copied name the database that was named before the command. All data are invented."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

Run = Callable[..., Any]


def test_a_command_in_an_error_names_the_database_that_was_named(
    bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert "Make one with 'bevelbook --db sunday.db new'" in bevelbook("--db", "sunday.db", "check").err
    assert "'bevelbook --db FILE ...'" in bevelbook("--db", "sunday.db", "check").err
    assert "Make one with 'bevelbook --db \"our team.db\" new'" in bevelbook("--db", "our team.db", "check").err
    assert "Make one with 'bevelbook new'" in bevelbook("check").err
    monkeypatch.setenv("BEVELBOOK_DB", "sunday.db")
    assert "Make one with 'bevelbook new'" in bevelbook("check").err, "a copy opens the same one"


def test_so_does_the_command_that_answers_a_question_in_a_script_and_what_a_command_says_of_the_next(
    bevelbook: Run,
) -> None:
    made = bevelbook("--db", "sunday.db", "new")
    assert "'bevelbook --db sunday.db import FILE'" in made.out
    for words in ("label=rear-a", "label=rear-b"):
        bevelbook("--db", "sunday.db", "record", "diff", words, "usual_position=rear")
    asked = bevelbook("--db", "sunday.db", "record", "run", "run_on=2026-05-03", "rear=rear-a")
    assert asked.code == 2
    assert "bevelbook --db sunday.db record " in asked.err, asked.err
    assert "bevelbook record" not in asked.err
