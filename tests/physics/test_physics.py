"""What must hold for the shared formulas at any input in range: order, limits, inverses, symmetry."""

from __future__ import annotations

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from bevelbook.declare.errors import DeclarationError, InputError
from bevelbook.physics import air, blending, density, headspace, viscosity
from bevelbook.physics.air import ambient_pressure_kpa
from bevelbook.reference import caution_in_words, rows, short_caution

celsius = st.floats(-50.0, 200.0)
oil = st.floats(1.0, 1e6)
fill = st.floats(0.05, 0.95)
housing = st.floats(0.0, 1e-4)


@given(oil, celsius)
def test_viscosity_brought_there_and_back_is_the_same(one: float, at: float) -> None:
    there = viscosity.viscosity_at_cst(one, at)
    assert viscosity.viscosity_25_cst(there, at) == pytest.approx(one, rel=1e-12)


@given(oil, celsius, st.floats(0.01, 50.0))
def test_oil_gets_thinner_when_it_warms(one: float, at: float, warmer: float) -> None:
    assert viscosity.viscosity_at_cst(one, at + warmer) < viscosity.viscosity_at_cst(one, at)


@given(st.floats(500.0, 3000.0), celsius, celsius)
def test_coefficient_comes_back_from_two_viscosities(coefficient: float, first: float, second: float) -> None:
    assume(abs(first - second) > 1.0)
    two = (viscosity.viscosity_at_cst(1000.0, at, coefficient) for at in (first, second))
    found = viscosity.coefficient_from_two_k(next(two), first, next(two), second)
    assert found == pytest.approx(coefficient, rel=1e-9)


@pytest.mark.parametrize(
    ("at", "words"),
    [(-300.0, "absolute zero"), (-273.15, "absolute zero"), (-80.0, "-55 to 250"), (300.0, "-55 to 250")],
)
def test_temperature_without_a_published_viscosity_is_refused(at: float, words: str) -> None:
    with pytest.raises(InputError, match=words) as caught:
        viscosity.viscosity_at_cst(1000.0, at)
    assert caught.value.remedy


def test_two_viscosities_at_one_temperature_are_refused() -> None:
    with pytest.raises(InputError, match="one temperature"):
        viscosity.coefficient_from_two_k(1000.0, 25.0, 900.0, 25.0)


@pytest.mark.parametrize(
    ("one", "at", "words"),
    [
        (7000.0, -10.5, "colder than -10"),
        (7000.0, 80.5, "hotter than 80"),
        (15_000.0, 0.0, "over 10,000"),
        (20.0, 25.0, "under 50"),
        (600_000.0, 25.0, "over 500,000"),
    ],
)
def test_doubts_are_said_outside_the_range_of_the_law(one: float, at: float, words: str) -> None:
    assert any(words in doubt for doubt in viscosity.law_cautions(one, at))


@pytest.mark.parametrize(("one", "at"), [(50.0, -10.0), (10_000.0, 80.0), (10_000.0, 0.0), (500_000.0, 25.0)])
def test_no_doubt_is_said_at_the_bounds_of_the_law(one: float, at: float) -> None:
    assert viscosity.law_cautions(one, at) == ()


def test_own_coefficient_leaves_only_the_doubts_of_temperature() -> None:
    assert viscosity.law_cautions(20.0, 25.0, 1600.0) == ()
    assert len(viscosity.law_cautions(20.0, -20.0, 1600.0)) == 1


parts = st.lists(st.tuples(oil, st.floats(0.01, 100.0)), min_size=1, max_size=6)
RULES = (blending.log_blend_cst, blending.cube_root_blend_cst, blending.refutas_blend_cst)


@pytest.mark.parametrize("rule", RULES)
@given(parts, st.randoms())
def test_blend_lies_between_its_parts_in_any_order(rule, oils, random) -> None:  # type: ignore[no-untyped-def]
    def blend(some: list[tuple[float, float]]) -> float:
        return float(rule([one for one, _ in some], blending.mass_fractions([mass for _, mass in some])))

    first = blend(oils)
    assert min(one for one, _ in oils) * (1 - 1e-9) <= first <= max(one for one, _ in oils) * (1 + 1e-9)
    random.shuffle(oils)
    assert blend(oils) == pytest.approx(first, rel=1e-10)


@pytest.mark.parametrize("rule", RULES)
@given(one=oil, mass=st.floats(0.01, 100.0))
def test_one_part_alone_gives_itself(rule, one: float, mass: float) -> None:  # type: ignore[no-untyped-def]
    assert rule([one], blending.mass_fractions([mass])) == pytest.approx(one, rel=1e-9)


