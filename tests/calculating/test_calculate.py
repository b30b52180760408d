"""Binding, computing, uncertainty, keeping and batches."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from copy import copy
from pathlib import Path
from typing import Any

import pytest
from conftest import FIXED_NOW, Outcome
from declared_calculator import Found, declared

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.keep import KeptResult, batch, keep_result
from bevelbook.calculating.known import find_subject, known_of, known_of_team
from bevelbook.calculating.result_text import result_lines
from bevelbook.calculating.table_rows import TableRows
from bevelbook.declare.errors import BevelbookError, InputError, PluginFault
from bevelbook.declare.fields import listing, quantity, record
from bevelbook.plugin.calculator import Calculator, Judgement
from bevelbook.plugin.registry import Offered, Origin, Registry
from bevelbook.records import BY_NAME
from bevelbook.store.writing import Writer


@record
class Part:
    mass_g: float = quantity("g", "Mass")


@record
class Parts:
    factor: float = quantity("1", "Factor", default=1.0)
    parts: tuple[Part, ...] = listing(Part, "Masses", default=(), singular="part")


@record
class Sum:
    sum_g: float = quantity("g", "Sum of the masses, times the factor")
    count_percent: float = quantity("%", "Something rounded", exact=True)


def summing(**changes: Any) -> Calculator[Any, Any]:
    return declared(
        given=Parts,
        found=Sum,
        compute=lambda given: Sum(sum_g=given.factor * sum(one.mass_g for one in given.parts), count_percent=1.0),
        judge=lambda given, found: Judgement("stop" if found.sum_g > 10 else "ok", ("message",)),
        answer="sum_g",
        **changes,
    )


def test_a_typed_input_goes_before_a_known_one_and_that_before_the_default(registry: Registry) -> None:
    calculator = registry.calculator("fill-target").calculator
    known = {"builds.dry_mass_g": (12.3, "the build"), "builds.target_oil_mass_g": (1.86, "the build")}
    bound = bind(calculator, {"dry_mass_g": "12400 mg"}, known)
    assert (bound.given.dry_mass_g, bound.given.oil_mass_g, bound.given.scale_step_g) == (12.4, 1.86, 0.01)
    assert bound.origins["dry_mass_g"] == "given"
    assert bound.origins["oil_mass_g"] == "the build"
    assert bound.origins["scale_step_g"] == "default"
    assert bound.origins["reading_g"] == "not given"


def test_a_known_value_outside_the_bounds_is_refused_with_its_origin(registry: Registry) -> None:
    with pytest.raises(InputError, match="the build"):
        bind(
            registry.calculator("fill-target").calculator,
            {"oil_mass_g": "1.86"},
            {"builds.dry_mass_g": (0.0, "the build")},
        )


def test_a_missing_input_is_named() -> None:
    with pytest.raises(InputError, match=r"^dry_mass_g is missing\. Give it in g\.$"):
        bind(declared(given=_needs_dry_mass()), {})


def _needs_dry_mass() -> type[Any]:
    @record
    class Needs:
        dry_mass_g: float = quantity("g", "Mass before oil")

    return Needs


def test_a_value_outside_the_sane_range_is_a_finding(registry: Registry) -> None:
    bound = bind(registry.calculator("fill-target").calculator, {"dry_mass_g": "500", "oil_mass_g": "1.86"})
    assert any("dry mass of 500 g" in finding for finding in bound.findings)


def test_uncertainty_is_carried_to_every_output_that_is_not_exact() -> None:
    """JCGM 100:2008, 5.1.2: u(y)^2 = sum of (dy/dx u(x))^2; for a sum of two masses 0.3 and 0.4 it is 0.5."""
    calculator = summing()
    result = run(calculator, bind(calculator, {"parts": ["1 +/- 0.3 g (k = 1)", "2 +/- 0.4 g (k = 1)"]}))
    assert result.outputs["sum_g"] == 3.0
    assert result.uncertainties == {"sum_g": pytest.approx(0.5)}


def test_uncertainty_agrees_with_a_library_on_a_product() -> None:
    from uncertainties import ufloat

    calculator = summing()
    result = run(calculator, bind(calculator, {"factor": "3 +/- 0.2 (k = 1)", "parts": ["2 +/- 0.1 g (k = 1)"]}))
    expected = ufloat(3, 0.2) * ufloat(2, 0.1)
    assert result.uncertainties["sum_g"] == pytest.approx(expected.std_dev, rel=1e-6)


def test_uncertainty_is_not_available_where_the_step_leaves_the_range() -> None:
    def compute(given: Any) -> Found:
        if given.mass_g != 1.0:
            raise InputError("outside", code="outside_valid_range")
        return Found(double_g=2.0)

    calculator = declared(compute=compute)
    result = run(calculator, bind(calculator, {"mass_g": "1 +/- 0.1 g (k = 1)"}))
    assert result.uncertainties == {"double_g": None}
    assert result.verdict == "unclear"
    assert any("not available here" in line for line in result_lines(result))


def test_an_output_that_is_rounded_on_the_way_carries_its_uncertainty_too() -> None:
    """By hand: √(0.3² + 0.4²) = 0.5 for a sum rounded to 0.001, whose slope over a tiny step is 0; a tenth of a factor
    of 2 on a sum of 3 adds 0.3."""
    calculator = declared(
        given=Parts,
        found=Sum,
        compute=lambda given: Sum(
            sum_g=given.factor * round(sum(one.mass_g for one in given.parts), 3), count_percent=1.0
        ),
        judge=lambda given, found: Judgement("ok", ("message",)),
        answer="sum_g",
    )
    result = run(calculator, bind(calculator, {"parts": ["1 +/- 0.3 g (k = 1)", "2 +/- 0.4 g (k = 1)"]}))
    assert result.uncertainties == {"sum_g": pytest.approx(0.5)}
    typed = {"factor": "2 +/- 0.1 (k = 1)", "parts": ["1 +/- 0.3 g (k = 1)", "2 +/- 0.4 g (k = 1)"]}
    assert run(calculator, bind(calculator, typed)).uncertainties == {"sum_g": pytest.approx((0.3**2 + 1.0**2) ** 0.5)}


def test_a_verdict_that_the_given_uncertainty_would_change_is_unclear() -> None:
    calculator = summing()
    near = run(calculator, bind(calculator, {"parts": ["9.99 +/- 0.01 g (k = 1)"]}))
    assert near.verdict == "unclear"
    assert "it could be ok as well as stop" in near.judgement.reasons[0]
    assert "given for mass of part 1 (k = 2)" in near.judgement.reasons[0]
    far = run(calculator, bind(calculator, {"parts": ["9.90 +/- 0.01 g (k = 1)"]}))
    assert far.verdict == "ok"


def test_a_verdict_that_several_uncertainties_together_would_change_is_unclear() -> None:
    """By hand: 2 √(0.02² + 0.02²) = 0.057 g for two masses that sum to 9.95 g under a limit of 10 g; 0.04 g for one."""
    calculator = summing()
    both = run(calculator, bind(calculator, {"parts": ["4.975 +/- 0.02 g (k = 1)", "4.975 +/- 0.02 g (k = 1)"]}))
    assert both.verdict == "unclear"
    assert "given for these inputs together (k = 2)" in both.judgement.reasons[0]
    one = run(calculator, bind(calculator, {"parts": ["4.975 +/- 0.02 g (k = 1)", "4.975 g"]}))
    assert one.verdict == "ok"
    away = run(calculator, bind(calculator, {"parts": ["4.97 +/- 0.02 g (k = 1)", "4.97 +/- 0.02 g (k = 1)"]}))
    assert away.verdict == "ok"


@record
class Part:
    piece_g: float = quantity("g", "Mass of a piece", plausible=(1.0, 10.0))


@record
class Ranged:
    mass_g: float = quantity("g", "Mass", default=5.0, plausible=(1.0, 100.0))
    parts: tuple[Part, ...] = listing(Part, "Pieces", default=(), singular="part")


def test_a_plugin_that_raises_is_named_and_no_traceback_reaches_the_user() -> None:
    calculator = declared(compute=lambda given: {}["gone"])
    with pytest.raises(BevelbookError, match="fault of the plugin"):
        run(calculator, bind(calculator, {}))


@pytest.mark.parametrize(
    "compute",
    [lambda given: 1 / 0, lambda given: float("x"), lambda given: Found(double_g=float("inf"))],
)
def test_arithmetic_that_fails_is_the_plugins_fault_unless_an_input_is_far_off(compute: Callable[[Any], Any]) -> None:
    fault = "This is a fault of the plugin; tell its author."
    calculator = declared(given=Ranged, compute=compute)
    for typed, remedy in (
        ({}, fault),
        ({"mass_g": "5 g", "parts": ["2 g"]}, fault),
        (
            {"mass_g": "900 g"},
            "Look at this first: mass of 900 g is outside 1 to 100 g. If it is right, this is a fault of the plugin; "
            "tell its author.",
        ),
        (
            {"mass_g": "900 g", "parts": ["2 g", "40 g"]},
            "Look at these first: mass of 900 g is outside 1 to 100 g; part 2: piece of 40 g is outside 1 to 10 g. "
            "If they are right, this is a fault of the plugin; tell its author.",
        ),
    ):
        with pytest.raises(PluginFault) as caught:
            run(calculator, bind(calculator, typed))
        assert caught.value.remedy == remedy
        assert caught.value.may_be_inputs


def test_a_plugin_that_fails_only_a_step_away_is_named_and_not_called_unclear() -> None:
    calculator = declared(compute=lambda given: Found(double_g=2.0) if given.mass_g == 1.0 else None)
    assert run(calculator, bind(calculator, {"mass_g": "1 g"})).verdict == "ok"
    with pytest.raises(PluginFault, match="compute gave None"):
        run(calculator, bind(calculator, {"mass_g": "1 +/- 0.1 g (k = 1)"}))


def test_uncertainty_is_not_available_where_a_step_is_no_longer_finite() -> None:
    calculator = declared(compute=lambda given: Found(double_g=2.0 if given.mass_g == 1.0 else float("inf")))
    result = run(calculator, bind(calculator, {"mass_g": "1 +/- 0.1 g (k = 1)"}))
    assert (result.uncertainties, result.verdict) == ({"double_g": None}, "unclear")


def test_a_verdict_is_unclear_where_the_arithmetic_fails_a_step_away() -> None:
    calculator = declared(compute=lambda given: Found(double_g=1 / (given.mass_g >= 1.0) + 1))
    result = run(calculator, bind(calculator, {"mass_g": "1 +/- 0.1 g (k = 1)"}))
    assert (result.uncertainties, result.verdict) == ({"double_g": None}, "unclear")


@pytest.fixture
def team(writer: Writer) -> dict[str, str]:
    """A diff with two builds from a bottle that was measured, and one build without masses."""
    diff = writer.insert(BY_NAME["diff"], {"label": "rear-a", "free_volume_cm3": 2.26})
    scale = writer.insert(
        BY_NAME["scale"], {"name": "pocket", "step_g": 0.1, "repeatability_g": 0.05, "day_to_day_g": 0.0}
    )
    fluid = writer.insert(BY_NAME["fluid"], {"label": "house 7k", "viscosity_cst": 7000.0, "density_g_cm3": 0.97})
    bottle = writer.insert(BY_NAME["bottle"], {"fluid": fluid, "lot": "second", "viscosity_cst": 6150.0})
    ids = {"diff": diff, "scale": scale}
    for number, extra in enumerate(
        ({"dry_mass_g": 12.42, "oil_mass_g": 1.86}, {"dry_mass_g": 12.41, "oil_mass_g": 1.87, "bottle": bottle}, {}),
        start=1,
    ):
        ids[f"build {number}"] = writer.insert(
            BY_NAME["build"],
            {
                "label": f"rear-a/{number}",
                "diff": diff,
                "built_on": f"2026-05-0{number}",
                "fluid": fluid,
                "scale": scale,
                **extra,
            },
        )
    return ids


def test_a_build_gives_its_own_values_its_scale_and_its_bottles_measurement(
    connection: sqlite3.Connection, registry: Registry, team: dict[str, str]
) -> None:
    offered = registry.calculator("fill-target")
    known = known_of(connection, offered.calculator, [find_subject(connection, "rear-a/2")])
    assert known["builds.dry_mass_g"][0] == 12.41
    assert known["diffs.free_volume_cm3"][0] == 2.26
    assert known["scales.step_g"][0] == 0.1
    assert known["fluids.density_g_cm3"][0] == 0.97
    assert known["builds.viscosity_cst"] == (6150.0, "own measurement of the bottle, build rear-a/2")
    first = known_of(connection, offered.calculator, [find_subject(connection, "rear-a/1")])
    assert first["builds.viscosity_cst"][0] == 7000.0


def test_the_oils_at_hand_are_those_that_are_not_used_up(connection: sqlite3.Connection, registry: Registry) -> None:
    """A bottle's own measurement goes before the label; grease, labels without cSt and empty bottles are left out."""
    writer = Writer(connection, "ana", lambda: FIXED_NOW)

    def add(label: str, cst: float | None, *bottles: dict[str, Any], **more: Any) -> None:
        fluid = writer.insert(BY_NAME["fluid"], {"label": label, "viscosity_cst": cst, **more})
        for bottle in bottles:
            writer.insert(BY_NAME["bottle"], {"fluid": fluid, **bottle})

    add("no bottle noted", 5000.0)
    add("one of two empty", 7000.0, {"empty": "yes"}, {"viscosity_cst": 6150.0})
    add("all empty", 10000.0, {"empty": "yes"})
    add("60 wt", None)
    add("cup grease", 90000.0, medium="grease")
    (rows, about) = known_of_team(connection, registry.calculator("same-feel").calculator)["listings.at_hand"]
    assert [row["viscosity_cst"] for row in rows] == [5000.0, 6150.0]
    assert about == "the team's oils that are not used up"


