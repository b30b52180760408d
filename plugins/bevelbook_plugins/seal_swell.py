"""Can this seal go back in: ``seal-swell``."""

from __future__ import annotations

from collections.abc import Iterable
from math import sqrt
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    Judgement,
    OnCard,
    OneOf,
    Source,
    Where,
    Worked,
    choice,
    hookimpl,
    quantity,
    record,
    refuse,
    text,
    vocabulary,
)
from bevelbook.formulas.inputs import repeatability, scale_step
from bevelbook.formulas.percent import percent
from bevelbook.physics.oring import (
    SET_D395,
    TORUS,
    compression_set_fraction,
    groove_fill_fraction,
    linear_change_fraction,
    mass_volume_change,
    ring_volume_mm3,
    squeeze_fraction,
    volume_change_fraction,
    weighed_volume_change,
    weighed_volume_change_uncertainty,
)
from bevelbook.physics.weighing import COVERAGE_K, GUM, assumed_in_words, reading_uncertainty_g
from bevelbook_plugins.gland import STATIC_SQUEEZE_HIGH, check_groove, check_ring
from bevelbook_plugins.rubbers import rubber_caution, rubber_suits

JOINT_SWELL: Final = 0.30
SHAFT_SWELL: Final = 0.15
SHRINKAGE: Final = -0.03
FILL_AFTER: Final = 0.90
SQUEEZE_LEFT: Final = 0.10
LUBRICANT_RULE: Final = 0.05
FLATTEST: Final = 3.0
"""A section that is more times as wide as thin is refused; our own figure."""
SOUND: Final = "ok"
NEVER_BACK: Final = ("flattened", "nicked", "missing")
"""States of a seal that no measured size makes good."""

SWELL_GUIDE: Final = Source(
    "handbook",
    "O-Ring eHandbook",
    "Parker Hannifin",
    year="undated",
    where="Volume Change: up to 30 % static, up to 10 or 15 % dynamic",
    seen="read; its line on shrinkage was not",
)
LUBRICANT_MAKER: Final = Source(
    "data sheet",
    "Elastomer compatibility explanation",
    "Klueber Lubrication",
    year="undated",
    where="-5 to +5 % acceptable",
    seen="read",
)
ARCHIMEDES: Final = Source(
    "standard",
    "volume change by weighing in air and water, the form of ASTM D471 and ISO 1817",
    publisher="ASTM; ISO",
    year="undated",
    seen="not opened; the form follows from Archimedes",
)
MASS_ALONE: Final = Source(
    "standard",
    "Weight gain or loss, on ASTM D471",
    "Intertek Plastics Technology Laboratories",
    year="undated",
    seen="quoted in this text; the step to a volume is a mass balance",
)
REUSE_RULE: Final = Source(
    "proposal",
    "do not reuse a seal that is cut, flat or cracked, that swelled over 15 % (shaft) or 30 % (joint), shrank over "
    "3 %, would fill its groove over 90 %, or would be squeezed under 10 %",
)
STEP_RULE: Final = Source(
    "proposal", "a size of soft rubber is taken to be right to one step of the reading either way"
)
SEAL_CAUTIONS: Final = ("knife", "solvent", "oil-on-floor")


