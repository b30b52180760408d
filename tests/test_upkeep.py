"""What hangs on a record is worked out anew when it is written. All data are constructed.

The masses are those of physics' leak rows: 18.35, 18.34, 18.10 g at 0, 6, 13 runs with 1.50 g of oil.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome

from bevelbook.registry import Registry, load
from bevelbook.store.opening import open_for_reading
from bevelbook.tasks import upkeep

Command = Callable[..., Outcome]

NOTES = """date,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,grip,diff_temp_c,runs,call
2026-05-01,rear-c,9.50,1.50,,7000,low,30,3,keep
2026-05-02,rear-c,,,10.80,,low,31,3,keep
"""


@pytest.fixture
def record(db: Path, bevelbook: Command) -> Command:
    def run(*words: object) -> Outcome:
        done = bevelbook("--db", db, "record", *words)
        assert done.code == 0, done.out + done.err
        return done

    run("scale", "name=pocket", "step_g=0.01", "repeatability=0.005")
    run("diff", "label=rear-a")
    run("fluid", "label=7k", "viscosity=7000", "viscosity_source=label")
    run(
        "build",
        "diff=rear-a",
        "built_on=2026-05-01",
        "dry_mass=9.5",
        "oil_mass=1.5",
        "closed_mass=18.35",
        "fluid=7k",
        "scale=pocket",
    )
    return run


def weigh(record: Command, runs: int, mass: float) -> Outcome:
    return record(
        "weighing",
        "build=rear-a/1",
        f"runs={runs}",
        f"mass={mass}",
        "mass_basis=closed",
        "scale=pocket",
        f"weighed_on=2026-05-{runs + 2:02}",
        "--json",
    )


def verdicts(db: Path) -> list[str]:
    connection = open_for_reading(db)
    try:
        rows = connection.execute("SELECT verdict FROM latest_calculations WHERE calculator = 'leak-trend'").fetchall()
    finally:
        connection.close()
    return [row[0] for row in rows]


def test_a_weighing_tells_at_once_what_was_lost_and_keeps_it(record: Command, db: Path) -> None:
    assert [one["verdict"] for one in weigh(record, 6, 18.34).json["worked_out"]] == ["ok"]
    (found,) = weigh(record, 13, 18.10).json["worked_out"]
    assert (found["calculator"], found["subject"], found["verdict"], found["new"]) == (
        "leak-trend",
        "rear-a/1",
        "stop",
        True,
    )
    assert "lost 0.25 g of 1.50 g" in found["reasons"][0]
    assert verdicts(db) == ["stop"]


def test_a_mended_weighing_is_worked_out_anew_and_mended_back_as_well(record: Command, db: Path) -> None:
    row_id = weigh(record, 6, 18.34).json["id"]
    for mass, verdict in ((18.10, "stop"), (18.34, "ok"), (18.10, "stop")):
        record("weighing", row_id, f"mass={mass}")
        assert verdicts(db) == [verdict]
    (same,) = record("weighing", row_id, "note=wiped", "--json").json["worked_out"]
    assert (same["verdict"], same["new"]) == ("stop", False)
    connection = open_for_reading(db)
    told = connection.execute("SELECT verdict FROM calculations ORDER BY calculated_at, id").fetchall()
    connection.close()
    assert [row[0] for row in told] == ["ok", "stop", "ok", "stop"]


def test_a_run_with_the_diffs_temperature_gets_the_viscosity_there(record: Command, db: Path) -> None:
    record("run", "run_on=2026-05-02", "rear=rear-a/1")
    connection = open_for_reading(db)
    row_id = connection.execute("SELECT id FROM run_diffs").fetchone()[0]
    connection.close()
    (found,) = record("run_diff", row_id, "diff_temp=45", "--json").json["worked_out"]
    assert found["calculator"] == "viscosity"
    connection = open_for_reading(db)
    at_45 = connection.execute("SELECT viscosity_at_diff_temperature_cst FROM what_worked").fetchone()[0]
    connection.close()
    assert 0 < at_45 < 7000
    (anew,) = record("fluid", "7k", "viscosity=10000", "--json").json["worked_out"]
    assert (anew["calculator"], anew["new"]) == ("viscosity", True)


def test_an_edit_of_the_scale_reaches_what_was_weighed_on_it(record: Command, db: Path) -> None:
    weigh(record, 6, 18.27)
    assert verdicts(db) == ["unclear"]
    record("scale", "pocket", "repeatability=0.001", "step_g=0.001")
    assert verdicts(db) == ["caution"]


def test_imported_notes_are_worked_out_and_counted(db: Path, bevelbook: Command) -> None:
    Path("notes.csv").write_text(NOTES, encoding="utf-8")
    told = bevelbook("--db", db, "import", "notes.csv", "--json")
    assert told.json["worked_out"] == {"leak-trend": {"stop": 1}, "viscosity": {"ok": 2}}
    assert "worked_out" not in bevelbook("--db", db, "import", "notes.csv", "--json").json


def test_too_many_wait_for_a_batch_and_the_command_is_named(
    db: Path, bevelbook: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(upkeep, "MOST", 1)
    Path("notes.csv").write_text(NOTES, encoding="utf-8")
    told = bevelbook("--db", db, "import", "notes.csv").out
    assert "bevelbook calc viscosity --all run_diff" in told
    assert "leak-trend of rear-c/1: STOP" in told


def test_a_record_is_written_even_where_no_calculator_is_loaded(connection: sqlite3.Connection) -> None:
    none = Registry()
    assert upkeep.keep_up(connection, none, "weighing", "w", None, "now") == upkeep.Upkeep((), ())
    assert load().calculators