def test_a_subject_may_be_named_with_its_kind(connection: sqlite3.Connection, team: dict[str, str]) -> None:
    assert find_subject(connection, "scale:pocket").row_id == team["scale"]
    assert find_subject(connection, "diff:rear-a").kind.name == "diff"
    assert find_subject(connection, "rear-a").kind.name == "build"


def test_the_same_call_twice_is_one_row_and_a_new_version_is_another(
    connection: sqlite3.Connection, registry: Registry
) -> None:
    offered = registry.calculator("fill-target")
    result = run(offered.calculator, bind(offered.calculator, {"dry_mass_g": "12.4", "oil_mass_g": "1.86"}))
    first = keep_result(connection, offered, result, None, "ana", FIXED_NOW)
    assert first.is_new
    assert keep_result(connection, offered, result, None, "bo", FIXED_NOW) == KeptResult(first.row_id, False)
    newer = Offered(_with_version(offered.calculator, offered.calculator.version + 1), offered.origin)
    again = run(newer.calculator, bind(newer.calculator, {"dry_mass_g": "12.4", "oil_mass_g": "1.86"}))
    assert keep_result(connection, newer, again, None, "ana", FIXED_NOW).is_new
    assert connection.execute("SELECT count(*) FROM calculations").fetchone()[0] == 2
    views = ("calc_fill_target", "calc_fill_target_latest")
    kept = {view: connection.execute(f"SELECT version FROM {view} ORDER BY 1").fetchall() for view in views}
    versions = [offered.calculator.version, newer.calculator.version]
    assert {view: [row[0] for row in rows] for view, rows in kept.items()} == {
        "calc_fill_target": versions,
        "calc_fill_target_latest": versions[1:],
    }


