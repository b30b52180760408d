"""Accepted spellings, refused ones, and conversions held against published factors and against pint."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from units_outside import kept_in, pint_name, registry, size_in_ucum

from bevelbook.declare.core_units import CORE_UNITS
from bevelbook.declare.known_units import A_SHARE, KNOWN, OF_CORE, UNITS_WITHOUT_SUFFIX
from bevelbook.declare.units import Unit, clash_of, fault_of_unit
from bevelbook.reading import ReadingError, read
from bevelbook.reading.units import (
    UnitError,
    UnitScale,
    converted,
    looks_like_unit,
    names_unit,
    quantities_named,
    scale_of,
)
from bevelbook.records import BY_NAME

# Factors as printed in A. Thompson and B. N. Taylor, Guide for the Use of the International System of Units,
# NIST Special Publication 811 (2008), Appendix B.8, scaled to the canonical unit.
PRINTED = [
    ("g", "oz", 28.34952, 7),
    ("g", "lb", 453.5924, 7),
    ("g", "grain", 0.06479891, 7),
    ("mm", "in", 25.4, 9),
    ("mm", "thou", 0.0254, 9),
    ("mm", "µm", 0.001, 9),
    ("m", "ft", 0.3048, 9),
    ("m", "yd", 0.9144, 9),
    ("cm3", "in3", 16.38706, 7),
    ("cm3", "l", 1000.0, 9),
    ("g/cm3", "lb/ft3", 0.01601846, 7),
    ("g/cm3", "kg/m3", 0.001, 9),
    ("kPa", "psi", 6.894757, 7),
    ("kPa", "inHg", 3.386389, 7),
    ("kPa", "mmHg", 0.1333224, 7),
    ("kPa", "torr", 0.1333224, 7),
    ("kPa", "atm", 101.325, 9),
    ("kPa", "bar", 100.0, 9),
    ("kPa", "kgf/cm2", 98.0665, 9),
    ("N·m", "kgf·cm", 0.0980665, 9),
    ("N·m", "in·lb", 0.1129848, 7),
    ("N·m", "ft·lb", 1.355818, 7),
    ("N·m", "oz·in", 0.007061552, 7),
    ("cSt", "St", 100.0, 9),
    ("cSt", "m2/s", 1e6, 9),
    ("s", "min", 60.0, 9),
    ("s", "h", 3600.0, 9),
    ("1/K", "1/°F", 1.8, 9),
]


@pytest.mark.parametrize(("canonical", "unit", "factor", "digits"), PRINTED, ids=lambda one: str(one))
def test_factors_agree_with_the_printed_ones(canonical: str, unit: str, factor: float, digits: int) -> None:
    assert scale_of(canonical, unit).factor == pytest.approx(factor, rel=10.0 ** (1 - digits))


@pytest.mark.parametrize(
    ("celsius", "text", "value"),
    [
        # From the definitions, NIST SP 811 (2008), 8.5 and B.8: t/°C = (t/°F - 32)/1.8 = T/K - 273.15.
        (0.0, "°F", 32.0),
        (100.0, "°F", 212.0),
        (-40.0, "°F", -40.0),
        (20.0, "F", 68.0),
        (0.0, "K", 273.15),
        (24.0, "kelvin", 297.15),
    ],
)
def test_temperatures_have_a_zero_of_their_own(celsius: float, text: str, value: float) -> None:
    assert converted(value, scale_of("°C", text)) == pytest.approx(celsius, abs=1e-9)


@given(st.sampled_from(CORE_UNITS), st.data(), st.floats(-1e6, 1e6, allow_nan=False))
def test_every_spelling_converts_as_pint_does(unit: Unit, data: st.DataObject, value: float) -> None:
    text = data.draw(st.sampled_from(unit.spellings))
    canonical = kept_in(unit)
    to = pint_name(KNOWN.like(canonical)[0] if canonical == A_SHARE else OF_CORE.by_name[canonical])
    expected = registry().Quantity(value, pint_name(unit)).to(to).magnitude
    assert converted(value, scale_of(canonical, text)) == pytest.approx(expected, rel=1e-11, abs=1e-9)


@pytest.mark.parametrize("unit", CORE_UNITS, ids=lambda unit: f"{unit.about}, {unit.name}")
def test_every_factor_is_that_of_pint(unit: Unit) -> None:
    canonical = kept_in(unit)
    to = pint_name(KNOWN.like(canonical)[0] if canonical == A_SHARE else OF_CORE.by_name[canonical])
    zero, one = (registry().Quantity(value, pint_name(unit)).to(to).magnitude for value in (0.0, 1.0))
    scale = scale_of(canonical, unit.name)
    assert scale.factor == pytest.approx(one - zero, rel=1e-13)
    assert -scale.zero * scale.factor == pytest.approx(zero, rel=1e-13, abs=1e-10)


def test_no_spelling_has_two_meanings_for_one_quantity() -> None:
    for place, unit in enumerate(CORE_UNITS):
        assert clash_of(unit, CORE_UNITS[:place]) is None, unit


def test_every_unit_of_core_is_one_that_a_plugin_might_give() -> None:
    for unit in CORE_UNITS:
        if unit.suffix != "" and unit.about != A_SHARE:
            assert fault_of_unit(unit) is None, unit
    assert {unit.name for unit in CORE_UNITS if unit.suffix == ""} == set(UNITS_WITHOUT_SUFFIX)
    assert all(scale_of(unit, unit) == (1.0, 0.0) for unit in OF_CORE.by_name)


@pytest.mark.parametrize(
    ("canonical", "text"),
    [
        ("g", "Gram"),
        ("g", "KG"),
        ("cSt", "CST"),
        ("cSt", "mm² / s"),
        ("cSt", "cs."),
        ("°C", "deg C"),
        ("°C", "º C"),
        ("°C", "℃"),
        ("°C", "degrees Fahrenheit"),
        ("N·m", "N m"),
        ("N·m", "N*m"),
        ("N·m", "in-lb"),
        ("N·m", "nm"),
        ("N·m", "mNm"),
        ("mm", "µm"),
        ("mm", "μm"),
        ("cm3", "mL"),
        ("1/K", "per K"),
        ("kPa", "mm Hg"),
        ("g/run", "mg/run"),
    ],
)
def test_usual_spellings_are_taken(canonical: str, text: str) -> None:
    assert names_unit(canonical, text)


@pytest.mark.parametrize(
    ("canonical", "text", "code"),
    [
        ("g", "gr", "unit_ambiguous"),
        ("g", "gr.", "unit_ambiguous"),
        ("°C", "°", "unit_ambiguous"),
        ("°C", "deg", "unit_ambiguous"),
        ("mm", "mil", "unit_ambiguous"),
        ("cm3", "fl oz", "unit_ambiguous"),
        ("kPa", "psig", "unit_ambiguous"),
        ("g", "ml", "unit_not_allowed"),
        ("g", "mm", "unit_not_allowed"),
        ("N·m", "mm", "unit_not_allowed"),
        ("kPa", "mPas", "unit_not_allowed"),
        ("K", "°C", "unit_not_allowed"),
        ("g", "Mg", "unit_unknown"),
        ("g", "stone", "unit_unknown"),
        ("N·m", "tex", "unit_unknown"),
        ("kPa", "mPa", "unit_unknown"),
        ("cSt", "k", "unit_not_allowed"),
        ("cSt", "cts", "viscosity_unit_unknown"),
        ("cSt", "wt", "viscosity_unit_wt"),
        ("cSt", "cP", "dynamic_viscosity_needs_density"),
        ("cSt", "cps", "dynamic_viscosity_needs_density"),
        ("cSt", "mPa·s", "dynamic_viscosity_needs_density"),
        ("cSt", "mPas", "dynamic_viscosity_needs_density"),
        ("cSt", "Pa s", "dynamic_viscosity_needs_density"),
    ],
)
def test_what_has_two_meanings_or_none_is_refused(canonical: str, text: str, code: str) -> None:
    with pytest.raises(UnitError) as caught:
        scale_of(canonical, text)
    assert caught.value.code == code


def test_a_near_miss_is_named() -> None:
    with pytest.raises(UnitError, match="Did you mean mg"):
        scale_of("g", "mgs")


@pytest.mark.parametrize("canonical", sorted(set(OF_CORE.by_name) - {"cSt"}))
@pytest.mark.parametrize("text", ["wt", "cP"])
def test_words_of_oils_are_explained_where_a_viscosity_is_needed_alone(canonical: str, text: str) -> None:
    with pytest.raises(UnitError) as caught:
        scale_of(canonical, text)
    assert caught.value.code in ("unit_unknown", "unit_not_allowed", "unit_ambiguous")


@pytest.mark.parametrize("canonical", sorted(OF_CORE.by_name))
def test_a_quantity_without_a_unit_or_in_its_own_is_left_as_it_is(canonical: str) -> None:
    assert scale_of(canonical, "") == scale_of(canonical, canonical) == UnitScale(1.0, 0.0)
    assert names_unit(canonical, canonical)
    assert canonical in quantities_named(canonical)
    assert looks_like_unit(canonical)


@pytest.mark.parametrize(("typed", "minutes"), [("40", 40.0), ("40 min", 40.0), ("1 h", 60.0), ("90 s", 1.5)])
def test_the_minutes_of_a_job_are_taken_with_a_unit_of_time(typed: str, minutes: float) -> None:
    assert read(BY_NAME["job_time"].field("minutes"), typed) == minutes


def test_the_minutes_of_a_job_in_grams_are_refused_and_the_unit_is_said() -> None:
    with pytest.raises(ReadingError, match="a time in minutes is needed"):
        read(BY_NAME["job_time"].field("minutes"), "5 g")


@pytest.mark.parametrize("unit", OF_CORE.by_name.values(), ids=lambda unit: unit.name)
def test_the_code_of_a_unit_means_the_unit(unit: Unit) -> None:
    """A difference of temperature is written in kelvin: a code of UCUM for degrees Celsius has a zero of its own."""
    ours = registry().Quantity(1.0, {"degC": "delta_degC"}.get(pint_name(unit), pint_name(unit)))
    assert (ours / size_in_ucum(unit.ucum or "")).to("dimensionless").magnitude == pytest.approx(1.0, abs=1e-12)