@record
class SwellGiven:
    place: str = choice(vocabulary.SEAL_PLACES, "Where the seal sits", same_as="seal_fittings.place")
    inside_diameter_mm: float | None = quantity(
        "mm",
        "Inside diameter of a new ring, measured the same way (with the section: the first choice)",
        default=None,
        above=0,
        same_as="seals.inside_diameter_mm",
    )
    section_mm: float | None = quantity(
        "mm", "Section of a new ring, measured the same way", default=None, above=0, same_as="seals.section_mm"
    )
    measured_inside_diameter_mm: float | None = quantity(
        "mm",
        "Inside diameter of this ring",
        default=None,
        above=0,
        same_as="seal_fittings.measured_inside_diameter_mm",
    )
    measured_section_mm: float | None = quantity(
        "mm",
        "Section of this ring; the thin way of a flattened one",
        default=None,
        above=0,
        same_as="seal_fittings.measured_section_mm",
    )
    wide_section_mm: float | None = quantity(
        "mm", "Section of this ring at right angles to that, if it is flattened", default=None, above=0
    )
    outside_diameter_mm: float | None = quantity(
        "mm",
        "Outside diameter of a new ring, measured the same way",
        default=None,
        above=0,
        same_as="seals.outside_diameter_mm",
    )
    measured_outside_diameter_mm: float | None = quantity(
        "mm",
        "Outside diameter of this ring; alone it misleads if the ring is flattened",
        default=None,
        above=0,
        same_as="seal_fittings.measured_outside_diameter_mm",
    )
    air_mass_before_g: float | None = quantity("g", "New ring, weighed in air", default=None, above=0)
    water_mass_before_g: float | None = quantity("g", "New ring, weighed hanging in water", default=None, minimum=0)
    air_mass_after_g: float | None = quantity("g", "This ring, wiped, weighed in air", default=None, above=0)
    water_mass_after_g: float | None = quantity("g", "This ring, weighed hanging in water", default=None, minimum=0)
    mass_before_g: float | None = quantity("g", "New ring, if only masses are known", default=None, above=0)
    mass_after_g: float | None = quantity("g", "This ring, wiped, if only masses are known", default=None, above=0)
    rubber_density_g_cm3: float | None = quantity(
        "g/cm3", "Density of the rubber when new", default=None, minimum=0.5, maximum=3
    )
    oil_density_g_cm3: float | None = quantity(
        "g/cm3", "Density of the oil", default=None, minimum=0.5, maximum=2, same_as="fluids.density_g_cm3"
    )
    groove_depth_mm: float | None = quantity(
        "mm", "Depth of its groove", default=None, above=0, same_as="seals.groove_depth_mm"
    )
    groove_width_mm: float | None = quantity(
        "mm", "Width of its groove", default=None, above=0, same_as="seals.groove_width_mm"
    )
    state: str | None = choice(
        vocabulary.SEAL_STATES, "How this seal was found", default=None, same_as="seal_fittings.state"
    )
    found_at_opening: str | None = choice(
        vocabulary.SEAL_STATES,
        "How the seals were found when the diff was last opened",
        default=None,
        same_as="openings.seals",
    )
    material: str = choice(vocabulary.RUBBERS, "Rubber", default="unknown", same_as="seals.material")
    reading_step_mm: float = quantity(
        "mm",
        "Step to which sizes are read, or the difference between two readings of one ring, if that is more",
        default=0.01,
        above=0,
    )
    scale_step_g: float = scale_step()
    repeatability_g: float | None = repeatability()


@record
class SwellFound:
    volume_change_fraction: float = quantity("1", "Change of the seal's volume against a new one")
    linear_change_fraction: float = quantity("1", "Change of its lengths, swelling the same in all directions")
    squeeze_fraction: float | None = quantity("1", "Squeeze that the groove gives it now")
    groove_fill_fraction: float | None = quantity("1", "Share of the groove that it fills now")
    uncertainty: float = quantity(
        "1",
        "Uncertainty of the change of volume (k = 2), from the readings; with a section measured both ways also what "
        "the flat leaves open",
        exact=True,
        uncertainty_of="volume_change_fraction",
        heading="uncertainty (k = 2)",
    )
    compression_set_fraction: float | None = quantity(
        "1", "Set, from a section measured thinner than new; swelling hides some of it"
    )
    method: str = text("What it was found from")


class _Method(NamedTuple):
    """One way to find the change of volume, and the inputs it needs."""

    name: str
    needs: tuple[str, ...]


