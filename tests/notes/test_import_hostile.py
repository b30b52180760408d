"""Whatever bytes and tables come in: an outcome for every line, no traceback, and numbers come back as themselves."""

from __future__ import annotations

import csv
import io
import sqlite3
from collections.abc import Callable
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bevelbook.notes.importing import import_notes
from bevelbook.notes.note_columns import BY_NAME, MEANINGS, NAMES
from bevelbook.notes.report import REASONS, Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.staging import empty_database
from bevelbook.store.opening import new_database

Run = Callable[..., Any]
TODAY = "2026-05-04"


@cache
def emptiness() -> sqlite3.Connection:
    """One database for all dry runs: they leave nothing in it."""
    return empty_database()


def imported(data: bytes, **said: Any) -> Report:
    asked = Settings(**said, today=TODAY)
    return import_notes(io.BytesIO(data), "n.csv", emptiness(), Path(), asked, dry_run=True, want_rows=True)


def whole(report: Report) -> None:
    """Every line has one outcome, and every reason is one that is explained."""
    assert report.read == report.accepted + report.rejected + report.skipped
    if report.outcome == "rejected":
        assert report.file_reason in REASONS
        return
    assert report.rows is not None
    assert len(report.rows) == report.read
    assert len({row["line"] for row in report.rows}) == report.read
    assert all(row["reason"] in REASONS for row in report.rows if row["status"] != "accepted")
    assert report.added + report.known == report.accepted
    assert list(report.lines())


CELLS = st.one_of(
    st.sampled_from(
        ["", "-", "a", "1.5", "1,5", "7.000", "7k cSt", "68 °F", "=1", "#N/A", "03/02/2024", "high", '"', "\x00"]
    ),
    st.text(max_size=12),
    st.floats(allow_nan=False, allow_infinity=False).map(str),
    st.dates().map(str),
)
HEADINGS = st.one_of(st.sampled_from([*NAMES, *MEANINGS, "track (°F)", "", "x"]), st.text(max_size=8))


@settings(max_examples=100)
@given(st.binary(max_size=300))
def test_any_bytes_have_an_outcome(data: bytes) -> None:
    whole(imported(data))


@settings(max_examples=100)
@given(st.binary(max_size=200), st.sampled_from(["utf-8", "utf-16", "cp1252", "latin-1", "utf-7"]))
def test_any_bytes_behind_a_heading_have_an_outcome(data: bytes, encoding: str) -> None:
    whole(imported(b"date,diff,runs,track,result_note\n2026-05-03,a,1,20,x\n" + data))
    whole(imported(b"date,diff,runs,track,result_note\n" + data, encoding=encoding))


@settings(max_examples=120)
@given(
    st.lists(HEADINGS, max_size=8),
    st.lists(st.lists(CELLS, max_size=10), max_size=12),
    st.sampled_from(",;\t|"),
    st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_any_table_has_an_outcome(headings: list[str], rows: list[list[str]], delimiter: str, end: str) -> None:
    file = io.StringIO(newline="")
    writer = csv.writer(file, delimiter=delimiter, lineterminator=end)
    writer.writerow(["date", "diff", *headings])
    writer.writerows(rows)
    whole(imported(file.getvalue().encode("utf-8", "surrogatepass")))


STYLES: dict[str, Callable[[str], str]] = {
    "point": lambda plain: plain,
    "comma": lambda plain: plain.replace(".", ","),
    "unit": lambda plain: f"{plain} g",
    "point and blanks": lambda plain: f"  {plain} ",
}


@settings(max_examples=100)
@given(
    st.lists(st.integers(501, 9999).map(lambda n: n / 100), min_size=1, max_size=8),
    st.sampled_from(sorted(STYLES)),
)
def test_numbers_written_in_one_style_come_back_as_themselves(masses: list[float], style: str) -> None:
    write = STYLES[style]
    lines = ["date;diff;dry_mass_g", *(f"2026-05-03;a;{write(f'{mass:.2f}')}" for mass in masses)]
    report = imported("\n".join(lines).encode())
    assert [row["values"]["dry_mass_g"] for row in report.rows or []] == masses


@settings(max_examples=60)
@given(st.lists(st.tuples(st.dates(), st.floats(5, 100), st.floats(50, 2e6)), min_size=1, max_size=6))
def test_what_was_read_is_read_back_from_its_own_values(rows: list[tuple[Any, float, float]]) -> None:
    """Written by us with all digits and a given decimal mark, a value is the same value."""
    lines = ["date,diff,dry_mass_g,viscosity_cst"]
    lines += [f"{day.isoformat()},a,{mass!r},{viscosity!r}" for day, mass, viscosity in rows]
    report = imported("\n".join(lines).encode(), decimal=".")
    accepted = [row["values"] for row in report.rows or [] if row["status"] == "accepted"]
    kept = [row for row in rows if row[0].isoformat() <= TODAY]
    assert [(v["date"], v["dry_mass_g"], v["viscosity_cst"]) for v in accepted] == [
        (day.isoformat(), mass, viscosity) for day, mass, viscosity in kept
    ]


def test_every_reason_that_reading_can_give_is_explained() -> None:
    assert {f"{name}_unknown" for name, field in BY_NAME.items() if field.kind == "choice"} <= set(REASONS)


def test_a_full_disk_is_reported_and_nothing_is_stored(tmp_path: Path, bevelbook: Run) -> None:
    from bevelbook.declare.errors import DatabaseError

    path = tmp_path / "team.db"
    connection = new_database(path)
    pages = connection.execute("PRAGMA page_count").fetchone()[0]
    connection.execute(f"PRAGMA max_page_count = {pages + 2}")
    rows = "".join(f"2026-05-03,a{n},9.5,1.5\n" for n in range(2000))
    data = io.BytesIO(b"date,diff,dry_mass_g,oil_mass_g\n" + rows.encode())
    with pytest.raises(DatabaseError) as caught:
        import_notes(data, "n.csv", connection, path, Settings())
    assert caught.value.code == "disk_full"
    assert connection.execute("SELECT count(*) FROM builds").fetchone()[0] == 0
    connection.execute("PRAGMA max_page_count = 1000000")
    data.seek(0)
    assert import_notes(data, "n.csv", connection, path, Settings()).added == 2000
    connection.close()


def test_a_database_that_cannot_be_written_is_reported(tmp_path: Path) -> None:
    from bevelbook.declare.errors import DatabaseError

    path = tmp_path / "team.db"
    new_database(path).close()
    connection = sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True, isolation_level=None)
    with pytest.raises(DatabaseError) as caught:
        import_notes(io.BytesIO(b"date,diff\n2026-05-03,a\n"), "n.csv", connection, path, Settings())
    assert caught.value.code == "read_only"
    connection.close()