def _with_version(calculator: Calculator[Any, Any], version: int) -> Calculator[Any, Any]:
    newer = copy(calculator)
    newer.version = version
    return newer


def test_a_kept_row_has_inputs_outputs_origins_and_its_calculator(
    connection: sqlite3.Connection, registry: Registry, team: dict[str, str]
) -> None:
    offered = registry.calculator("fill-target")
    subject = find_subject(connection, "rear-a/1")
    bound = bind(offered.calculator, {}, known_of(connection, offered.calculator, [subject]))
    row_id = keep_result(connection, offered, run(offered.calculator, bound), subject, "ana", FIXED_NOW).row_id
    row = connection.execute("SELECT * FROM calculations WHERE id = ?", (row_id,)).fetchone()
    assert json.loads(row["found"])["stop_mass_g"] == 14.28
    assert json.loads(row["origins"])["dry_mass_g"] == "build rear-a/1"
    assert (row["package"], row["package_version"]) == ("bevelbook", "0.1.0")
    assert (row["subject_table"], row["subject_id"]) == ("builds", team["build 1"])
    typed = connection.execute("SELECT stop_mass_g, given_oil_mass_g, verdict FROM calc_fill_target").fetchone()
    assert tuple(typed)[:2] == (14.28, 1.86)


def test_a_batch_keeps_a_row_for_every_build_and_says_why_others_are_left_out(
    connection: sqlite3.Connection, registry: Registry, team: dict[str, str]
) -> None:
    offered = registry.calculator("fill-target")
    report = batch(connection, offered, BY_NAME["build"], {}, "ana", lambda: FIXED_NOW)
    assert (report.computed, report.new) == (2, 2)
    assert sum(report.left_out.values()) == 1
    assert "dry mass is missing" in next(iter(report.left_out))
    again = batch(connection, offered, BY_NAME["build"], {}, "ana", lambda: FIXED_NOW)
    assert (again.computed, again.new) == (2, 0)


