"""An edition without days: of each the quarter is left, and the order."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import Any

from edition.conftest import Edit
from exported import Run

from bevelbook.edition.quarter_days import QuarterDays, shortened
from bevelbook.interchange.clean_database import clean_database
from bevelbook.records import BY_NAME, KINDS
from bevelbook.store.ids import day_ms
from bevelbook.store.schema import columns_of

DAY = re.compile(rb"\d{4}-\d{2}-\d{2}")


def _rows(path: Path, sql: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(sql).fetchall()


def _days_in(path: Path) -> set[str]:
    dates = [(field.name, kind.table) for kind in KINDS for field in kind.fields if field.kind == "date"]
    days = _rows(path, " UNION ".join(f"SELECT {name} FROM {table}" for name, table in dates))
    return {day for (day,) in days if day}


def test_no_day_is_in_any_byte_and_no_id_has_one(demo_db: Path, edit: Edit, tmp_path: Path) -> None:
    """Days stand in columns, labels, texts, results and ids; the moments of writing are of today."""
    real = _days_in(demo_db)
    written = edit(demo_db, days=False, to=tmp_path / "out.db")
    numbered = set(
        shortened(real | {row[0] for row in _rows(demo_db, "SELECT DISTINCT date(created_at) FROM runs")}).values()
    )
    left = {day.decode() for day in DAY.findall(written)}
    assert left - numbered <= {"1970-01-01"}
    assert len(real - numbered) > 10, "most real days are not among those that stand for them"
    for day in real - numbered:
        assert f"{day_ms(day):012x}"[:8].encode() not in re.findall(rb"([0-9a-f]{8})-[0-9a-f]{4}-[78]", written)


def test_quarters_and_the_order_stay(demo_db: Path, edit: Edit, tmp_path: Path) -> None:
    differing: list[int] = []
    edit(demo_db, days=False, to=tmp_path / "out.db", look=lambda copy: differing.append(copy.differing))
    assert differing == [0], "every fact is as it was"
    quarter = "substr({0}, 1, 4) || ((substr({0}, 6, 2) + 2) / 3)"
    builds = f"SELECT d.label, b.label, {quarter.format('b.built_on')} FROM builds b JOIN diffs d ON d.id = b.diff "
    order = "ORDER BY d.label, b.built_on, b.day_order, b.created_at, b.note_line, b.id"
    assert _rows(tmp_path / "out.db", builds + order) == _rows(demo_db, builds + order)
    runs = (
        f"SELECT x.build, b.label, {quarter.format('r.run_on')}, r.runs, r.call, r.grip, f.runs_before, f.fill_state "
    )
    runs += "FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build "
    runs += "JOIN run_diff_facts f ON f.run_diff = x.id ORDER BY b.label, f.runs_before, r.runs, r.call, r.grip"
    assert [row[1:] for row in _rows(tmp_path / "out.db", runs)] == [row[1:] for row in _rows(demo_db, runs)]


def test_days_in_a_row_stay_in_a_row() -> None:
    days = ("2026-05-02", "2026-05-03", "2026-05-09", "2026-06-20", "2026-06-30", "2026-07-01", "2027-07-01")
    assert list(shortened(days).values()) == [
        *("2026-04-01", "2026-04-02", "2026-04-04", "2026-04-06", "2026-04-08"),
        *("2026-07-01", "2027-07-01"),
    ]


def test_a_whole_quarter_of_racing_still_fits() -> None:
    """Every day of a quarter of 92 days, and every second one."""
    months = (("07", 32), ("08", 32), ("09", 31))
    for step in (1, 2):
        found = shortened(f"2026-{month}-{day:02d}" for month, last in months for day in range(1, last, step)).values()
        assert min(found) == "2026-07-01"
        assert max(found) <= "2026-09-30"


def test_days_in_texts(tmp_path: Path) -> None:
    with closing(clean_database(tmp_path / "empty.db")) as empty:
        days = QuarterDays(empty, ())
    for before, after in (
        ("as on 2026-05-03", "as on 2026-Q2"),
        ("3.5.2026, 3/5/26 and 3 May again", "(day), (day) and (day) again"),
        ("the 3rd of May and May 3rd, 2026", "the (day) and (day)"),
        ("12.43 g at 1.86, 3/4 full, ratio 1.5.2, 5-6 runs", "12.43 g at 1.86, 3/4 full, ratio 1.5.2, 5-6 runs"),
        ("it may lose 3 may be", "it may lose (day) be"),
    ):
        assert days.in_text(before) == after


def test_days_in_notes_that_are_not_english() -> None:
    """Basic form and weeks: ISO 8601-1, 5.2.2 and 5.2.4 (from memory). Months: Unicode CLDR (from memory)."""
    run = BY_NAME["run"]
    with closing(sqlite3.connect(":memory:")) as held:
        held.execute(f"CREATE TABLE runs ({', '.join(columns_of(run))})")
        held.executemany("INSERT INTO runs (run_on) VALUES (?)", (("2026-05-03",), ("2026-08-09",)))
        days = QuarterDays(held, (run,))
    for before, after in (
        ("saved 20260503, part 20261342, no 19990101", "saved 2026-Q2-01, part 20261342, no 19990101"),
        ("20260504T1405 was wet", "2026-Q2T1405 was wet"),
        ("2026-W18 and 2026W327, not W18", "2026-Q2 and 2026-Q3-01, not W18"),
        ("am 3. Mai, 12.März 2026, 1. Jänner", "am (day), (day), (day)"),
        ("am 3. Ma\u0308rz", "am (day)"),
        ("le 1er mai, 3 mai 2026, 14 ao\u00fbt", "le (day), (day), (day)"),
        ("el 3 de mayo de 2026 y 9 agosto", "el (day) y (day)"),
        ("il 3 maggio, 1\u00ba giugno 2026", "il (day), (day)"),
        ("am 3.5. nass, GP 3/5, race 8/9", "am (day) nass, GP (day), race (day)"),
        ("1.86 bar, 3/4 full, ratio 6/7, took 3 set, 2.5.", "1.86 bar, 3/4 full, ratio 6/7, took 3 set, 2.5."),
    ):
        assert days.in_text(before) == after
        assert days.in_text(after) == after


def test_what_still_looks_like_a_day_is_said(bevelbook: Run, tmp_path: Path) -> None:
    """1777766400 is 2026-05-03 00:00 UTC (by ``date -u -d @1777766400``)."""
    db = tmp_path / "days.db"
    assert bevelbook("--db", db, "new").code == 0
    note = "3. Mai wet, Sunday dry, sonntags, file 1777766400, part 1234567890, Mai 2026"
    for values in (("venue", "name=hall", f"note={note}"), ("run", "run_on=2026-05-03", "note=samedi 20260503")):
        assert bevelbook("--db", db, "record", *values).code == 0
    done = bevelbook("--db", db, "edition", "out", "--without-days")
    said = " ".join(done.out.split())
    assert (
        "Looks like a day, still in it: Sunday (note of venue hall); sonntags (note of venue hall); "
        "Mai 2026 (note of venue hall); 1777766400 (note of venue hall); samedi (note of run 2026-05-03/1)."
    ) in said
    kept = b"".join(one.read_bytes() for one in (tmp_path / "out").glob("*.db"))
    assert b"20260503" not in kept
    assert b"3. Mai" not in kept
