"""shims: the stack against brute force, its worst case, backlash and growth by heat."""

from __future__ import annotations

import csv
from itertools import product
from math import radians, tan
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given as each
from hypothesis import strategies as st

from bevelbook.declare.errors import InputError
from bevelbook.reference import rows
from bevelbook_plugins import shims
from bevelbook_plugins.shims import SHIMS, ShimFound, ShimGiven, Size, choose, heat_float_mm, judge_shim, shim

REFERENCES = Path(__file__).parent.parent / "references"
AT_HAND = (0.1, 0.15, 0.2, 0.3, 0.5, 1.0)


def checks(quantity: str) -> list[dict[str, str]]:
    with (REFERENCES / "fastening_shims.csv").open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["quantity"] == quantity]


def shimmed(sizes: Any = AT_HAND, **inputs: Any) -> tuple[ShimGiven, ShimFound]:
    made = tuple(one if isinstance(one, Size) else Size(thickness_mm=one) for one in sizes)
    asked = ShimGiven(**{"target_float_mm": 0.10, "sizes": made, **inputs})
    return asked, shim(asked)


def brute_force(float_mm: float, target_mm: float, sizes: list[tuple[float, int]], most: int) -> tuple[int, int, int]:
    """Off the target, pieces and stack of the best of all combinations, in 0.0001 mm."""
    room, target = round(float_mm * 1e4), round(target_mm * 1e4)
    best = None
    for counts in product(*(range(count + 1) for _, count in sizes)):
        stack = sum(round(thickness * 1e4) * count for (thickness, _), count in zip(sizes, counts, strict=True))
        if sum(counts) <= most and stack <= room:
            way = (abs(room - stack - target), sum(counts), stack)
            best = way if best is None or way < best else best
    assert best is not None
    return best


@pytest.mark.parametrize("row", checks("choice"), ids=lambda row: row["inputs"])
def test_choice_is_the_computed_one(row: dict[str, str]) -> None:
    before, target, most, *sizes = row["inputs"].split()
    stack, after, pieces = row["expected"].split()
    asked, found = shimmed(
        [float(one) for one in sizes],
        float_mm=float(before),
        target_float_mm=float(target),
        pieces_max=int(most) or None,
    )
    assert found.stack_thickness_mm == pytest.approx(float(stack), abs=1e-9)
    assert found.float_after_mm == pytest.approx(float(after), abs=1e-9)
    assert found.pieces == int(pieces)
    assert judge_shim(asked, found).verdict == "ok"


def test_the_three_pieces_of_the_check_even_with_more_at_hand() -> None:
    """0.55 is also 0.15 + 0.2 + 0.2; the stack with the thicker piece is taken."""
    _, found = shimmed([Size(thickness_mm=one, count=4) for one in AT_HAND], float_mm=0.63, pieces_max=3)
    assert [(one.thickness_mm, one.pieces) for one in found.stack] == [(0.3, 1), (0.15, 1), (0.1, 1)]


thicknesses = st.integers(-30, 100).filter(bool).map(lambda hundredths: hundredths / 100)
handful = st.lists(st.tuples(thicknesses, st.integers(1, 3)), min_size=1, max_size=5, unique_by=lambda one: one[0])


@each(st.floats(0, 3), st.floats(0, 0.5), handful, st.integers(1, 8))
def test_stack_is_that_of_brute_force(
    float_mm: float, target_mm: float, sizes: list[tuple[float, int]], most: int
) -> None:
    counts = choose(float_mm, target_mm, tuple(sizes), most)
    assert all(0 <= fitted <= at_hand for fitted, (_, at_hand) in zip(counts, sizes, strict=True))
    stack = sum(round(thickness * 1e4) * count for (thickness, _), count in zip(sizes, counts, strict=True))
    off = abs(round(float_mm * 1e4) - stack - round(target_mm * 1e4))
    assert (off, sum(counts), stack) == brute_force(float_mm, target_mm, sizes, most)


@pytest.mark.parametrize("row", checks("backlash"), ids=lambda row: row["inputs"])
def test_backlash_by_travel(row: dict[str, str]) -> None:
    travel, pressure, cone = (float(one) for one in row["inputs"].split())
    _, found = shimmed([travel], float_mm=travel, target_float_mm=0.0, pressure_angle_deg=pressure, cone_angle_deg=cone)
    assert -found.backlash_change_mm == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row[
        "source"
    ]


def test_cone_angles_of_the_check_are_those_of_ten_and_eighteen_teeth() -> None:
    assert tan(radians(29.0546)) == pytest.approx(10 / 18, abs=1e-5)
    assert tan(radians(60.9454)) == pytest.approx(18 / 10, abs=1e-5)


def test_published_backlash_of_small_modules() -> None:
    """AGMA through engineersedge.com, module 0.51 to 1.27: 0 to 0.002 in = 0.051 mm, both quality groups."""
    row = next(row for row in rows("bevel_backlash.csv") if row["module_low_mm"] == "0.508")
    assert row["module_high_mm"] == "1.270"
    highs = [float(row["backlash_high_mm"]), float(row["backlash_high_coarse_mm"])]
    assert highs == pytest.approx([0.002 * 25.4] * 2, abs=0.0005)


@pytest.mark.parametrize("row", checks("heat"), ids=lambda row: row["inputs"])
def test_float_grows_by_heat(row: dict[str, str]) -> None:
    grown = heat_float_mm(*(float(one) for one in row["inputs"].split()))
    assert grown == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row["source"]


