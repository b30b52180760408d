"""Units of measurement: the accepted spellings, and how each converts to the canonical unit.

The only module that imports pint, and only for a unit that is neither the canonical one nor a scale of temperature.
What a person typed never reaches pint: it is looked up in the list below, and pint gives the factor for a fixed name,
once per unit.
"""

from __future__ import annotations

from functools import cache
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import InputError, near_misses, shown


class UnitError(InputError):
    """A unit that is not accepted. ``code`` is unit_unknown, unit_not_allowed, unit_ambiguous,
    viscosity_unit_unknown, viscosity_unit_wt or dynamic_viscosity_needs_density."""


class UnitScale(NamedTuple):
    """Converts a value to the canonical unit: ``(value - zero) * factor``."""

    factor: float
    zero: float = 0.0


class Spelling(NamedTuple):
    """One unit: the name that pint knows, how people write it, and how they write it in any case."""

    pint_name: str
    exact: str
    any_case: str = ""


class Quantity(NamedTuple):
    """One canonical unit with all units accepted for it, and its code for other programs.

    ``ucum`` is the case-sensitive code of The Unified Code for Units of Measure (Regenstrief Institute and the UCUM
    Organization, version 2.1, 2017; read). What is counted, such as a run, stands in braces, as 2.2 of it says.
    """

    about: str
    pint_name: str
    spellings: tuple[Spelling, ...]
    ucum: str


SAME: Final = UnitScale(1.0)
_SCALES_OF_TEMPERATURE: Final = {
    "degC": {"degF": UnitScale(0.55555555555556, 32.0), "kelvin": UnitScale(1.0, 273.15)},
    "delta_degC": {"delta_degF": UnitScale(0.55555555555556), "kelvin": SAME},
}
"""t/°C = (t/°F - 32) x 5/9 = T/K - 273.15 (ISO 80000-5:2019, 5-1 and 5-2, from memory), to 14 digits as all scales are:
most sheets need no more than these, and pint takes half a second to load. A difference has no zero to shift."""

_FRACTION: Final = (
    Spelling("dimensionless", "1"),
    Spelling("percent", "%", "percent pct"),
)
_METRE: Final = (
    Spelling("meter", "m", "metre metres meter meters"),
    Spelling("centimeter", "cm", "centimetre centimetres centimeter centimeters"),
    Spelling("millimeter", "mm", "millimetre millimetres millimeter millimeters"),
    Spelling("micrometer", "um μm", "micron microns micrometre micrometres micrometer micrometers"),
    Spelling("kilometer", "km", "kilometre kilometres kilometer kilometers"),
    Spelling("inch", '" ″', "in inch inches"),
    Spelling("thou", "", "thou"),
    Spelling("foot", "", "ft foot feet"),
    Spelling("yard", "", "yd yard yards"),
)