@given(oil, oil, st.floats(0.0, 1.0))
def test_fraction_for_a_target_makes_that_target(first: float, second: float, share: float) -> None:
    assume(abs(first / second - 1.0) > 1e-3)
    target = blending.log_blend_cst([first, second], [1.0 - share, share])
    target = min(max(target, min(first, second)), max(first, second))
    assert blending.fraction_of_second(first, second, target) == pytest.approx(share, abs=1e-9)


@given(st.floats(50.0, 1e6), st.floats(50.0, 1e6), st.floats(0.01, 0.99))
def test_refutas_reads_thinnest_and_the_cube_root_thickest(first: float, second: float, share: float) -> None:
    oils, shares = [first, second], [1.0 - share, share]
    middle = blending.log_blend_cst(oils, shares) * (1 + 1e-12)
    assert blending.refutas_blend_cst(oils, shares) * (1 - 1e-9) <= middle
    assert middle <= blending.cube_root_blend_cst(oils, shares) * (1 + 1e-9)


def test_blend_refuses_what_it_cannot_take() -> None:
    with pytest.raises(InputError, match="between the two oils"):
        blending.fraction_of_second(5000.0, 10000.0, 12000.0)
    with pytest.raises(InputError, match="blending number"):
        blending.blending_number(0.2)


@given(st.floats(0.05, 0.9), st.floats(0.001, 0.05), housing)
def test_pressure_when_hot_rises_with_the_fill(one: float, more: float, per_k: float) -> None:
    less = headspace.hot_pressure_kpa(one, 20.0, 60.0, per_k)
    fuller = headspace.hot_pressure_kpa(one + more, 20.0, 60.0, per_k)
    assert less is not None
    assert fuller is None or fuller > less


@given(fill, st.floats(0.0, 30.0))
def test_pressure_at_closing_temperature_is_that_of_closing(one: float, closing: float) -> None:
    assert headspace.hot_pressure_kpa(one, closing, closing) == pytest.approx(101.325, rel=1e-12)


@given(st.floats(20.0, 300.0), housing, st.floats(0.0, 0.05))
def test_largest_fill_gives_just_the_limit(limit: float, per_k: float, pushed: float) -> None:
    most = headspace.largest_fill_fraction(limit, 20.0, 60.0, per_k, pushed_fraction=pushed)
    assume(most > 0.0)
    closing = headspace.pressed_pressure_kpa(most, pushed)
    pressure = headspace.hot_pressure_kpa(most, 20.0, 60.0, per_k, closing_pressure_kpa=closing)
    assert pressure == pytest.approx(101.325 + limit, rel=1e-9)


@given(st.floats(0.5, 0.99), housing)
def test_no_gas_is_left_at_the_liquid_full_temperature(one: float, per_k: float) -> None:
    full_at = headspace.liquid_full_temperature_c(one, 20.0, per_k)
    assert full_at is not None
    assert headspace.gas_volume_ratio(one, 20.0, full_at, per_k) == pytest.approx(0.0, abs=1e-9)
    assert headspace.hot_pressure_kpa(one, 20.0, full_at + 0.01, per_k) is None


def test_housing_that_outgrows_the_oil_never_fills() -> None:
    assert headspace.liquid_full_temperature_c(0.1, 20.0, 1e-4) is None


@given(st.floats(0.7, 1.0), st.floats(-20.0, 100.0))
def test_mass_of_oil_is_kept_when_it_warms(at_25: float, warm: float) -> None:
    grown = headspace.oil_volume_ratio(25.0, warm)
    assert density.density_g_cm3(at_25, warm) * grown == pytest.approx(at_25, rel=1e-12)


def test_air_outside_is_as_measured_else_by_height_else_at_sea_level() -> None:
    assert air.air_outside_kpa(98.0, 1500.0) == 98.0
    assert air.air_outside_kpa(None, 1500.0) == air.ambient_pressure_kpa(1500.0) < 90.0
    assert air.air_outside_kpa(None, None) == 101.325


def test_every_caution_has_words_and_an_unknown_key_is_refused() -> None:
    for row in rows("cautions.csv"):
        assert caution_in_words(row["key"]) == row["caution"]
        assert row["caution"].endswith(".")
        short = short_caution(row["key"])
        assert short.endswith(".")
        assert short == row["caution"] if not row["short"] else len(short) < len(row["caution"])
    assert caution_in_words("Mind the gap.") == "Mind the gap."
    with pytest.raises(DeclarationError, match="no such caution"):
        caution_in_words("dragons")


def test_a_height_without_air_is_refused_and_not_a_complex_number() -> None:
    with pytest.raises(ValueError, match="without air"):
        ambient_pressure_kpa(1e11)