BOTH_SIZES: Final = "inside diameter and section"
OUTSIDE: Final = "outside diameters"
METHODS: Final = (
    _Method(
        BOTH_SIZES,
        ("inside_diameter_mm", "section_mm", "measured_inside_diameter_mm", "measured_section_mm"),
    ),
    _Method(OUTSIDE, ("outside_diameter_mm", "measured_outside_diameter_mm")),
    _Method(
        "weighing in air and water",
        ("air_mass_before_g", "water_mass_before_g", "air_mass_after_g", "water_mass_after_g"),
    ),
    _Method("mass alone", ("mass_before_g", "mass_after_g", "rubber_density_g_cm3", "oil_density_g_cm3")),
)
BY_WEIGHING: Final = ("weighing in air and water", "mass alone")


def swell(given: SwellGiven) -> SwellFound:
    """Change of volume of a seal by the first method whose inputs are complete, and its squeeze and fill in the groove.

    Both sizes: V(d1', d2') / V(d1, d2) - 1 with V = pi^2 / 4 d2^2 (d1 + d2); of a section measured both ways d2^2 is
    their product, d2 in the sum their mean. Outside diameters: (D' / D)^3 - 1.
    Air and water: (m3 - m4) / (m1 - m2) - 1. Mass alone: dm / m x rubber density / oil density.
    Fill = (pi / 4 d2^2)(1 + dV) / (h b): the groove holds the ring's length, so all swell goes into its section.
    """
    _check_sizes(given)
    for method in METHODS:
        values = [getattr(given, name) for name in method.needs]
        if None not in values:
            break
    else:
        raise refuse(
            given,
            "measured_outside_diameter_mm",
            "no method has all its inputs",
            remedy="Give inside diameter and section of both rings, or both outside diameters, or the four weighings, "
            "or the two masses with both densities.",
            code="missing_input",
        )
    change, uncertainty = _change(method.name, values, given)
    linear = linear_change_fraction(change)
    section = _thin_way_mm(given) or (given.section_mm and given.section_mm * (1.0 + linear))
    depth, width = given.groove_depth_mm, given.groove_width_mm
    fill = None
    if given.section_mm is not None and depth is not None and width is not None:
        fill = groove_fill_fraction(given.section_mm, depth, width) * (1.0 + change)
    return SwellFound(
        volume_change_fraction=change,
        linear_change_fraction=linear,
        squeeze_fraction=None if section is None or depth is None else squeeze_fraction(section, depth),
        groove_fill_fraction=fill,
        uncertainty=COVERAGE_K * uncertainty + (1.0 + change) * _left_open_by_flat(given, method.name),
        compression_set_fraction=_set(given),
        method=method.name,
    )


def _change(method: str, values: list[float], given: SwellGiven) -> tuple[float, float]:
    u_mm = given.reading_step_mm / sqrt(3.0)
    u_g = reading_uncertainty_g(given.scale_step_g, given.repeatability_g)
    if method == OUTSIDE:
        new, now = values
        change = volume_change_fraction(now / new - 1.0)
        return change, (1.0 + change) * 3.0 * u_mm * sqrt(1.0 / new**2 + 1.0 / now**2)
    if method == BOTH_SIZES:
        bore, section, bore_now, section_now = values
        wide = given.wide_section_mm
        change = ring_volume_mm3(bore_now, section_now, wide) / ring_volume_mm3(bore, section) - 1.0
        of_sizes = sqrt(_per_mm(bore, section) ** 2 + _per_mm(bore_now, section_now, wide) ** 2)
        return change, (1.0 + change) * u_mm * of_sizes
    if method == "weighing in air and water":
        air, water, air_now, water_now = values
        for name, dry, wet in (("water_mass_before_g", air, water), ("water_mass_after_g", air_now, water_now)):
            if wet >= dry:
                raise refuse(
                    given,
                    name,
                    f"the ring weighs {wet:g} g in water and {dry:g} g in air; water has to carry some of it",
                    remedy="Check whether the two readings are swapped, and shake bubbles off the ring.",
                )
        change = weighed_volume_change(air, water, air_now, water_now)
        return change, weighed_volume_change_uncertainty(air - water, change, u_g)
    mass, mass_now, rubber, oil = values
    change = mass_volume_change(mass, mass_now, rubber, oil)
    if change <= -1.0:
        raise refuse(
            given,
            "mass_after_g",
            f"{mass_now:g} g after {mass:g} g would leave no volume at these densities",
            remedy="Check whether the masses are of the same ring.",
        )
    return change, rubber / oil * u_g / mass * sqrt(1.0 + (mass_now / mass) ** 2)