QUANTITIES: Final[dict[str, Quantity]] = {
    "g": Quantity(
        "a mass",
        "gram",
        (
            Spelling("gram", "", "g gram grams gramme grammes"),
            Spelling("milligram", "mg", "milligram milligrams"),
            Spelling("microgram", "ug μg", "microgram micrograms"),
            Spelling("kilogram", "", "kg kilogram kilograms"),
            Spelling("carat", "", "ct carat carats"),
            Spelling("ounce", "", "oz ounce ounces"),
            Spelling("pound", "", "lb lbs pound pounds"),
            Spelling("grain", "", "grain grains"),
        ),
        "g",
    ),
    "cSt": Quantity(
        "a kinematic viscosity",
        "centistokes",
        (
            Spelling("centistokes", "mm2/s mm^2/s mm2·s-1 mm2s-1", "cSt cs centistokes centistoke"),
            Spelling("stokes", "cm2/s cm^2/s", "St stokes stoke"),
            Spelling("meter**2/second", "m2/s m^2/s"),
        ),
        "cSt",
    ),
    "°C": Quantity(
        "a temperature",
        "degC",
        (
            Spelling("degC", "", "°C C degC deg·C celsius degrees·celsius deg·celsius °celsius centigrade"),
            Spelling("degF", "", "°F F degF deg·F fahrenheit degrees·fahrenheit deg·fahrenheit °fahrenheit"),
            Spelling("kelvin", "", "K kelvin kelvins °K deg·K degK"),
        ),
        "Cel",
    ),
    "Δ°C": Quantity(
        "a difference of temperature",
        "delta_degC",
        (
            Spelling("delta_degC", "Δ°C", "°C C degC deg·C celsius hotter warmer °C·hotter °C·warmer C·hotter"),
            Spelling("delta_degF", "", "°F F degF deg·F fahrenheit °F·hotter °F·warmer F·hotter"),
            Spelling("kelvin", "", "K kelvin kelvins"),
        ),
        "K",
    ),
    "K": Quantity(
        "a temperature in kelvin without a zero of its own", "kelvin", (Spelling("kelvin", "", "K kelvin"),), "K"
    ),
    "mm": Quantity("a length", "millimeter", _METRE, "mm"),
    "m": Quantity("a length", "meter", _METRE, "m"),
    "cm3": Quantity(
        "a volume",
        "centimeter**3",
        (
            Spelling("centimeter**3", "cm3 cm^3", "cc ccm"),
            Spelling("milliliter", "ml mL", "millilitre millilitres milliliter milliliters"),
            Spelling("microliter", "ul μl uL μL", "microlitre microlitres microliter microliters"),
            Spelling("millimeter**3", "mm3 mm^3"),
            Spelling("liter", "l L", "litre litres liter liters"),
            Spelling("meter**3", "m3 m^3"),
            Spelling("inch**3", "", "in3 in^3 cu·in"),
        ),
        "cm3",
    ),
    "g/cm3": Quantity(
        "a density",
        "gram/centimeter**3",
        (
            Spelling("gram/centimeter**3", "g/cm3 g/cm^3 g·cm-3", "g/cc g/ccm"),
            Spelling("gram/milliliter", "g/ml g/mL"),
            Spelling("kilogram/meter**3", "kg/m3 kg/m^3 kg·m-3"),
            Spelling("kilogram/liter", "kg/l kg/L"),
            Spelling("gram/liter", "g/l g/L"),
            Spelling("pound/foot**3", "", "lb/ft3 lb/ft^3"),
        ),
        "g/cm3",
    ),
    "N·m": Quantity(
        "a torque",
        "newton*meter",
        (
            Spelling("newton*meter", "N·m", "Nm newton·metre newton·meter newton·metres newton·meters"),
            Spelling("centinewton*meter", "cN·m cNm"),
            Spelling("millinewton*meter", "mN·m mNm"),
            Spelling("newton*centimeter", "N·cm Ncm"),
            Spelling("newton*millimeter", "N·mm Nmm"),
            Spelling("kilogram_force*centimeter", "", "kgf·cm kg·cm kgfcm kgcm"),
            Spelling("gram_force*centimeter", "", "gf·cm g·cm gfcm gcm"),
            Spelling("pound_force*inch", "", "lbf·in lb·in in·lb in·lbf in·lbs lbin inlb"),
            Spelling("pound_force*foot", "", "lbf·ft lb·ft ft·lb ft·lbf ft·lbs ftlb"),
            Spelling("ounce_force*inch", "", "ozf·in oz·in in·oz in·ozf ozin inoz"),
        ),
        "N.m",
    ),
    "N·m·s": Quantity(
        "a damping",
        "newton*meter*second",
        (
            Spelling("newton*meter*second", "N·m·s Nm·s Nms N·m/(rad/s) Nm/(rad/s)"),
            Spelling("millinewton*meter*second", "mN·m·s mNm·s mNms mN·m/(rad/s) mNm/(rad/s)"),
            Spelling("micronewton*meter*second", "uN·m·s uNm·s uNms μN·m·s μNm·s μNms"),
        ),
        "N.m.s",
    ),
    "kPa": Quantity(
        "a pressure",
        "kilopascal",
        (
            Spelling("kilopascal", "", "kPa kilopascal kilopascals"),
            Spelling("pascal", "Pa", "pascal pascals"),
            Spelling("hectopascal", "", "hPa hectopascal hectopascals"),
            Spelling("megapascal", "MPa"),
            Spelling("bar", "", "bar"),
            Spelling("millibar", "mbar", "millibar"),
            Spelling("psi", "", "psi lb/in2 lbf/in2"),
            Spelling("atmosphere", "", "atm atmosphere atmospheres"),
            Spelling("millimeter_Hg", "", "mmHg mm·Hg"),
            Spelling("inch_Hg", "", "inHg in·Hg"),
            Spelling("torr", "", "torr"),
            Spelling("kilogram_force/centimeter**2", "kgf/cm2 kgf/cm^2 kp/cm2"),
        ),
        "kPa",
    ),
    "s": Quantity(
        "a time",
        "second",
        (
            Spelling("second", "", "s sec secs second seconds"),
            Spelling("millisecond", "ms", "millisecond milliseconds"),
            Spelling("minute", "", "min mins minute minutes"),
            Spelling("hour", "", "h hr hrs hour hours"),
        ),
        "s",
    ),
    "min": Quantity(
        "a time in minutes",
        "minute",
        (
            Spelling("minute", "", "min mins minute minutes"),
            Spelling("second", "", "s sec secs second seconds"),
            Spelling("hour", "", "h hr hrs hour hours"),
        ),
        "min",
    ),
    "deg": Quantity(
        "an angle",
        "degree",
        (
            Spelling("degree", "", "deg degree degrees °"),
            Spelling("radian", "", "rad radian radians"),
            Spelling("milliradian", "mrad"),
        ),
        "deg",
    ),
    "1/K": Quantity(
        "a change per kelvin",
        "1/kelvin",
        (
            Spelling("1/kelvin", "", "1/K /K K-1 K^-1 per·K 1/kelvin per·kelvin 1/°C /°C per·°C 1/C /C"),
            Spelling("1/delta_degF", "", "1/°F /°F per·°F 1/F /F"),
            Spelling("percent/kelvin", "", "%/K %/°C %/C"),
            Spelling("ppm/kelvin", "", "ppm/K ppm/°C ppm/C"),
        ),
        "/K",
    ),
    "%": Quantity("a percentage", "percent", (Spelling("percent", "%", "percent pct"),), "%"),
    "1": Quantity("a plain number or share", "dimensionless", _FRACTION, "1"),
    "runs": Quantity(
        "a count of runs",
        "dimensionless",
        (Spelling("dimensionless", "", "run runs pack packs"),),
        "{run}",
    ),
    "g/run": Quantity(
        "a mass per run",
        "gram",
        (
            Spelling("gram", "g/run", "g·per·run"),
            Spelling("milligram", "mg/run", "mg·per·run"),
        ),
        "g/{run}",
    ),
    "s/run": Quantity(
        "a time per run",
        "second",
        (
            Spelling("second", "s/run", "s·per·run"),
            Spelling("millisecond", "ms/run", "ms·per·run"),
        ),
        "s/{run}",
    ),
    "g/reading": Quantity(
        "a mass per reading",
        "gram",
        (
            Spelling("gram", "g/reading", "g·per·reading"),
            Spelling("milligram", "mg/reading", "mg·per·reading"),
        ),
        "g/{reading}",
    ),
    "rad/s": Quantity(
        "a turning speed",
        "radian/second",
        (
            Spelling("radian/second", "rad/s rad·s-1", "rad/s radians·per·second"),
            Spelling("revolution/minute", "1/min min-1", "rpm r/min rev/min revs/min turns/min"),
            Spelling("revolution/second", "", "rps rev/s revs/s turns/s"),
            Spelling("degree/second", "", "deg/s °/s"),
        ),
        "rad/s",
    ),
    "W": Quantity(
        "a heat per time",
        "watt",
        (
            Spelling("watt", "W", "watt watts"),
            Spelling("milliwatt", "mW", "milliwatt milliwatts"),
            Spelling("kilowatt", "kW", "kilowatt kilowatts"),
        ),
        "W",
    ),
    "J/K": Quantity(
        "a heat per kelvin",
        "joule/kelvin",
        (
            Spelling("joule/kelvin", "J/K J/°C", "j/k j/°c"),
            Spelling("kilojoule/kelvin", "kJ/K kJ/°C"),
        ),
        "J/K",
    ),
}