def test_hot_float_takes_the_table_of_expansion() -> None:
    asked, found = shimmed(float_mm=0.42, span_mm=40.0, housing_material="pom copolymer")
    assert found.float_hot_mm is not None
    assert found.float_hot_mm - found.float_after_mm == pytest.approx(0.133, abs=5e-4)
    assert any("40 K warmer the float is 0.25 mm" in finding for finding in judge_shim(asked, found).findings)
    asked, found = shimmed(float_mm=0.42, span_mm=40.0)
    assert found.float_hot_mm is None
    assert any("no growth by heat is known" in finding for finding in judge_shim(asked, found).findings)


def test_worst_case_adds_every_tolerance() -> None:
    """Constructed: 0.1 (-0.03), 0.15 (-0.04), 0.3 (-0.05) of the ring table and a float read to 0.01 mm."""
    _, found = shimmed(float_mm=0.63, pieces_max=3)
    assert found.float_low_mm == pytest.approx(0.08 - 0.01)
    assert found.float_high_mm == pytest.approx(0.08 + 0.12 + 0.01)
    _, found = shimmed([Size(thickness_mm=0.3, tolerance_mm=0.02)], float_mm=0.42)
    assert (found.float_low_mm, found.float_high_mm) == (pytest.approx(0.09), pytest.approx(0.15))
    _, found = shimmed([0.33], float_mm=0.42, reading_step_mm=0.02)
    assert (found.float_low_mm, found.float_high_mm) == (pytest.approx(0.05), pytest.approx(0.13))


def test_ring_tolerances_are_from_memory_and_said_to_be() -> None:
    asked, found = shimmed(float_mm=0.42)
    assert any("from memory, unverified" in finding for finding in judge_shim(asked, found).findings)
    assert all("from memory" in row["status"] for row in rows("shim_rings.csv"))


def test_float_from_two_widths() -> None:
    asked, found = shimmed(width_pulled_mm=40.52, width_pushed_mm=40.10)
    assert found.float_before_mm == pytest.approx(0.42)
    assert found.float_after_mm == pytest.approx(0.12)
    assert found.float_low_mm == pytest.approx(0.10)
    assert any("one shaft at a time" in finding for finding in judge_shim(asked, found).findings)


def test_signed_pieces_make_room() -> None:
    """Constructed: a gasket 0.10 mm thicker gives a diff without float its 0.10 mm."""
    asked, found = shimmed([-0.10, 0.2], float_mm=0.0)
    assert [(one.thickness_mm, one.pieces) for one in found.stack] == [(-0.10, 1)]
    assert found.float_after_mm == pytest.approx(0.10)
    assert found.backlash_change_mm > 0
    assert judge_shim(asked, found).verdict == "ok"


@pytest.mark.parametrize(
    ("inputs", "verdict", "words"),
    [
        ({"float_mm": 0.05}, "caution", "0.05 mm more room is needed"),
        ({"float_mm": 0.9, "sizes": (Size(thickness_mm=0.5),)}, "caution", "0.30 mm off with these shims"),
        ({"float_mm": 0.305, "target_float_mm": 0.0}, "unclear", "unclear whether it binds"),
        ({"float_mm": 0.10}, "ok", "fit nothing"),
    ],
)
def test_verdicts(inputs: dict[str, Any], verdict: str, words: str) -> None:
    asked, found = shimmed(**inputs)
    judged = judge_shim(asked, found)
    assert judged.verdict == verdict
    assert any(words in reason for reason in judged.reasons)


@pytest.mark.parametrize(
    ("inputs", "where"),
    [
        ({"float_mm": -0.1}, "float_mm"),
        ({"width_pulled_mm": 40.1, "width_pushed_mm": 40.5}, "width_pulled_mm"),
        ({"float_mm": 0.4, "sizes": ()}, "sizes"),
        ({"float_mm": 0.4, "sizes": (0.1, 0.0)}, "sizes"),
        ({}, "float_mm"),
    ],
)
def test_impossible_inputs_are_refused_with_a_remedy(inputs: dict[str, Any], where: str) -> None:
    with pytest.raises(InputError) as refused:
        shimmed(**inputs)
    assert refused.value.place.field == where
    assert refused.value.remedy


def test_too_many_combinations_are_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(shims, "MOST_SUMS", 50)
    with pytest.raises(InputError, match="too many ways"):
        choose(3.0, 0.1, ((0.1001, 10), (0.2003, 10)))


def test_working_shows_the_values_put_in() -> None:
    lines = SHIMS.working(*shimmed(width_pulled_mm=40.52, width_pushed_mm=40.10, span_mm=40.0, housing_material="PA66"))
    assert "40.52 mm − 40.1 mm" in lines[0]
    assert "1 × 0.3" in lines[1]
    assert lines[-1].startswith("hot")


def test_from_the_command_line(bevelbook: Any) -> None:
    done = bevelbook("calc", "shims", "--float", "0.42", "--target-float", "0.10", "--size", "0.2:2", "--size", "0.3")
    assert done.code == 0
    assert "fit 1 of 0.3 mm: float 0.12 mm" in done.out
    done = bevelbook("calc", "shims", "--float", "0.42", "--target-float", "0.10")
    assert done.code == 2
    assert "--size" in done.err
    done = bevelbook("calc", "shims", "--float=-0.42", "--target-float", "0.10", "--size", "0.2")
    assert done.code == 2
    assert "--float" in done.err