def _per_mm(bore: float, section: float, wide: float | None = None) -> float:
    """Relative change of a ring's volume for one millimetre of uncertainty in each of its sizes, independent."""
    if wide is None:
        return sqrt((2.0 / section + 1.0 / (bore + section)) ** 2 + 1.0 / (bore + section) ** 2)
    middle = bore + (section + wide) / 2.0
    each = [1.0 / one + 0.5 / middle for one in (section, wide)]
    return sqrt(sum(one**2 for one in each) + 1.0 / middle**2)


def _left_open_by_flat(given: SwellGiven, method: str) -> float:
    """The most that the volume of a ring measured both ways is off, as a share: either may be the way along the radius.

    Half the difference of the two ways, over the middle diameter.
    """
    bore, section, wide = given.measured_inside_diameter_mm, given.measured_section_mm, given.wide_section_mm
    if method != BOTH_SIZES or bore is None or section is None or wide is None:
        return 0.0
    return abs(wide - section) / 2.0 / (bore + (section + wide) / 2.0)


def _thin_way_mm(given: SwellGiven) -> float | None:
    """The measured section in the thinner of the two ways; None without one."""
    ways = [one for one in (given.measured_section_mm, given.wide_section_mm) if one is not None]
    return min(ways, default=None)


def _check_sizes(given: SwellGiven) -> None:
    one_way, other = given.measured_section_mm, given.wide_section_mm
    if one_way is not None and other is not None and max(one_way, other) > FLATTEST * min(one_way, other):
        raise refuse(
            given,
            "wide_section_mm",
            f"a section of {one_way:g} mm one way and {other:g} mm the other is not of one ring",
            remedy="Measure both ways at one place of the ring, in mm.",
        )
    bore, section = given.inside_diameter_mm, given.section_mm
    if section is not None and bore is None and given.outside_diameter_mm is not None:
        bore = given.outside_diameter_mm - 2.0 * section
    if section is not None and bore is not None:
        check_ring(given, bore, section)
    if section is not None and given.groove_depth_mm is not None and given.groove_width_mm is not None:
        check_groove(given, section, given.groove_depth_mm, given.groove_width_mm)


def _set(given: SwellGiven) -> float | None:
    section, now, depth = given.section_mm, _thin_way_mm(given), given.groove_depth_mm
    if section is None or now is None or depth is None or depth >= section or now >= section:
        return None
    return compression_set_fraction(section, now, depth)


class _Check(NamedTuple):
    """One limit of the reuse rule beside the value and its half width: k = 2, or the most that it can be off.

    ``and_more``: what the half width holds beside the readings, after a comma. ``is_bound``: it is the most, not k = 2.
    ``unless``: why a value beyond the limit does not decide yet, and what to measure; empty where it does.
    """

    what: str
    value: float
    wide: float
    limit: float
    upper: bool
    why: str
    and_more: str = ""
    is_bound: bool = False
    unless: str = ""

    @property
    def is_beyond(self) -> bool:
        return self.value - self.wide > self.limit if self.upper else self.value + self.wide < self.limit

    @property
    def broken(self) -> bool:
        return self.is_beyond and not self.unless

    @property
    def open(self) -> bool:
        return not self.broken and (
            self.value + self.wide > self.limit if self.upper else self.value - self.wide < self.limit
        )

    def in_words(self) -> str:
        side = "over" if self.upper else "under"
        if self.is_bound:
            summary = f"{self.what} is {percent(self.value, 1)}, off by {percent(self.wide, 1)} at most"
        else:
            summary = f"{self.what} is {percent(self.value, 1)} ± {percent(self.wide, 1)} (k = 2{self.and_more})"
        if self.is_beyond:
            return f"{summary}, {side} {percent(self.limit)}: {self.unless or self.why} (our own figure)"
        return f"{summary}; {percent(self.limit)} lies inside, so this reading cannot decide (limit: our own figure)"