DYNAMIC_VISCOSITY: Final = frozenset(
    [
        "cp",
        "cps",
        "p",
        "mpa·s",
        "mpas",
        "pa·s",
        "pas",
        "dpa·s",
        "dpas",
        "ns/m2",
        "n·s/m2",
        "poise",
        "centipoise",
        "centipoises",
        "mpa·sec",
        "pa·sec",
    ]
)
WEIGHT_NUMBERS: Final = frozenset(["wt", "w", "weight"])

_DEGREES: Final = dict.fromkeys(("°", "deg", "degs", "degree", "degrees"), "degrees Celsius (°C) or Fahrenheit (°F)")
AMBIGUOUS: Final[dict[str, dict[str, str]]] = {
    "g": dict.fromkeys(("gr", "grs"), "grams (g) or grains (0.0648 g)"),
    "°C": _DEGREES,
    "Δ°C": _DEGREES,
    "mm": dict.fromkeys(("mil", "mils"), "thousandths of an inch (thou) or millimetres (mm)"),
    "cm3": dict.fromkeys(("fl·oz", "floz", "oz", "ounce", "ounces"), "American or British fluid ounces"),
    "kPa": dict.fromkeys(
        ("psig", "psia", "barg", "bara"),
        "a unit and a zero in one word; write the unit alone, the input says which zero it uses",
    ),
}

