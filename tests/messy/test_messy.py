"""Every messy file with what an importer should make of it, row by row (``expected.yaml``; all of it is invented)."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml

from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import empty_database
from bevelbook.records import BY_TABLE
from bevelbook.store.opening import new_database

FOLDER = Path(__file__).parent
EXPECTED = yaml.safe_load((FOLDER / "expected.yaml").read_text(encoding="utf-8"))
TODAY = "2026-05-04"
TRIALS = [
    pytest.param(case, options, rows, not options, id="-".join([name, *map(str, options.values())]))
    for name, case in EXPECTED["cases"].items()
    for options, rows in [({}, case.get("rows", [])), *((v["options"], v["rows"]) for v in case.get("variants", []))]
]


@pytest.fixture
def memory() -> Iterator[sqlite3.Connection]:
    connection = empty_database()
    yield connection
    connection.close()


def imported(case: dict[str, Any], connection: sqlite3.Connection, options: dict[str, Any]) -> Report:
    with (FOLDER / case["file"]).open("rb") as file:
        settings = Settings(**options, today=TODAY)
        return import_notes(file, case["file"], connection, Path(), settings, dry_run=True, want_rows=True)


def alike(column: str, wanted: Any, found: Any) -> bool:
    """Equal within R12: temperatures 0.05 °C, masses 0.0005 g, everything else exactly."""
    if isinstance(wanted, list):
        return any(alike(column, one, found) for one in wanted)
    if wanted is None or isinstance(wanted, str) or found is None:
        return bool(wanted == found)
    tolerance = 0.05 if column.endswith("_temp_c") else 0.0005 if column.endswith("_g") else 0.0
    return str(found) != "-0.0" and abs(found - wanted) <= tolerance


def faults_of(wanted: dict[str, Any], found: dict[str, Any] | None) -> list[str]:
    if found is None:
        return [f"line {wanted['line']} is not reported"]
    here = f"line {wanted['line']}"
    if "accept" in wanted:
        if found["status"] != "accepted":
            return [f"{here} is {found['status']} ({found['reason']})"]
        values = found["values"]
        faults = [
            f"{here}: {column} is {values['diff' if column == 'unit' else column]!r}, wanted {value!r}"
            for column, value in wanted["accept"].items()
            if not alike(column, value, values["diff" if column == "unit" else column])
        ]
        note = values["result_note"] or ""
        if len(note) != wanted.get("accept_note_length", len(note)) or not note.endswith(
            wanted.get("accept_note_ends", "")
        ):
            faults.append(f"{here}: the note is not whole")
        return faults + [f"{here}: no {code}" for code in wanted.get("warn", []) if code not in found["warnings"]]
    kind = "reject" if "reject" in wanted else "skip"
    codes = wanted[kind] if isinstance(wanted[kind], list) else [wanted[kind]]
    statuses = ("rejected", "skipped") if kind == "reject" else ("skipped",)
    if found["status"] not in statuses or found["reason"] not in codes:
        return [f"{here} is {found['status']} ({found.get('reason')}), wanted {kind} {codes}"]
    if "column" in wanted and found["column"] != wanted["column"]:
        return [f"{here}: column is {found['column']}, wanted {wanted['column']}"]
    if "raw" in wanted and found["value"] != wanted["raw"]:
        return [f"{here}: value is {found['value']!r}, wanted {wanted['raw']!r}"]
    return []


def faults_of_all(wanted: list[dict[str, Any]], found: dict[int, dict[str, Any]]) -> list[str]:
    known = {one["line"] for one in wanted}
    faults = [fault for one in wanted for fault in faults_of(one, found.get(one["line"]))]
    return faults + [
        f"line {n} is accepted" for n, row in found.items() if row["status"] == "accepted" and n not in known
    ]


@pytest.mark.parametrize(("case", "options", "rows", "whole"), TRIALS)
def test_every_row_has_its_outcome(
    case: dict[str, Any], options: dict[str, Any], rows: list[dict[str, Any]], whole: bool, memory: sqlite3.Connection
) -> None:
    """Where the case has more than one right outcome (``also_right``), the file has one of them as a whole."""
    report = imported(case, memory, options)
    by_line = {row["line"]: row for row in report.rows or []}
    ways = [rows, *(other.get("rows", []) for other in case.get("also_right", []) if whole)]
    assert min((faults_of_all(way, by_line) for way in ways), key=len) == []
    if case["file_outcome"] == "rejected":
        reasons = case["file_reason"]
        assert report.outcome == "rejected"
        assert report.file_reason in (reasons if isinstance(reasons, list) else [reasons])
    elif [] not in ways:
        assert (report.outcome, report.file_reason) == ("accepted", None)
    if report.outcome == "accepted":
        assert report.read == report.accepted + report.rejected + report.skipped == len(by_line)
    if whole:
        found = {*report.warnings, *(warning.partition(":")[0] for warning in report.warnings)}
        assert set(case.get("file_warnings", [])) <= found


@pytest.mark.parametrize("name", EXPECTED["cases"])
def test_the_files_are_the_ones_that_were_judged(name: str) -> None:
    case = EXPECTED["cases"][name]
    data = (FOLDER / case["file"]).read_bytes()
    assert (len(data), hashlib.sha256(data).hexdigest()) == (case["bytes"], case["sha256"])


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("14-unterminated-quote", "line 3"),
        ("41-mixed-encoding", "line 3"),
        ("41-mixed-encoding", "0xB0"),
        ("11-duplicate-header", "columns 4 and 5"),
        ("12-case-collision", "columns 4 and 5"),
    ],
)
def test_a_rejected_file_says_where_its_fault_is(name: str, words: str, memory: sqlite3.Connection) -> None:
    assert words in str(imported(EXPECTED["cases"][name], memory, {}).message)


def test_every_reason_and_warning_is_explained() -> None:
    from bevelbook.notes.report import REASONS, WARNINGS

    assert set(EXPECTED["reasons"]) | set(EXPECTED["skip_reasons"]) <= set(REASONS)
    assert set(EXPECTED["warnings"]) <= set(WARNINGS)


def test_number_columns_hold_numbers_only_whatever_came_in(tmp_path: Path) -> None:
    path = tmp_path / "all.db"
    connection = new_database(path)
    for case in EXPECTED["cases"].values():
        with (FOLDER / case["file"]).open("rb") as file:
            import_notes(file, case["file"], connection, path, Settings(today=TODAY))
    for table, kind in BY_TABLE.items():
        for field in kind.fields:
            if field.is_number:
                types = connection.execute(f'SELECT DISTINCT typeof("{field.name}") FROM {table}')
                assert {row[0] for row in types} <= {"real", "integer", "null"}, (table, field.name)
    assert connection.execute("SELECT count(*) FROM builds").fetchone()[0] > 80
    assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
    connection.close()