def _checks(given: SwellGiven, found: SwellFound) -> list[_Check]:
    change, wide = found.volume_change_fraction, found.uncertainty
    joint = given.place == "joint"
    and_flat = _and_flat(given, found)
    checks = [
        _Check(
            "the change of volume",
            change,
            wide,
            JOINT_SWELL if joint else SHAFT_SWELL,
            True,
            "too much for a joint" if joint else "too much for a ring that a shaft turns in",
            and_flat,
        ),
        _Check(
            "the change of volume",
            change,
            wide,
            SHRINKAGE,
            False,
            "a shrunk or flattened seal leaks" if found.method == OUTSIDE else "a shrunk seal leaks",
            and_flat,
            unless="shrunk, or only flattened; measure its section at right angles too"
            if _may_be_flat(given, found)
            else "",
        ),
    ]
    if found.groove_fill_fraction is not None:
        fill = found.groove_fill_fraction
        checks.append(
            _Check(
                "the fill of its groove",
                fill,
                fill * wide / (1 + change),
                FILL_AFTER,
                True,
                "no room left for heat",
                and_flat,
            )
        )
    if found.squeeze_fraction is not None:
        left, measured = found.squeeze_fraction, _thin_way_mm(given)
        why = "too loose to seal"
        if measured is not None:
            most_off = (1 - left) * given.reading_step_mm / measured
            checks.append(_Check("the squeeze left", left, most_off, SQUEEZE_LEFT, False, why, is_bound=True))
        else:
            half = (1 - left) * wide / (3 * (1 + change))
            checks.append(_Check("the squeeze left", left, half, SQUEEZE_LEFT, False, why))
    return checks


def _and_flat(given: SwellGiven, found: SwellFound) -> str:
    return ", plus what the flat leaves open" if _left_open_by_flat(given, found.method) else ""


def judge_swell(given: SwellGiven, found: SwellFound) -> Judgement:
    change = found.volume_change_fraction
    grown = "grown" if change >= 0 else "shrunk"
    summary = (
        f"{grown} {percent(abs(change), 1)} ± {percent(found.uncertainty, 1)} in volume "
        f"(k = 2{_and_flat(given, found)}), {percent(abs(found.linear_change_fraction), 1)} in length, "
        f"from {found.method}"
    )
    findings = tuple(_swell_findings(given, found))
    checks = _checks(given, found)
    broken = [check.in_words() for check in checks if check.broken]
    if given.state in NEVER_BACK:
        broken.insert(0, f"it was found {given.state}")
    if broken:
        return Judgement("stop", ("do not put it back", summary, *broken), findings)
    cautions = tuple(_swell_cautions(given, found))
    unclear = [check.in_words() for check in checks if check.open]
    if unclear:
        return Judgement("unclear", (summary, *unclear, "measure finer, or several rings at once", *cautions), findings)
    if cautions:
        return Judgement("caution", (*cautions, summary), findings)
    keep = "it may go back unless it is cut, flat or cracked (our own figure)"
    return Judgement("ok", (keep, summary), findings)


def _swell_cautions(given: SwellGiven, found: SwellFound) -> Iterable[str]:
    if given.state not in (None, SOUND):
        yield f"it was found {given.state}: put a new one in"
    if given.found_at_opening not in (None, SOUND):
        yield (
            f"a seal was found {given.found_at_opening} when the diff was last opened: put this one back only if it is "
            "another"
        )
    if abs(found.volume_change_fraction) > LUBRICANT_RULE:
        yield "a lubricant maker's rule calls -5 to +5 % acceptable, this is outside: a new one is the safe choice"
    rubber = rubber_caution(given.material)
    if rubber:
        yield rubber