def test_a_batch_over_a_kind_that_gives_nothing_is_refused(connection: sqlite3.Connection, registry: Registry) -> None:
    with pytest.raises(InputError, match="takes nothing from people"):
        batch(connection, registry.calculator("fill-target"), BY_NAME["person"], {}, None, lambda: FIXED_NOW)


def test_rows_outlive_the_plugin_that_made_them(connection: sqlite3.Connection) -> None:
    calculator = declared()
    offered = Offered(calculator, Origin("gone", "gone.py"))
    keep_result(connection, offered, run(calculator, bind(calculator, {})), None, None, FIXED_NOW)
    assert connection.execute("SELECT double_g FROM calc_doubling").fetchone()[0] == 2.0


@pytest.mark.parametrize(("typed", "read"), [("20.520", 20.52), ("12,4 g", 12.4), ("12.400 g", 12.4)])
def test_by_hand_a_dot_is_the_decimal_mark(registry: Registry, typed: str, read: float) -> None:
    calculator = registry.calculator("fill-target").calculator
    assert bind(calculator, {"dry_mass_g": typed, "oil_mass_g": "1.86"}).given.dry_mass_g == read


def test_by_hand_a_comma_before_three_digits_is_taken_only_where_one_reading_is_sane(registry: Registry) -> None:
    calculator = registry.calculator("fill-target").calculator
    given = bind(calculator, {"dry_mass_g": "12,400", "oil_mass_g": "1.86", "viscosity_cst": "7,000"}).given
    assert (given.dry_mass_g, given.viscosity_cst) == (12.4, 7000.0)
    with pytest.raises(InputError, match="two readings are possible"):
        bind(declared(), {"volume_cm3": "7,000"})


