"""Units of what a car does and a bench measures: speed, turns, force, current, charge, voltage, energy, specific heat.

Codes are those of The Unified Code for Units of Measure (Regenstrief Institute and the UCUM Organization, version 2.1,
2017).
"""

from __future__ import annotations

from math import pi
from typing import Final

from bevelbook import Source, Unit, hookimpl

SPEED: Final = "a speed"
TURNING: Final = "a turning speed"
FORCE: Final = "a force"
CURRENT: Final = "a current"
CHARGE: Final = "a charge"
VOLTAGE: Final = "a voltage"
ENERGY: Final = "an energy"
SPECIFIC_HEAT: Final = "a specific heat"

PREFIXES: Final = Source(
    "standard",
    "ISO 80000-1, Quantities and units, Part 1: General",
    "International Organization for Standardization",
    "2022",
    "prefixes; names of units formed of others",
    "from memory",
)
MECHANICS: Final = Source(
    "standard",
    "ISO 80000-3, Quantities and units, Part 3: Space and time",
    "International Organization for Standardization",
    "2019",
    "1 h = 3600 s, 1 min = 60 s, one turn = 2π rad",
    "from memory",
)
CUSTOMARY: Final = Source(
    "handbook",
    "Handbook of Mathematical Functions (AMS 55)",
    "National Bureau of Standards",
    "1964",
    "Tables 2.4 and 2.5: a foot 0.3048 m, a statute mile 1609.344 m, a pound 0.45359237 kg, gravity 9.80665 m/s2, "
    "a calorie 4.184 J, all exact",
    "read in a scan",
)

UNITS: Final = (
    Unit("m/s", SPEED, 1.0, "_m_s", exact="m·s-1", any_case="m/s mps", ucum="m/s", decimals=2, source=PREFIXES),
    Unit(
        "km/h",
        SPEED,
        1 / 3.6,
        "_km_h",
        exact="km·h-1",
        any_case="km/h kmh kph",
        ucum="km/h",
        decimals=1,
        source=MECHANICS,
    ),
    Unit(
        "mph",
        SPEED,
        1609.344 / 3600,
        "_mph",
        any_case="mph mi/h miles·per·hour",
        ucum="[mi_i]/h",
        decimals=1,
        source=CUSTOMARY,
    ),
    Unit("ft/s", SPEED, 0.3048, any_case="ft/s fps", source=CUSTOMARY),
    Unit(
        "1/min",
        TURNING,
        pi / 30,
        "_per_min",
        exact="1/min /min min-1",
        any_case="rpm r/min rev/min revs/min turns/min turns·per·minute",
        ucum="/min",
        decimals=0,
        source=MECHANICS,
    ),
    Unit("N", FORCE, 1.0, "_n", any_case="N newton newtons", ucum="N", source=PREFIXES),
    Unit("mN", FORCE, 0.001, exact="mN", any_case="millinewton millinewtons", source=PREFIXES),
    Unit("kN", FORCE, 1000.0, exact="kN", any_case="kilonewton kilonewtons", source=PREFIXES),
    Unit("kgf", FORCE, 9.80665, any_case="kgf kp", source=CUSTOMARY),
    Unit("lbf", FORCE, 0.45359237 * 9.80665, any_case="lbf", source=CUSTOMARY),
    Unit("A", CURRENT, 1.0, "_amp", any_case="A amp amps ampere amperes", ucum="A", source=PREFIXES),
    Unit("mA", CURRENT, 0.001, exact="mA", any_case="milliamp milliamps milliampere milliamperes", source=PREFIXES),
    Unit("mAh", CHARGE, 1.0, "_mah", exact="mA·h", any_case="mAh", ucum="mA.h", decimals=0, source=MECHANICS),
    Unit("Ah", CHARGE, 1000.0, exact="Ah A·h", source=MECHANICS),
    Unit("V", VOLTAGE, 1.0, "_v", any_case="V volt volts", ucum="V", source=PREFIXES),
    Unit("mV", VOLTAGE, 0.001, exact="mV", any_case="millivolt millivolts", source=PREFIXES),
    Unit("J", ENERGY, 1.0, "_j", any_case="J joule joules", ucum="J", source=PREFIXES),
    Unit("mJ", ENERGY, 0.001, exact="mJ", any_case="millijoule millijoules", source=PREFIXES),
    Unit("kJ", ENERGY, 1000.0, exact="kJ", any_case="kilojoule kilojoules", source=PREFIXES),
    Unit("W·h", ENERGY, 3600.0, exact="W·h Wh", source=MECHANICS),
    Unit(
        "J/(g·K)",
        SPECIFIC_HEAT,
        1.0,
        "_j_g_k",
        any_case="J/(g·K) J/gK J/g·K J/g/K J/(g·°C) J/g·°C",
        ucum="J/(g.K)",
        source=PREFIXES,
    ),
    Unit("kJ/(kg·K)", SPECIFIC_HEAT, 1.0, any_case="kJ/(kg·K) kJ/kgK kJ/kg·K kJ/(kg·°C)", source=PREFIXES),
    Unit("J/(kg·K)", SPECIFIC_HEAT, 0.001, any_case="J/(kg·K) J/kgK J/kg·K J/(kg·°C)", source=PREFIXES),
    Unit("cal/(g·K)", SPECIFIC_HEAT, 4.184, any_case="cal/(g·K) cal/g·K cal/(g·°C) cal/g·°C", source=CUSTOMARY),
)


@hookimpl
def bevelbook_units() -> tuple[Unit, ...]:
    return UNITS