def _swell_findings(given: SwellGiven, found: SwellFound) -> Iterable[str]:
    if found.method == OUTSIDE:
        reads = "it reads as shrunk or, pressed from above, as grown"
        if found.volume_change_fraction < 0.0:
            reads = "a flattened ring reads as shrunk"
        yield f"from the outside alone a used ring misleads, {reads}: measure section and inside diameter too"
    elif given.outside_diameter_mm is not None and given.measured_outside_diameter_mm is not None:
        sizes = [given.outside_diameter_mm, given.measured_outside_diameter_mm]
        change, uncertainty = _change(OUTSIDE, sizes, given)
        yield (
            f"from the outside diameters it {'grew' if change >= 0 else 'shrank'} {percent(abs(change), 1)} "
            f"± {percent(COVERAGE_K * uncertainty, 1)} (k = 2), which holds only if it is not flattened"
        )
    if _may_be_flat(given, found):
        yield "thinner than new: if it is flattened, measure its section at right angles too, or it reads as shrunk"
    if found.method == "mass alone":
        yield "assuming that nothing left the rubber: plasticiser that was drawn out hides swell"
    assumed = assumed_in_words(given.scale_step_g, given.repeatability_g)
    if assumed and found.method in BY_WEIGHING:
        yield assumed
    if found.squeeze_fraction is not None and found.squeeze_fraction > STATIC_SQUEEZE_HIGH:
        yield (
            f"squeezed {percent(found.squeeze_fraction)} now, over the {percent(STATIC_SQUEEZE_HIGH)} that a handbook "
            "allows"
        )
    if found.compression_set_fraction is not None:
        yield (
            f"set {percent(found.compression_set_fraction)}: no published limit was found, the squeeze left decides; "
            "swell and set hide each other"
        )
    suits = rubber_suits(given.material)
    if suits:
        yield suits


def _may_be_flat(given: SwellGiven, found: SwellFound) -> bool:
    section, now = given.section_mm, given.measured_section_mm
    if found.method == OUTSIDE or given.wide_section_mm is not None or section is None or now is None:
        return False
    return now < section


def _area_in_words(given: SwellGiven) -> str:
    if given.wide_section_mm is None:
        return f"{given.measured_section_mm}²"
    return f"{given.measured_section_mm} × {given.wide_section_mm}"


def _middle_in_words(given: SwellGiven) -> str:
    if given.wide_section_mm is None:
        return f"{given.measured_section_mm}"
    return f"({given.measured_section_mm} + {given.wide_section_mm})/2"


def swell_working(given: SwellGiven, found: SwellFound) -> tuple[str, ...]:
    put_in = {
        OUTSIDE: (
            "dV = (D'/D)³ − 1",
            f"({given.measured_outside_diameter_mm} mm / {given.outside_diameter_mm} mm)³ − 1",
        ),
        BOTH_SIZES: (
            "dV = d2'² (d1' + d2') / (d2² (d1 + d2)) − 1",
            f"{_area_in_words(given)} ({given.measured_inside_diameter_mm} + {_middle_in_words(given)}) / "
            f"({given.section_mm}² ({given.inside_diameter_mm} + {given.section_mm})) − 1",
        ),
        "weighing in air and water": (
            "dV = (m3 − m4) / (m1 − m2) − 1",
            f"({given.air_mass_after_g} g − {given.water_mass_after_g} g) / "
            f"({given.air_mass_before_g} g − {given.water_mass_before_g} g) − 1",
        ),
        "mass alone": (
            "dV = (m' − m) / m × rubber / oil",
            f"({given.mass_after_g} g − {given.mass_before_g} g) / {given.mass_before_g} g × "
            f"{given.rubber_density_g_cm3} / {given.oil_density_g_cm3}",
        ),
    }
    formula, values = put_in[found.method]
    lines = [
        f"{formula} = {values} = {found.volume_change_fraction:.4f}",
        f"dL = (1 + dV)^(1/3) − 1 = {found.linear_change_fraction:.4f}",
        f"U = 2 u(dV) = {found.uncertainty:.4f}, each size right to {given.reading_step_mm:g} mm either way, "
        f"each mass read in steps of {given.scale_step_g:g} g",
    ]
    if found.squeeze_fraction is not None:
        lines.append(f"squeeze = (d2' − h) / d2' with h = {given.groove_depth_mm} mm: {found.squeeze_fraction:.4f}")
    if found.groove_fill_fraction is not None:
        lines.append(
            f"fill = π/4 d2² (1 + dV) / (h b) with {given.groove_depth_mm} × {given.groove_width_mm} mm: "
            f"{found.groove_fill_fraction:.4f}"
        )
    return tuple(lines)


