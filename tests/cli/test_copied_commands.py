"""Commands that are printed to be copied name the database that was named before the command. All data are invented."""

from __future__ import annotations

import ast
import re
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

import bevelbook
from bevelbook.cli.copied_commands import name_database, with_database
from bevelbook.manual.commands import COMMANDS

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


def texts_for_others() -> Iterator[str]:
    """Texts of the sources that say what whoever sent something is to do with a command."""
    for path in Path(bevelbook.__file__).parent.rglob("*.py"):
        source = path.read_text(encoding="utf-8")
        if path.name == "copied_commands.py" or "bevelbook " not in source or not re.search("owner|sent it", source):
            continue
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Constant) and isinstance(node.value, str) and "bevelbook " in node.value:
                sentences = node.value.split(". ")
                yield from (
                    one
                    for one in sentences
                    if "bevelbook " in one and any(word in one for word in ("owner", "sent it"))
                )


def test_a_command_for_whoever_sent_something_names_no_database_of_this_laptop() -> None:
    found = [*texts_for_others(), "Ask for the file as bevelbook export wrote it"]
    assert len(found) >= 4, found
    name_database("sunday.db")
    try:
        assert [one for one in found if "sunday.db" in with_database(one)] == []
        assert with_database("ask whoever sent it.\n  bevelbook check") == (
            "ask whoever sent it.\n  bevelbook --db sunday.db check"
        )
    finally:
        name_database(None)


def broken(text: str) -> list[str]:
    """Lines in which a quoted command begins and does not end."""
    return [line for line in text.split("\n") if re.search(r"(?<!\w)'bevelbook [^']*$", line)]


def test_no_command_of_the_manual_or_of_a_help_is_broken_by_the_end_of_a_line(
    bevelbook: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    for width in (40, 80, 100):
        monkeypatch.setenv("COLUMNS", str(width))
        texts = [bevelbook(name, "--help").out for name in COMMANDS]
        texts += [
            bevelbook("help", topic).out for topic in ("errors", "commands", "import", "run", "protects", "hooks")
        ]
        assert sum(text.count("'bevelbook ") for text in texts) > 100
        assert [line for text in texts for line in broken(text)] == []


def test_nor_is_one_of_a_plan(bevelbook: Run) -> None:
    """Whatever name the database has: what is pasted from one line is the whole command."""
    for options in ((), ("--db", "the spring of the second team.db")):
        bevelbook(*options, "new")
        bevelbook(*options, "record", "diff", "label=rear-a", "usual_position=rear")
        bevelbook(*options, "record", "event", "name=spring race of the valley", "first_on=2026-06-13")
        plan = bevelbook(*options, "plan", "spring race of the valley").out
        assert plan.count("'bevelbook ") >= 2
        assert broken(plan) == []
        assert any(
            re.search(r"event \"spring race of the valley\" venue=\.\.\. air_low=\.\.\. air_high=\.\.\.'", line)
            for line in plan.split("\n")
        )


def test_a_file_with_a_blank_in_its_name_is_one_word_of_a_command(bevelbook: Run, tmp_path: Path) -> None:
    book = tmp_path / "a b.db"
    assert bevelbook("--db", book, "demo").code == 0
    said = bevelbook("--db", book, "edition", tmp_path / "ed it", "--yes")
    (file,) = (tmp_path / "ed it").glob("*.db")
    assert f'bevelbook --db "{file}" serve' in said.out
    readme = (tmp_path / "ed it" / "README.md").read_text(encoding="utf-8")
    assert f'--db "{file.name}" serve' in readme and f'--from "{file.name}"' in readme
    sent = bevelbook("--db", book, "export", "--since", "2026-01-01", tmp_path / "week end.zip")
    assert "'bevelbook merge \"week end.zip\"'" in " ".join(sent.out.split())