def test_a_question_of_the_whole_team_says_that_no_record_fits(bevelbook: Callable[..., Outcome], db: Path) -> None:
    done = bevelbook("--db", db, "calc", "oil-choice", "--grip", "low", "--temperature", "36")
    assert done.code == 2
    assert "no record in team.db fits" in done.err
    assert "the team's runs with grip, track temperature and oil" in done.err
    assert "Write more down first, or give --past GRIP:TEMPERATURE:VISCOSITY for each" in done.err


@pytest.mark.parametrize("empty", ["nan", "n/a", "-"])
def test_an_input_that_is_typed_as_missing_falls_back_to_its_default(registry: Registry, empty: str) -> None:
    calculator = registry.calculator("headspace").calculator
    texts = {"fill_fraction": "0.9", "repeatability_g": empty}
    assert bind(calculator, texts).given == bind(calculator, {"fill_fraction": "0.9"}).given


def test_a_word_for_no_value_leaves_the_value_to_the_record(registry: Registry) -> None:
    calculator = registry.calculator("fill-target").calculator
    known = {"builds.dry_mass_g": (12.3, "the build"), "builds.target_oil_mass_g": (1.86, "the build")}
    bound = bind(calculator, {"dry_mass_g": "n/a", "oil_mass_g": "−", "reading_g": "NULL"}, known)
    assert (bound.given.dry_mass_g, bound.given.oil_mass_g, bound.given.reading_g) == (12.3, 1.86, None)
    assert [bound.origins[name] for name in ("dry_mass_g", "reading_g")] == ["the build", "not given"]
    with pytest.raises(InputError) as missing:
        bind(calculator, {"dry_mass_g": "-", "oil_mass_g": "1.86"})
    assert missing.value.code == "missing_input"


def test_an_empty_part_in_the_middle_of_an_item_has_its_default(registry: Registry) -> None:
    calculator = registry.calculator("shims").calculator
    texts = {"float_mm": "0.42", "target_float_mm": "0.1", "sizes": ["0.1::0.01", "0.2:-:0.01", "0.3"]}
    assert [one.count for one in bind(calculator, texts).given.sizes] == [1, 1, 1]


def test_a_cell_without_a_value_takes_what_holds_for_all_rows_in_its_own_unit(registry: Registry) -> None:
    calculator = registry.calculator("fill-target").calculator
    rows = TableRows(calculator, ("dry mass [oz]",), {"dry_mass_g": "12.4", "oil_mass_g": "1.86"})
    assert [rows.result((cell,)).inputs["dry_mass_g"] for cell in ("n/a", "", "1")] == [12.4, 12.4, 28.349523125]