SEAL_SWELL = Calculator(
    name="seal-swell",
    title="Seal swell",
    question="Can this seal go back in?",
    purpose="swell of a seal from sizes or weighings, with a verdict by place",
    version=3,
    given=SwellGiven,
    found=SwellFound,
    compute=swell,
    judge=judge_swell,
    working=swell_working,
    answer="volume_change_fraction",
    seen_first=("material",),
    of="seal_fitting",
    card=OnCard("seals", asks=Where("condition", ("used",))),
    kept_after=("seal_fitting", "seal"),
    one_of=(OneOf(tuple(method.needs for method in METHODS)),),
    valid=(
        "Best: inside diameter and section against a new ring of the same bag, all with the same calliper, without "
        "pressing. The interval is that of these readings: sizes from a catalogue are off by more, in class B by "
        "0.08 mm of section and 0.15 mm of bore either way.",
        "A used ring is flattened: measure its section both ways. From its outside alone it reads as shrunk, or as "
        "grown if it was pressed from above.",
        "With a build or a diff the seal is the one in the place asked about: fitted there, else usual there.",
        "Given more than one way, the first of these counts: both sizes, outside diameters, air and water, mass alone.",
        "Swelling the same in all directions. Mass alone is valid only if nothing leaves the rubber.",
        "70 h of soaking may show swell where a longer time shows shrinkage; thin silicone oils swell more than thick "
        "ones (common practice, no source).",
    ),
    sources=(TORUS, ARCHIMEDES, MASS_ALONE, SWELL_GUIDE, LUBRICANT_MAKER, REUSE_RULE, STEP_RULE, SET_D395, GUM),
    cautions=SEAL_CAUTIONS,
    worked=(
        Worked(
            {
                "place": "joint",
                "inside_diameter_mm": "5 mm",
                "section_mm": "2 mm",
                "measured_inside_diameter_mm": "5.20",
                "measured_section_mm": "2.09",
                "material": "EPDM",
            },
            {"volume_change_fraction": 0.137},
            0.0005,
            Source("computed", "hand calculation: 2.09² × 7.29 / (2² × 7) − 1 = 31.8434 / 28 − 1 = 0.1373"),
            "caution",
        ),
        Worked(
            {
                "place": "lid-side shaft",
                "air_mass_before_g": "2.5",
                "water_mass_before_g": "0.5",
                "air_mass_after_g": "2.693",
                "water_mass_after_g": "0.493",
                "scale_step_g": "0.001",
            },
            {"volume_change_fraction": 0.10, "linear_change_fraction": 0.03228},
            1e-5,
            Source("computed", "constructed: (2.693 − 0.493) / (2.5 − 0.5) − 1 = 0.1, cube root of 1.1"),
            "caution",
        ),
        Worked(
            {
                "place": "joint",
                "mass_before_g": "2.5",
                "mass_after_g": "2.693",
                "rubber_density_g_cm3": "1.25",
                "oil_density_g_cm3": "0.965",
                "material": "VMQ",
            },
            {"volume_change_fraction": 0.10},
            1e-5,
            Source("computed", "hand calculation: 0.0772 × 1.25 / 0.965 = 0.1000"),
            "caution",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (SEAL_SWELL,)