_LOOK_ALIKES: Final = str.maketrans(
    {
        "º": "°",
        "˚": "°",
        "℃": "°C",
        "℉": "°F",
        "K": "K",
        "µ": "μ",
        "²": "2",
        "³": "3",
        "⁻": "-",
        "¹": "1",
        "⋅": "·",
        "•": "·",
        "∙": "·",
        "*": "·",
        "×": "·",
        "∕": "/",
        "−": "-",
        "\u00a0": " ",
        "\u202f": " ",
        "\u2009": " ",
        "″": '"',
        "”": '"',
    }
)


def tidy(text: str) -> str:
    """A unit as typed, with look-alike signs unified and spaces as a product: ``PA s`` is ``PA·s``.

    >>> tidy(" Pa s ")
    'Pa·s'
    >>> tidy("mm² / s")
    'mm2/s'
    """
    plain = " ".join(text.translate(_LOOK_ALIKES).split()).rstrip(".").strip()
    for sign in "·/":
        plain = plain.replace(f" {sign}", sign).replace(f"{sign} ", sign)
    return plain.replace(" ", "·").replace("°·", "°").replace("·°", "°")


def names_unit(canonical: str, text: str) -> bool:
    """Whether the text is an accepted spelling of a unit for that canonical unit."""
    return _found(canonical, tidy(text)) is not None


def ucum_of(unit: str | None) -> str | None:
    """The code of a canonical unit in The Unified Code for Units of Measure; None without a unit.

    >>> ucum_of("cSt"), ucum_of("°C"), ucum_of("g/run"), ucum_of(None)
    ('cSt', 'Cel', 'g/{run}', None)
    """
    return None if unit is None else QUANTITIES[unit].ucum


def quantities_named(text: str) -> tuple[str, ...]:
    """The canonical units of which the text is an accepted spelling.

    >>> quantities_named("mg")
    ('g',)
    """
    word = tidy(text)
    return tuple(canonical for canonical in QUANTITIES if _found(canonical, word) is not None)


def looks_like_unit(text: str) -> bool:
    """Whether the text is a unit at all, even a refused one."""
    word = tidy(text)
    low = word.lower()
    return bool(
        quantities_named(text)
        or low in DYNAMIC_VISCOSITY
        or low in WEIGHT_NUMBERS
        or any(low in words for words in AMBIGUOUS.values())
    )


def accepted(canonical: str) -> tuple[str, ...]:
    """All accepted spellings for a canonical unit, for help and documentation."""
    words: list[str] = []
    for spelling in QUANTITIES[canonical].spellings:
        words += spelling.exact.split() + spelling.any_case.split()
    return tuple(dict.fromkeys(words))


