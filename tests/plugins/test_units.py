"""The bundled units against pint, the tables of UCUM and printed factors, and beside the names that are there."""

from __future__ import annotations

import pytest
from units_outside import pint_name, size_in_ucum
from units_outside import registry as in_pint

from bevelbook.declare.core_units import CORE_UNITS
from bevelbook.declare.fields import Field
from bevelbook.declare.units import Unit, clash_of, fault_of_unit
from bevelbook.plugin.offered_units import faults_of_offered_unit
from bevelbook.plugin.registry import Registry
from bevelbook.reading import ReadingError, read
from bevelbook_plugins.units import UNITS

KEPT = [unit for unit in UNITS if unit.suffix is not None]
BASE = {unit.about: unit for unit in (*CORE_UNITS, *UNITS) if unit.factor == 1.0 and unit.suffix is not None}


@pytest.mark.parametrize("unit", UNITS, ids=lambda unit: unit.name)
def test_its_factor_is_that_of_pint(unit: Unit) -> None:
    ours = in_pint().Quantity(1.0, pint_name(unit)).to(pint_name(BASE[unit.about])).magnitude
    assert unit.factor == pytest.approx(ours, rel=1e-13)


@pytest.mark.parametrize("unit", KEPT, ids=lambda unit: unit.name)
def test_its_code_means_the_unit(unit: Unit) -> None:
    """A turn has no unit in UCUM, and 1/min is one turn a minute: 2π rad."""
    size = size_in_ucum(unit.ucum or "") * (in_pint().Quantity(1.0, "turn") if unit.name == "1/min" else 1)
    assert (in_pint().Quantity(1.0, pint_name(unit)) / size).to("dimensionless").magnitude == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("unit", "typed", "value"),
    [
        # Abramowitz and Stegun, Handbook of Mathematical Functions, National Bureau of Standards (1964), tables 2.4
        # and 2.5, read in a scan: a statute mile is 1609.344 m, a foot 0.3048 m, a thermodynamic calorie 4.184 J, all
        # exact; a pound-force 4.44822 N. Speeds follow by hand: 1609.344 / 3600 = 0.44704.
        ("m/s", "1 mph", 0.44704),
        ("m/s", "100 ft/s", 30.48),
        ("km/h", "100 mph", 160.9344),
        ("km/h", "10 m/s", 36.0),
        ("mph", "1609.344 m/s", 3600.0),
        ("N", "1 lbf", 4.4482216152605),
        ("J/(g·K)", "1 cal/(g K)", 4.184),
        ("J/(g·K)", "4184 J/(kg·K)", 4.184),
        # The definitions of the SI.
        ("1/min", "1000 rpm", 1000.0),
        ("1/min", "36 1/min", 36.0),
        ("1/min", "36/min", 36.0),
        ("1/min", "10 rev/s", 600.0),
        ("1/min", "6 deg/s", 1.0),
        ("rad/s", "60 1/min", 6.2831853071796),
        ("A", "250 mA", 0.25),
        ("mAh", "4,6 Ah", 4600.0),
        ("mAh", "5000 mah", 5000.0),
        ("V", "7,4 V", 7.4),
        ("J", "1 Wh", 3600.0),
    ],
)
def test_what_people_write_is_read(registry: Registry, unit: str, typed: str, value: float) -> None:
    field = Field("one", "quantity", "", unit=unit)
    assert read(field, typed) == pytest.approx(value, rel=1e-11)
    assert read(field, f"{value:.13f}") == pytest.approx(value, rel=1e-11), "a bare number is in the field's unit"


@pytest.mark.parametrize(
    ("unit", "typed", "said"),
    [
        ("m/s", "5 m", "is a unit of a length, and a speed is needed"),
        ("N", "5 Nm", "is a unit of a torque, and a force is needed"),
        ("A", "5 Ah", "is a unit of a charge, and a current is needed"),
        ("1/min", "5 min", "is a unit of a time"),
    ],
)
def test_what_is_another_unit_is_refused(registry: Registry, unit: str, typed: str, said: str) -> None:
    with pytest.raises(ReadingError, match=said):
        read(Field("one", "quantity", "", unit=unit), typed)


def test_each_is_declared_well_and_contradicts_no_other_and_no_name_of_a_field(registry: Registry) -> None:
    calculators = [one.calculator for one in registry.calculators.values()]
    for place, unit in enumerate(UNITS):
        assert faults_of_offered_unit(unit, UNITS[:place], (), calculators) == (), unit
        assert unit.source is not None
    assert fault_of_unit(UNITS[0]) is None
    assert clash_of(Unit("km/h", "a speed", 1.0), UNITS) is not None
