"""Masses of a sister housing that water cannot explain: which are asked about, and what counts (constructed)."""

from __future__ import annotations

import sqlite3

import pytest
from constructed import Add

from bevelbook.formulas.housing_moisture import Housing, moisture_g
from bevelbook.formulas.leak import LeakGiven, LeakWeighing, advice_on_water, judge_leak, leak, water_reasons
from bevelbook.formulas.readings import Reading
from bevelbook.formulas.sister_housing import doubtful_sisters
from bevelbook.reference import rows
from bevelbook.reports.oil_lost_findings import leak_findings

VARIANCE = 3.333e-5
SCALE_G = 3.0 * (2.0 * VARIANCE) ** 0.5


def given(*weighings: tuple[float, float, str | None, float | None], material: str | None = "nylon") -> LeakGiven:
    weighed = [LeakWeighing(runs=runs, mass_g=mass, day=day, sister_mass_g=one) for runs, mass, day, one in weighings]
    return LeakGiven(
        weighings=tuple(weighed), repeatability_g=0.005, day_to_day_g=0.0, oil_mass_g=1.86, housing_material=material
    )


def doubtful(sisters_g: list[float | None], on: list[int | None], material: str = "nylon") -> list[int]:
    readings = [Reading(4.0 * place, 22.35, VARIANCE) for place in range(len(sisters_g))]
    return [one.place for one in doubtful_sisters(readings, on, sisters_g, Housing(material))]


def test_a_slip_in_the_sister_does_not_hide_a_leak() -> None:
    """0.30 g less of diff and sister in 5 days; water moves 5 g of nylon by 0.037 g (k = 2) in them."""
    data = given((0.0, 22.35, "2026-10-05", 4.98), (4.0, 22.05, "2026-10-10", 4.68))
    judged = judge_leak(data, leak(data))
    assert judged.verdict == "stop"
    assert judged.reasons[0].startswith("lost 0.30 g of 1.86 g (16 %) in 4 runs, ± 0.040 g (k = 2)")
    assert judged.reasons[1] == (
        "the sister housing is 0.30 g lighter on 2026-10-10 than on 2026-10-05, water explains 0.04 g: "
        "it does not count, weigh it again"
    )
    assert not any("added back" in reason or "no water" in reason for reason in judged.reasons)


def test_a_slip_in_the_sister_does_not_make_a_leak_up() -> None:
    data = given((0.0, 22.35, "2026-10-05", 4.98), (4.0, 22.34, "2026-10-10", 5.98))
    found = leak(data)
    assert judge_leak(data, found).verdict == "ok"
    assert found.loss_g == pytest.approx(0.01)
    assert leak(given((0.0, 22.35, "2026-10-05", None), (4.0, 22.34, "2026-10-10", None))) == found


def test_what_is_believed_is_water_twice_over_and_the_scale() -> None:
    most = 4.0 * moisture_g(Housing("nylon", 4.98), 5.0) + SCALE_G
    for off, found in ((0.98 * most, []), (1.02 * most, [1])):
        assert doubtful([4.98, 4.98 + off], [0, 5]) == found


@pytest.mark.parametrize("row", [row for row in rows("water_uptake.csv") if row["share_saturated_high"]])
def test_what_is_believed_is_never_more_than_a_material_holds(row: dict[str, str]) -> None:
    """Shares of water of a material that holds all it can, with their sources in the table."""
    housing = Housing(row["material"], 5.0)
    if housing.grade == row["material"]:
        assert 4.0 * moisture_g(housing, 1000.0) <= 5.0 * float(row["share_saturated_high"])


def test_of_three_sisters_the_one_that_fits_none_is_asked_about_and_the_others_count() -> None:
    assert doubtful([4.98, 4.68, 4.99], [0, 5, 9]) == [1]
    assert doubtful([5.98, 4.98, 4.99], [0, 5, 9]) == [0]
    assert doubtful([4.98, 4.99, 49.9], [0, 5, 9]) == [2]
    data = given((0.0, 22.35, "2026-10-05", 4.98), (4.0, 22.37, "2026-10-10", 5.01), (8.0, 22.38, "2026-10-12", 4.2))
    assert any("0.78 g lighter on 2026-10-12 than on 2026-10-05" in reason for reason in water_reasons(data))


def test_metal_explains_nothing_and_days_not_known_are_many() -> None:
    assert doubtful([4.98, 5.01], [0, 5], "aluminium") == [1]
    assert doubtful([4.98, 5.10], [0, 0]) == [1]
    assert doubtful([4.98, 5.10], [None, 5]) == []
    assert doubtful([4.98, 5.60], [None, None]) == [1]
    assert doubtful([4.98, None], [0, 5]) == doubtful([None, None], [0, 5]) == []


def test_a_sister_first_weighed_later_says_from_when_on_it_counts() -> None:
    data = given((0.0, 22.35, "2026-10-05", None), (4.0, 22.34, "2026-10-10", 4.98), (8.0, 22.34, "2026-10-15", 4.97))
    said = water_reasons(data)
    assert said[0] == (
        "the sister housing has no mass at run 0: it counts from run 4 on, and water until then stays in the "
        "uncertainty"
    )
    assert "alongside" not in " ".join(said)
    assert advice_on_water(data) == "weigh the sister housing with the build too, next time"
    first_only = given((0.0, 22.35, "2026-10-05", None), (4.0, 22.34, "2026-10-10", 4.98))
    assert water_reasons(first_only)[0] == said[0]
    none = given((0.0, 22.35, "2026-10-05", None), (4.0, 22.34, "2026-10-10", None))
    assert advice_on_water(none) == "weigh an empty sister housing alongside"


def test_check_asks_about_the_sister_beside_the_verdict_and_names_both_masses(
    connection: sqlite3.Connection, add: Add
) -> None:
    scale = add("scale", name="pocket", step_g=0.01, repeatability_g=0.005, day_to_day_g=0.0)
    diff = add("diff", label="left", housing_material="nylon")
    build = add(
        "build",
        label="left/1",
        diff=diff,
        built_on="2026-10-05",
        oil_mass_g=1.86,
        closed_mass_g=22.35,
        scale=scale,
        sister_mass_g=4.98,
    )
    add(
        "weighing",
        build=build,
        runs=4.0,
        mass_g=22.34,
        mass_basis="closed",
        scale=scale,
        weighed_on="2026-10-10",
        sister_mass_g=5.98,
    )
    (one,) = [found for found in leak_findings(connection) if found.code == "sister_doubtful"]
    assert "1.00 g heavier on 2026-10-10 than on 2026-10-05, water explains 0.04 g" in one.words
    assert "sister_mass=...), with: 22.35 g (2026-10-05, " in one.remedy
    assert "; 22.34 g (2026-10-10, weighing " in one.remedy
