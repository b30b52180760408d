"""A file brought in by the page is stored as the command line stores it, with the same answers to the same questions.

All cells are invented.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from asked import asked
from conftest import Outcome, empty_database

from bevelbook.plugin.registry import Registry
from bevelbook.store.opening import open_for_writing
from bevelbook.web.entry.import_look import ImportLook, Looked
from bevelbook.web.entry.import_so_far import ImportSoFar

BARE = "date,diff,dry mass,oil mass\n"
STORED = (
    "SELECT id, label, dry_mass_g, oil_mass_g, viscosity_cst, note FROM builds ORDER BY id",
    "SELECT id, run_on, runs, track_temp_c, air_temp_c, note FROM runs ORDER BY id",
    "SELECT note_file, line, cells FROM note_extras ORDER BY id",
    "SELECT line, status, reason, raw FROM note_rejects ORDER BY id",
    "SELECT name, part, options, accepted, rejected, skipped FROM note_files ORDER BY id",
)
CASES = {
    "decimal mark": ('date;diff;viscosity\n2026-04-03;K-01;"100,000"\n', [","]),
    "one of two tables": (
        f"{BARE}2026-04-03,K-01,12.5,2.1\n\ndate,diff,total mass,runs\n2026-05-03,K-02,14.0,3\n",
        ["4-5"],
    ),
    "columns": ("date,diff,dry mass,Zeug,Rest\n2026-04-03,K-01,12.5,felt fine,x1\n", ["result_note", "ignore"]),
    "units, one left open": ("date,diff,oil mass,track temp,air temp\n2026-04-03,K-01,2.1,40,20\n", ["F", ""]),
    "order of the date": (f"{BARE}03/04/2026,K-01,12.5,2.1\n", ["mdy"]),
    "year": (f"{BARE}14 Feb,K-01,12.5,2.1\n", ["2019"]),
    "diff of the sheet": ("date,dry mass,oil mass\n2026-04-03,12.5,2.1\n", ["K-07"]),
    "none of the columns": ("date,dry mass,oil mass,Kisa\n2026-04-03,12.5,2.1,A-1\n", ["0", "K-07", ""]),
    "columns as rows": ("Date,2026-04-03,2026-05-03\nDiff,K-01,K-02\nDry mass,12.5,12.6\n", ["true"]),
    "a rejected row": (f"{BARE}03/04/2026,K-01,12.5,2.1\n04/04/2026,K-02,heavy,2.1\n", ["dmy"]),
}
"""Sheets with the answers to their questions, as they are typed on a terminal."""


class Typed(io.StringIO):
    """What somebody types on a terminal, answer by answer."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize("case", CASES)
def test_the_page_stores_what_the_command_line_stores(
    case: str,
    bevelbook: Callable[..., Outcome],
    tmp_path: Path,
    registry: Registry,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    text, answers = CASES[case]
    by_command, by_page = (empty_database(tmp_path / name) for name in ("command.db", "page.db"))
    (tmp_path / "season.csv").write_text(text, encoding="utf-8")
    monkeypatch.setattr("sys.stdin", Typed("".join(f"{one}\n" for one in (*answers, "y"))))
    done = bevelbook("--db", by_command, "import", "season.csv", "--no-rejects")
    assert done.code in (0, 1), done.err
    assert _brought_in(by_page, text, answers, registry) == [], "the page asks as much as the terminal"
    for sql in STORED:
        assert asked(by_page, sql) == asked(by_command, sql), sql
    assert asked(by_page, "SELECT count(*) FROM note_files") == [(1,)]


def _brought_in(path: Path, text: str, answers: list[str], registry: Registry) -> list[str]:
    """Bring a file in with these answers; those that nothing asked for."""
    left, so_far = [*answers], ImportSoFar("", "season.csv")
    with closing(open_for_writing(path)) as connection:

        def look() -> ImportLook:
            return ImportLook(connection, path, io.BytesIO(text.encode()), so_far, None)

        while (question := _asked(look().look())) is not None:
            answer = left.pop(0)
            found = so_far.answers
            named = next((one.value for one in question.answers if one.value == answer), None)
            value = named or (_typed(question, answer) if answer not in ("", "0") else None)
            found.take(question.asked, value, question.columns)
            so_far = so_far.with_answers(found)
        look().bring_in(registry, asked="a test", entry_id="01a21961-13a5-7181-bc47-a4fcb36fa0df")
    return left


def _asked(looked: Looked) -> Any:
    assert looked.refused is None
    return looked.question


def _typed(question: Any, answer: str) -> str:
    from bevelbook.notes.file_answers import value_typed

    value = value_typed(question.asked, question.answers, answer)
    assert value is not None
    return value
