"""What hangs on a record is worked out again when it is written. All data are constructed.

Seal swell: outside diameters of 8.00 mm new and 8.11 mm used, (8.11 / 8)^3 - 1 = 4.2 %, and 8.60 mm, 24 %, over the
15 % at which a seal on a shaft is not put back. ``weighed`` is a calculator of these tests: it asks for the dry mass.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
from conftest import FIXED_NOW, Outcome
from constructed import Add, Team
from declared_calculator import declared

from bevelbook.calculating import recalculate
from bevelbook.calculating.recalculate import Touched, recalculate_for, recalculate_for_notes, subjects_of
from bevelbook.declare.fields import quantity, record
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.hookspecs import hookimpl
from bevelbook.plugin.registry import Origin, Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.check import check
from bevelbook.saving import imported
from bevelbook.store.opened_to_read import open_for_reading
from bevelbook.store.opening import open_for_writing, transaction

Command = Callable[..., Outcome]

NOTES = """date,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,grip,diff_temp_c,runs,call
2026-05-01,rear-c,9.50,1.50,,7000,low,30,3,keep
2026-05-02,rear-c,9.40,1.50,10.80,,low,31,3,keep
"""


@record
class DryMass:
    mass_g: float = quantity("g", "Dry mass", same_as="builds.dry_mass_g")


def weighed(*kept_after: str) -> Registry:
    """A registry of one calculator, kept after these kinds of record."""
    calculator: Calculator[Any, Any] = declared(given=DryMass, kept_after=kept_after)

    @hookimpl
    def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
        return (calculator,)

    module = ModuleType("own")
    module.bevelbook_calculators = bevelbook_calculators  # type: ignore[attr-defined]
    registry = Registry()
    registry.add(module, Origin("own", "own.py"))
    assert not registry.failures
    return registry


@pytest.fixture
def fitted(db: Path, bevelbook: Command) -> Callable[..., Outcome]:
    """A build with a used ring on its case-side shaft, whose outside diameter is measured by the argument."""

    def run(*words: object) -> Outcome:
        done = bevelbook("--db", db, "record", *words, "--json")
        assert done.code == 0, done.out + done.err
        return done

    run("diff", "label=rear-a", "housing_material=aluminium")
    run("build", "diff=rear-a", "built_on=2026-05-01", "dry_mass=9.5", "oil_mass=1.5")
    run("seal", "label=5x1.5", "outside_diameter=8.00 mm", "material=NBR")
    return run


def fit(record: Callable[..., Outcome], measured_mm: float) -> Outcome:
    return record(
        "seal_fitting",
        "build=rear-a/1",
        "place=case-side shaft",
        "seal=5x1.5",
        "condition=used",
        f"measured_outside_diameter={measured_mm}",
    )


def verdicts(db: Path) -> list[str]:
    connection = open_for_reading(db)
    try:
        rows = connection.execute("SELECT verdict FROM latest_calculations WHERE calculator = 'seal-swell'").fetchall()
    finally:
        connection.close()
    return [row[0] for row in rows]


def test_a_measured_seal_is_judged_at_once_and_kept(fitted: Callable[..., Outcome], db: Path) -> None:
    (found,) = fit(fitted, 8.11).json["kept"]
    assert (found["calculator"], found["subject"]) == ("seal-swell", "rear-a/1 case-side shaft")
    assert (found["verdict"], found["new"]) == ("ok", True)
    assert verdicts(db) == ["ok"]


def test_a_seal_that_may_not_go_back_is_found_by_check_without_a_batch(
    fitted: Callable[..., Outcome], db: Path, bevelbook: Command
) -> None:
    fit(fitted, 8.60)
    outcome = bevelbook("--db", db, "check")
    assert outcome.code == 1
    assert "the seal at the case-side shaft is in use after" in " ".join(outcome.out.split())


def test_a_seal_without_a_measured_size_is_passed_over(fitted: Callable[..., Outcome], db: Path) -> None:
    done = fitted("seal_fitting", "build=rear-a/1", "place=joint", "seal=5x1.5", "condition=used")
    assert "worked_out" not in done.json or done.json["kept"] == []
    assert verdicts(db) == []


def test_a_corrected_size_is_worked_out_again_and_back_as_well(fitted: Callable[..., Outcome], db: Path) -> None:
    row_id = fit(fitted, 8.11).json["id"]
    for size, verdict in ((8.60, "stop"), (8.11, "ok"), (8.60, "stop")):
        fitted("seal_fitting", row_id, f"measured_outside_diameter={size}")
        assert verdicts(db) == [verdict]
    (same,) = fitted("seal_fitting", row_id, "note=wiped").json["kept"]
    assert (same["verdict"], same["new"]) == ("stop", False)
    connection = open_for_reading(db)
    outcome = connection.execute("SELECT verdict FROM calculations ORDER BY calculated_at, id").fetchall()
    connection.close()
    assert [row[0] for row in outcome] == ["ok", "stop", "ok", "stop"]


def test_the_size_of_a_new_ring_reaches_every_place_it_sits_in(fitted: Callable[..., Outcome], db: Path) -> None:
    fit(fitted, 8.11)
    (again,) = fitted("seal", "5x1.5", "outside_diameter=7.50").json["kept"]
    assert (again["verdict"], again["new"]) == ("stop", True)


@pytest.mark.parametrize(
    ("kind", "wanted"),
    [
        ("build", ["rear-a/1"]),
        ("diff", ["rear-a/1", "rear-a/2"]),
        ("weighing", ["rear-a/1"]),
        ("run", ["rear-a/1"]),
        ("scale", ["rear-a/2"]),
    ],
)
def test_the_records_that_hang_on_one_are_found_by_the_declared_references(
    connection: sqlite3.Connection, add: Add, kind: str, wanted: list[str]
) -> None:
    team = Team(add)
    other = add("scale", name="other", step_g=0.1)
    first, second = team.build(scale=None), team.build(scale=other)
    weighing = add("weighing", build=first, mass_g=18.0, mass_basis="closed")
    run = add("run", label="one", run_on="2026-02-01")
    add("run_diff", run=run, build=first)
    touched = {"build": first, "diff": team.diff, "weighing": weighing, "run": run, "scale": other}[kind]
    found = subjects_of(connection, BY_NAME["build"], ("run_diff",), Touched(BY_NAME[kind], "id", touched))
    labels = {first: "rear-a/1", second: "rear-a/2"}
    assert sorted(labels[one] for one in found) == wanted


def test_a_scale_reaches_what_was_weighed_on_it_by_the_weighing(connection: sqlite3.Connection, add: Add) -> None:
    team = Team(add)
    other = add("scale", name="other", step_g=0.1)
    build = team.build()
    add("weighing", build=build, mass_g=18.0, mass_basis="closed", scale=other)
    touched = Touched(BY_NAME["scale"], "id", other)
    assert subjects_of(connection, BY_NAME["build"], (), touched) == []
    assert subjects_of(connection, BY_NAME["build"], ("weighing",), touched) == [build]


def test_only_what_asks_for_it_runs_after_a_record(connection: sqlite3.Connection, add: Add) -> None:
    build = Team(add).build(dry_mass_g=9.5)
    for kind, ran in (("build", ["doubling"]), ("person", [])):
        kept = recalculate_for(connection, weighed("build"), kind, build, "ana", FIXED_NOW)
        assert [one.result.calculator.name for one in kept.worked_out] == ran


def test_imported_notes_are_worked_out_and_counted(db: Path, bevelbook: Command) -> None:
    Path("notes.csv").write_text(NOTES, encoding="utf-8")
    report = bevelbook("--db", db, "import", "notes.csv", "--json").json
    assert report["added"]
    connection = open_for_writing(db)
    try:
        note_file = connection.execute("SELECT id FROM note_files").fetchone()[0]
        with transaction(connection, db):
            kept = recalculate_for_notes(connection, weighed("build", "weighing"), note_file, "ana")
    finally:
        connection.close()
    assert kept.counts() == {"doubling": {"ok": 2}}


def test_an_import_its_facts_and_what_is_kept_of_it_are_one_entry(
    db: Path, bevelbook: Command, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A process that ends before the results are kept leaves nothing of the import; what is kept has its facts."""
    Path("notes.csv").write_text(NOTES, encoding="utf-8")
    seen: list[int] = []

    def counted(connection: sqlite3.Connection, *_given: object) -> recalculate.Upkeep:
        seen.append(connection.execute("SELECT count(*) FROM build_facts").fetchone()[0])
        connection.execute("UPDATE note_files SET name = 'written in the same entry'")
        return recalculate.Upkeep((), ())

    monkeypatch.setattr(imported, "recalculate_for_notes", counted)
    assert bevelbook("--db", db, "import", "notes.csv").code == 0
    with sqlite3.connect(db) as other:
        builds = other.execute("SELECT count(*) FROM builds").fetchone()[0]
        assert seen == [builds]
        assert other.execute("SELECT asked FROM entries").fetchall() == [("import notes.csv",)]
        assert other.execute("SELECT name FROM note_files").fetchone()[0] == "written in the same entry"
    other.close()

    def stopped(*_given: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(imported, "recalculate_for_notes", stopped)
    Path("more.csv").write_text(NOTES.replace("2026-", "2025-"), encoding="utf-8")
    assert bevelbook("--db", db, "import", "more.csv").code == 130
    with sqlite3.connect(db) as other:
        assert other.execute("SELECT count(*) FROM builds").fetchone()[0] == builds
        assert other.execute("SELECT count(*) FROM note_files").fetchone()[0] == 1
    other.close()


def test_too_many_wait_for_a_batch_and_the_command_is_named(
    connection: sqlite3.Connection, add: Add, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(recalculate, "MOST", 1)
    team = Team(add)
    for _ in range(2):
        team.build(dry_mass_g=9.5)
    kept = recalculate_for(connection, weighed("build", "diff"), "diff", team.diff, "ana", FIXED_NOW)
    assert kept.worked_out == ()
    assert list(kept.lines()) == ["More than 1 are new to doubling; for all: 'bevelbook calc doubling --all build'"]


def test_a_record_is_written_even_where_no_calculator_is_loaded(connection: sqlite3.Connection) -> None:
    assert recalculate_for(connection, Registry(), "weighing", "w", None, "now") == recalculate.Upkeep((), ())


def test_a_swell_that_was_kept_is_a_finding(connection: sqlite3.Connection, registry: Registry, add: Add) -> None:
    ring = add("seal", label="5x1.5", outside_diameter_mm=8.0)
    build = Team(add).build()
    fitting = add(
        "seal_fitting", build=build, place="joint", seal=ring, condition="used", measured_outside_diameter_mm=9.0
    )
    recalculate_for(connection, registry, "seal_fitting", fitting, "ana", FIXED_NOW)
    assert "seal_past_verdict" in [one.code for one in check(connection, registry).findings]
