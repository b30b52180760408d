"""A formula that was changed without a new version: who computes, keeps, imports or checks hears of it, and nothing
that was kept is changed. All data are constructed: a plugin doubles a mass, then makes three of it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from conftest import FIXED_NOW, Outcome
from constructed import Add, Team
from declared_calculator import Found, declared
from failing_plugins import Bench, plugin

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.keep import KeptResult, batch, keep_result
from bevelbook.calculating.kept_otherwise import other_formula
from bevelbook.calculating.known import Subject
from bevelbook.declare.fields import quantity, record
from bevelbook.plugin import registry as registries
from bevelbook.plugin.registry import Offered, Origin, Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.check import check

TRIPLE = "return Found(double_g=3 * given.mass_g, word='even', pieces=(Piece(mass_g=1.0, count=2),))"
CHANGED = "bad was changed without a new version: 1 result of version 1 was kept by another formula"
NOTES = "date,diff,dry_mass_g,oil_mass_g\n2026-05-01,rear-a,9.50,1.50\n"


@record
class DryMass:
    mass_g: float = quantity("g", "Dry mass", same_as="builds.dry_mass_g")


def doubling(compute: Callable[[Any], Found] | None = None, **changes: Any) -> Offered:
    more = {"compute": compute} if compute else {}
    return Offered(declared(given=DryMass, **more, **changes), Origin("own", "own.py"))


def keep(connection: sqlite3.Connection, offered: Offered, mass: str, subject: Subject | None = None) -> KeptResult:
    result = run(offered.calculator, bind(offered.calculator, {"mass_g": mass}))
    return keep_result(connection, offered, result, subject, "ana", FIXED_NOW)


def rows(connection: sqlite3.Connection) -> list[tuple[Any, ...]]:
    return [tuple(row) for row in connection.execute("SELECT * FROM calculations ORDER BY id")]


def tripled(given: Any) -> Found:
    return Found(double_g=3 * given.mass_g)


def test_a_kept_result_with_other_figures_is_said_with_both_and_stays(connection: sqlite3.Connection) -> None:
    first = keep(connection, doubling(), "1.5 g")
    before = rows(connection)
    again = keep(connection, doubling(tripled), "1.5 g")
    assert (again.row_id, again.is_new) == (first.row_id, False)
    assert again.otherwise is not None
    assert [tuple(one) for one in again.otherwise.figures] == [("double", "4.50 g", "3.00 g")]
    assert again.otherwise.words == (
        f"doubling is kept as calculation {first.row_id} on 2026-05-01 with other figures: double 4.50 g now, 3.00 g "
        "kept. The kept ones were not changed"
    ).replace("2026-05-01", FIXED_NOW[:10])
    assert rows(connection) == before


def test_the_last_digits_of_another_machine_are_no_difference(connection: sqlite3.Connection) -> None:
    first = keep(connection, doubling(), "1.5 g")
    found = keep(connection, doubling(lambda given: Found(double_g=2 * given.mass_g * (1 + 1e-11))), "1.5 g")
    assert found == KeptResult(first.row_id, False)


def test_equal_figures_of_another_formula_are_never_known_already(connection: sqlite3.Connection) -> None:
    """It gives the same for 1.5 g and something else for its worked example, 1 g."""
    keep(connection, doubling(), "1.5 g")
    other = doubling(lambda given: Found(double_g=given.mass_g + 1.5))
    again = keep(connection, other, "1.5 g")
    assert again.otherwise is not None
    assert not again.otherwise.figures
    assert "with the same figures, by another formula of version 1" in again.otherwise.words
    assert keep(connection, other, "2 g").otherwise is None
    changed = other_formula(connection, other.calculator)
    assert changed is not None
    assert (changed.results, changed.later_version) == (1, None)
    assert "its author gives it version 2" in changed.remedy.replace("Its", "its")


def test_what_nobody_kept_a_fingerprint_of_contradicts_nothing(connection: sqlite3.Connection) -> None:
    keep(connection, doubling(), "1.5 g")
    connection.execute("UPDATE calculations SET fingerprint = NULL")
    changed = doubling(tripled)
    assert other_formula(connection, changed.calculator) is None
    differing = keep(connection, changed, "1.5 g").otherwise
    assert differing is not None
    assert differing.figures


def test_one_that_goes_by_more_than_its_inputs_is_found_alike(connection: sqlite3.Connection) -> None:
    counted = iter(range(1, 100))
    offered = doubling(lambda given: Found(double_g=float(next(counted))))
    keep(connection, offered, "1.5 g")
    differing = keep(connection, offered, "1.5 g").otherwise
    assert differing is not None
    assert "goes by more than its inputs" in differing.sentence()


def test_a_batch_counts_them_and_says_the_first(connection: sqlite3.Connection, add: Add) -> None:
    team = Team(add)
    for mass in (9.0, 9.5, 9.6, 9.7, 9.8):
        team.build(dry_mass_g=mass)
    build = BY_NAME["build"]
    assert batch(connection, doubling(), build, {}, "ana", lambda: FIXED_NOW).new == 5
    before = rows(connection)
    report = batch(connection, doubling(tripled), build, {}, "ana", lambda: FIXED_NOW)
    assert (report.computed, report.new, report.otherwise, len(report.first_otherwise)) == (5, 0, 5, 3)
    lines = list(report.lines_of_kept())
    assert "doubling of rear-a/1 is kept as" in lines[0]
    assert lines[3] == "The same of 2 more results."
    assert "changed without a new version: 5 results of version 1 were kept by another formula. Its author" in lines[4]
    assert rows(connection) == before
    report = batch(connection, doubling(tripled, version=2), build, {}, "ana", lambda: FIXED_NOW)
    assert (report.new, report.otherwise, list(report.lines_of_kept())) == (5, 0, [])
    latest = connection.execute("SELECT double_g FROM calc_doubling_latest ORDER BY double_g").fetchall()
    assert [row[0] for row in latest] == pytest.approx([27.0, 28.5, 28.8, 29.1, 29.4])
    assert connection.execute("SELECT count(*) FROM calc_doubling").fetchone()[0] == 10


def test_check_finds_what_another_formula_kept_and_a_later_version(connection: sqlite3.Connection) -> None:
    def found(offered: Offered) -> list[tuple[str, str, str]]:
        registry = Registry()
        registry.calculators["doubling"] = offered
        return [(one.name, one.severity, one.words) for one in check(connection, registry).every_of_team]

    keep(connection, doubling(), "1.5 g")
    assert found(doubling()) == []
    assert found(doubling(tripled)) == [
        (
            "doubling changed without version",
            "caution",
            "doubling was changed without a new version: 1 result of version 1 was kept by another formula",
        )
    ]
    keep(connection, doubling(tripled, version=2), "1.5 g")
    assert found(doubling(tripled, version=2)) == []
    (name, severity, words), *more = found(doubling())
    assert (name, severity, more) == ("doubling later version kept", "worth a look", [])
    assert words == (
        "doubling is version 1 here, and 1 result of version 2 is kept: of each record the one of the later version "
        "counts"
    )


def test_commands_pages_and_imports_tell_it_and_end_with_1(
    bevelbook: Callable[..., Outcome], db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(registries, "_installed", lambda: ())
    folder = tmp_path / "plugins"
    folder.mkdir()
    bench = Bench(bevelbook, folder, db)
    bench.put()
    (tmp_path / "notes.csv").write_text(NOTES, encoding="utf-8")
    assert bench.command("import", "notes.csv").code == 0
    kept = bench.command("calc", "bad", "--for", "rear-a/1", "--keep")
    assert (kept.code, "Known already as calculation" in kept.out) == (0, True)
    bench.put(compute=TRIPLE)
    for words in (("--keep",), ()):
        done = bench.command("calc", "bad", "--for", "rear-a/1", *words)
        said = " ".join(done.out.split())
        assert done.code == 1
        assert "bad of rear-a/1 is kept as calculation" in said
        assert "with other figures: double 28.50 g now, 19.00 g kept. The kept ones were not changed." in said
        assert CHANGED in said
        assert "Known already" not in said
    asked_again = bench.command("calc", "bad", "--for", "rear-a/1", "--keep", "--json")
    assert asked_again.code == 1
    differs = asked_again.json["kept"]["differs"]
    assert differs["code"] == "kept_result_differs"
    assert differs["figures"] == [{"words": "double", "now": "28.50 g", "kept": "19.00 g"}]
    assert CHANGED in asked_again.json["kept_results_say"][1]
    every = bench.command("calc", "bad", "--all", "build", "--json")
    assert (every.code, every.json["differing"], every.json["new"]) == (1, 1, 0)
    after = bench.command("record", "build", "rear-a/1", "note=wiped")
    assert after.code == 1
    assert "double 28.50 g now, 19.00 g kept" in " ".join(after.err.split())
    again = bench.command("import", "--again", "notes.csv", "--yes", "--json")
    assert (again.code, [one["code"] for one in again.json["plugin_faults"]]) == (1, ["kept_result_differs"])
    new = bench.command("calc", "bad", "--mass", "3 g", "--keep")
    assert (new.code, "Kept as calculation" in new.out, CHANGED in " ".join(new.out.split())) == (0, True, True)
    page = bench.page("/team/-/calc/bad?for=rear-a/1")
    assert "double 28.50 g now, 19.00 g kept" in page
    assert CHANGED in page
    assert CHANGED in bench.page("/team/-/look")
    found = bench.command("check", "--json").json["team"]
    assert [one["name"] for one in found] == ["bad changed without version"]
    (folder / "bad.py").write_text(plugin("bad", compute=TRIPLE).replace("version=1", "version=2"), encoding="utf-8")
    raised = bench.command("calc", "bad", "--for", "rear-a/1", "--keep", "--json")
    assert (raised.code, raised.json["kept"]["new"], raised.json["kept_results_say"]) == (0, True, [])
    assert bench.command("check", "--json").json["team"] == []
    with sqlite3.connect(db) as connection:
        found_there = connection.execute("SELECT found FROM calculations ORDER BY version, calculated_at").fetchall()
    connection.close()
    assert [json.loads(row[0])["double_g"] for row in found_there] == [19.0, 9.0, 28.5]