@cache
def scale_of(canonical: str, text: str) -> UnitScale:
    """How a value in the unit ``text`` converts to the canonical unit. Raises UnitError.

    >>> scale_of("g", "mg").factor
    0.001
    >>> scale_of("°C", "°F")
    UnitScale(factor=0.55555555555556, zero=32.0)
    >>> scale_of("Δ°C", "°F")
    UnitScale(factor=0.55555555555556, zero=0.0)
    """
    word = tidy(text)
    if word in ("", canonical):
        return SAME
    pint_name = _found(canonical, word)
    if pint_name is None:
        raise _refused(canonical, word, text)
    return _scale(QUANTITIES[canonical].pint_name, pint_name)


def converted(value: float, scale: UnitScale) -> float:
    """The value in the canonical unit, rounded to 12 significant digits so that 0.0213 kg is 21.3 g.

    >>> converted(0.0213, scale_of("g", "kg"))
    21.3
    """
    if scale is SAME or scale == SAME:
        return value
    return float(f"{(value - scale.zero) * scale.factor:.12g}")


def _folded(word: str) -> str:
    return tidy(word).lower()


@cache
def _lists(canonical: str) -> tuple[dict[str, str], dict[str, str]]:
    exact: dict[str, str] = {}
    any_case: dict[str, str] = {}
    for spelling in QUANTITIES[canonical].spellings:
        exact.update(dict.fromkeys(map(tidy, spelling.exact.split()), spelling.pint_name))
        any_case.update(dict.fromkeys(map(_folded, spelling.any_case.split()), spelling.pint_name))
    return exact, any_case


def _found(canonical: str, word: str) -> str | None:
    exact, any_case = _lists(canonical)
    variants = (word, word.replace("-", "·")) if canonical == "N·m" else (word,)
    for one in variants:
        found = exact.get(one) or any_case.get(one.lower())
        if found:
            return found
    return None


@cache
def _scale(canonical_name: str, pint_name: str) -> UnitScale:
    if canonical_name == pint_name:
        return SAME
    own = _SCALES_OF_TEMPERATURE.get(canonical_name, {})
    if pint_name in own:
        return own[pint_name]
    return UnitScale(_clean(_registry().Quantity(1.0, pint_name).to(canonical_name).magnitude))


def _clean(number: float) -> float:
    """Rounded by two digits, since pint's steps leave 999999.9999999999 for a million."""
    return float(f"{number:.14g}")


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def _refused(canonical: str, word: str, text: str) -> UnitError:
    quantity = QUANTITIES[canonical]
    low = word.lower()
    meanings = AMBIGUOUS.get(canonical, {}).get(low)
    if meanings:
        return UnitError(f"the unit {shown(text)} has two meanings: {meanings}", code="unit_ambiguous")
    if canonical == "cSt" and low in DYNAMIC_VISCOSITY:
        return UnitError(
            f"{shown(text)} is a unit of dynamic viscosity, and cSt is kinematic: they differ by the density",
            code="dynamic_viscosity_needs_density",
            remedy="Divide mPa·s by the density in g/cm3 and give the result in cSt.",
        )
    if canonical == "cSt" and low in WEIGHT_NUMBERS:
        return UnitError(
            f"{shown(text)} is a number on a label and not a unit of viscosity",
            code="viscosity_unit_wt",
            remedy="Give a number in cSt, from the data sheet of the bottle.",
        )
    others = [QUANTITIES[other].about for other in quantities_named(text) if other != canonical]
    if others or low in DYNAMIC_VISCOSITY:
        other = others[0] if others else "a dynamic viscosity"
        return UnitError(
            f"{shown(text)} is a unit of {other}, and {quantity.about} is needed",
            code="unit_not_allowed",
            wanted=canonical,
        )
    return UnitError(
        f"there is no unit {shown(text)}",
        code="viscosity_unit_unknown" if canonical == "cSt" else "unit_unknown",
        wanted=canonical,
        remedy=near_misses(word, accepted(canonical))
        or f"Accepted are {', '.join(accepted(canonical)[:6])} and others.",
    )
