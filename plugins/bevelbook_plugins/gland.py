"""What a groove does to an O-ring: ``gland``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import pi
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    Judgement,
    OnCard,
    Source,
    Supplied,
    Worked,
    choice,
    hookimpl,
    quantity,
    record,
    refuse,
    vocabulary,
)
from bevelbook.formulas.percent import percent
from bevelbook.physics.oring import (
    CLASS_B,
    HANDBOOK_THINNING,
    LARGEST_STRETCH,
    groove_fill_fraction,
    heat_growth_fraction,
    inside_diameter_tolerance_mm,
    section_tolerance_mm,
    squeeze_fraction,
    stretch_fraction,
    thinning_fraction,
    thinning_range,
)
from bevelbook.reference import rows
from bevelbook_plugins.rubbers import largest_expansion_per_k, rubber_caution

DUTIES: Final = ("static radial", "static face", "dynamic")
STATIC_SQUEEZE_LOW: Final = 0.10
STATIC_SQUEEZE_HIGH: Final = 0.30
STATIC_SQUEEZE_MOST: Final = 0.40
DYNAMIC_SQUEEZE_LOW: Final = 0.12
DYNAMIC_SQUEEZE_HIGH: Final = 0.18
DYNAMIC_SQUEEZE_SMALL: Final = 0.25
DYNAMIC_SQUEEZE_MOST: Final = 0.30
WEAR_SECTION_MM: Final = 3.53
STATIC_FILL: Final = 0.90
DYNAMIC_FILL: Final = 0.85
MOST_FILL: Final = 0.95
STRETCH_LOW: Final = 0.01
STRETCH_HIGH: Final = 0.05
LEAST_SQUEEZE_MM: Final = 0.2

SUPPLIER_GUIDE: Final = Source(
    "handbook",
    "Seal Design Guide",
    "Apple Rubber Products",
    year="undated",
    where="squeeze 10 to 40 % static, 30 % at most dynamic; stretch 1 to 5 %",
    seen="read",
)
SEAL_TECHNOLOGY: Final = Source(
    "handbook",
    "Mechanical Engineers' Handbook, vol. 3, chapter Seal Technology",
    "Wiley",
    year="undated",
    where="p. 290: 30 % at most static; 16 % dynamic, 25 % for small sections",
    seen="read",
)
DYNAMIC_PAGE: Final = Source(
    "data sheet",
    "Dynamic I.D./O.D. seal",
    "All Seals Inc.",
    year="undated",
    where="squeeze 12 to 18 %, fill 85 to 90 % static and 80 to 85 % dynamic",
    seen="read",
)
OVERFILL: Final = Source(
    "handbook",
    "O-Ring eHandbook",
    "Parker Hannifin",
    year="undated",
    where="Gland Overfill: 90 % at most, 95 with little swell and heat",
    seen="read",
)
SMALL_RINGS: Final = Source(
    "handbook",
    "General design and gland dimensions",
    "US Seal",
    year="undated",
    where="moving rings under 3.53 mm wear early",
    seen="read",
)
HOUSINGS: Final = Source(
    "data sheet",
    "O-Ring housing dimensions",
    "orings.co.uk",
    year="undated",
    seen="read; squeeze and fill computed from it",
)


@record
class GlandGiven:
    inside_diameter_mm: float = quantity(
        "mm", "Inside diameter of the ring", above=0, same_as="seals.inside_diameter_mm"
    )
    section_mm: float = quantity("mm", "Section of the ring", above=0, same_as="seals.section_mm")
    groove_depth_mm: float = quantity(
        "mm", "Depth of the groove, with the gap it closes", above=0, same_as="seals.groove_depth_mm"
    )
    groove_width_mm: float = quantity("mm", "Width of the groove", above=0, same_as="seals.groove_width_mm")
    seat_diameter_mm: float | None = quantity(
        "mm", "What the ring is stretched over: the groove's floor, or the shaft", default=None, above=0
    )
    duty: str = choice(DUTIES, "What the seal does")
    section_tolerance_mm: float | None = quantity(
        "mm", "Tolerance of the section either way; from ISO 3601-1 class B if left out", default=None, minimum=0
    )
    inside_diameter_tolerance_mm: float | None = quantity(
        "mm",
        "Tolerance of the inside diameter either way; from ISO 3601-1 class B if left out",
        default=None,
        minimum=0,
    )
    depth_tolerance_mm: float = quantity("mm", "Tolerance of the groove's depth either way", default=0.05, minimum=0)
    material: str = choice(
        vocabulary.RUBBERS, "Rubber, for its growth by heat", default="unknown", same_as="seals.material"
    )
    warming_k: float = quantity("K", "How much warmer it gets than when fitted", default=40, minimum=0, maximum=150)


@record
class GlandFound:
    squeeze_fraction: float = quantity("1", "Squeeze, as a share of the section")
    stretch_fraction: float | None = quantity("1", "Stretch of the ring over its seat")
    groove_fill_fraction: float = quantity("1", "Share of the groove that the ring fills")
    thinning_fraction: float | None = quantity("1", "How much thinner the stretch makes the section")
    squeeze_low_fraction: float = quantity("1", "Least squeeze within the tolerances")
    squeeze_high_fraction: float = quantity("1", "Most squeeze within the tolerances")
    fill_high_fraction: float = quantity("1", "Most fill within the tolerances")
    fill_hot_fraction: float | None = quantity("1", "Fill when warm, by the largest expansion known for the rubber")
    swell_room_fraction: float = quantity("1", "Swell by volume that would fill the groove")
    stretch_low_fraction: float | None = quantity("1", "Least stretch within the tolerances")
    stretch_high_fraction: float | None = quantity("1", "Most stretch within the tolerances")


def check_ring(given: object, inside_diameter_mm: float, section_mm: float) -> None:
    """Raise InputError for a section thicker than the bore; the thickest in the size list is as thick as its bore."""
    if section_mm > inside_diameter_mm + 1e-9:
        raise refuse(
            given,
            "section_mm",
            f"a section of {section_mm:g} mm is larger than a bore of {inside_diameter_mm:g} mm allows",
            remedy="Check whether bore and section are swapped, or the outside diameter is meant.",
        )


def check_groove(given: object, section_mm: float, groove_depth_mm: float, groove_width_mm: float) -> None:
    """Raise InputError for a groove that is smaller than the ring: rubber is pressed out of shape, not smaller."""
    if groove_fill_fraction(section_mm, groove_depth_mm, groove_width_mm) >= 1.0:
        least = pi / 4.0 * section_mm**2 / groove_width_mm
        raise refuse(
            given,
            "groove_depth_mm",
            f"a groove {groove_depth_mm:g} mm deep and {groove_width_mm:g} mm wide is shallower than a section of "
            f"{section_mm:.4g} mm allows: the rubber has nowhere to go",
            remedy=f"At this width it has to be deeper than {least:.2f} mm; measure depth and width again.",
        )


def gland(given: GlandGiven) -> GlandFound:
    """Squeeze, stretch and fill of a ring in its groove.

    stretch = (seat - d1) / d1; the stretched section d2' = d2 (1 - thinning) by the handbook's formula;
    squeeze = (d2' - h) / d2'; fill = (pi / 4 d2'^2) / (h b).
    """
    check_ring(given, given.inside_diameter_mm, given.section_mm)
    depth, width = given.groove_depth_mm, given.groove_width_mm
    stretch = None
    if given.seat_diameter_mm is not None:
        stretch = stretch_fraction(given.inside_diameter_mm, given.seat_diameter_mm)
        if stretch > LARGEST_STRETCH:
            raise refuse(
                given,
                "seat_diameter_mm",
                f"a bore of {given.inside_diameter_mm:g} mm over {given.seat_diameter_mm:g} mm is stretched by "
                f"{percent(stretch)}; the formula for its thinning ends at {percent(LARGEST_STRETCH)}",
                remedy="Take a larger ring, or measure the seat again.",
            )
    thinning = None if stretch is None else thinning_fraction(stretch)
    section = given.section_mm * (1.0 - (thinning or 0.0))
    check_groove(given, section, depth, width)
    worst = worst_of(given)
    if worst.thinnest_mm <= 0.0 or given.depth_tolerance_mm >= depth:
        name = "section_tolerance_mm" if worst.thinnest_mm <= 0.0 else "depth_tolerance_mm"
        raise refuse(given, name, "the tolerance is as large as the size itself", remedy="Give it in mm either way.")
    shallow, deep = depth - given.depth_tolerance_mm, depth + given.depth_tolerance_mm
    fill = groove_fill_fraction(section, depth, width)
    expansion = largest_expansion_per_k(given.material)
    return GlandFound(
        squeeze_fraction=squeeze_fraction(section, depth),
        stretch_fraction=stretch,
        groove_fill_fraction=fill,
        thinning_fraction=thinning,
        squeeze_low_fraction=squeeze_fraction(worst.thinnest_mm, deep),
        squeeze_high_fraction=squeeze_fraction(worst.thickest_mm, shallow),
        fill_high_fraction=groove_fill_fraction(worst.thickest_mm, shallow, width),
        fill_hot_fraction=None
        if expansion is None
        else fill * (1.0 + heat_growth_fraction(expansion, given.warming_k)),
        swell_room_fraction=1.0 / fill - 1.0,
        stretch_low_fraction=worst.least_stretch,
        stretch_high_fraction=worst.most_stretch,
    )


class Worst(NamedTuple):
    """A ring at the ends of its tolerances: its stretch over the seat, and its section once stretched, in mm."""

    least_stretch: float | None
    most_stretch: float | None
    thinnest_mm: float
    thickest_mm: float


def worst_of(given: GlandGiven) -> Worst:
    """The ring at the ends of its tolerances: a small bore stretches more, so the section gets thinner.

    The section's tolerance counts before it is thinned: (d2 - tolerance) (1 - most thinning), (d2 + tolerance)
    (1 - least thinning). Raises InputError for a tolerance as large as the bore.
    """
    off = given.section_tolerance_mm
    if off is None:
        off = section_tolerance_mm(given.section_mm) or 0.0
    thin, thick = given.section_mm - off, given.section_mm + off
    if given.seat_diameter_mm is None:
        return Worst(None, None, thin, thick)
    bore_off = bore_tolerance_mm(given)
    if bore_off >= given.inside_diameter_mm:
        raise refuse(
            given,
            "inside_diameter_tolerance_mm",
            f"a tolerance of {bore_off:.2f} mm is as large as the bore itself",
            remedy="Give it in mm either way.",
        )
    seat = given.seat_diameter_mm
    least = stretch_fraction(given.inside_diameter_mm + bore_off, seat)
    most = stretch_fraction(given.inside_diameter_mm - bore_off, seat)
    least_thinning, most_thinning = thinning_range(least, most)
    return Worst(least, most, thin * (1.0 - most_thinning), thick * (1.0 - least_thinning))


def bore_tolerance_mm(given: GlandGiven) -> float:
    """The tolerance of the inside diameter, in mm: as given, else that of ISO 3601-1 class B."""
    if given.inside_diameter_tolerance_mm is not None:
        return given.inside_diameter_tolerance_mm
    return inside_diameter_tolerance_mm(given.inside_diameter_mm)


def judge_gland(given: GlandGiven, found: GlandFound) -> Judgement:
    stops, cautions = [], []
    squeeze = found.squeeze_fraction
    low, high, most = _squeeze_limits(given)
    pressed = given.section_mm * (1 - (found.thinning_fraction or 0)) - given.groove_depth_mm
    summary = (
        f"squeezed {pressed:.2f} mm, {percent(squeeze, 1)} of its section; "
        f"fills {percent(found.groove_fill_fraction)} of the groove"
    )
    if squeeze <= 0:
        stops.append("the groove is as deep as the ring is thick: nothing presses it, it will not seal")
    elif squeeze < STATIC_SQUEEZE_LOW:
        stops.append(f"squeeze {percent(squeeze, 1)} is under the 10 % that a supplier's guide asks for")
    elif squeeze < low:
        cautions.append(f"squeeze {percent(squeeze, 1)} is under the 12 % of a guide for moving seals")
    elif squeeze > most:
        stops.append(
            f"squeeze {percent(squeeze, 1)} is over {percent(most)}, the most that any source read allows for this duty"
        )
    elif squeeze > high:
        cautions.append(
            f"squeeze {percent(squeeze, 1)} is over {percent(high)}; sources differ between that and {percent(most)}"
        )
    fill = found.groove_fill_fraction
    full = DYNAMIC_FILL if given.duty == "dynamic" else STATIC_FILL
    if fill > MOST_FILL:
        stops.append(f"fill {percent(fill)} is over 95 %: no room for swell or heat")
    elif fill > full:
        cautions.append(f"fill {percent(fill)} is over {percent(full)}: little room for swell and heat")
    stretch = found.stretch_fraction
    if stretch is not None and stretch > STRETCH_HIGH:
        cautions.append(f"stretched {percent(stretch, 1)}, over 5 %")
    verdict_findings = tuple(_gland_findings(given, found))
    if stops:
        return Judgement("stop", (*stops, summary, *cautions), verdict_findings)
    if cautions:
        return Judgement("caution", (*cautions, summary), verdict_findings)
    return Judgement("ok", (summary,), verdict_findings)


def _squeeze_limits(given: GlandGiven) -> tuple[float, float, float]:
    """Low, high (sources differ above), most; the handbook's 25 % for small sections is read as under 3.53 mm."""
    if given.duty != "dynamic":
        return STATIC_SQUEEZE_LOW, STATIC_SQUEEZE_HIGH, STATIC_SQUEEZE_MOST
    small = given.section_mm < WEAR_SECTION_MM
    return DYNAMIC_SQUEEZE_LOW, DYNAMIC_SQUEEZE_SMALL if small else DYNAMIC_SQUEEZE_HIGH, DYNAMIC_SQUEEZE_MOST


def _gland_findings(given: GlandGiven, found: GlandFound) -> Iterator[str]:
    if given.section_tolerance_mm is None and section_tolerance_mm(given.section_mm) is None:
        yield "no tolerance is known for so thick a section: low and high only include the groove's"
    high = _squeeze_limits(given)[1]
    if found.squeeze_high_fraction > high:
        yield f"at the worst tolerances it is squeezed {percent(found.squeeze_high_fraction, 1)}, over {percent(high)}"
    if found.squeeze_low_fraction < STATIC_SQUEEZE_LOW:
        yield f"at the worst tolerances it is squeezed {percent(found.squeeze_low_fraction, 1)} only"
    if found.fill_high_fraction > STATIC_FILL:
        yield f"at the worst tolerances it fills {percent(found.fill_high_fraction)} of the groove, over 90 %"
    if found.fill_hot_fraction is not None and found.fill_hot_fraction > MOST_FILL:
        yield f"{given.warming_k:g} K warmer it fills {percent(found.fill_hot_fraction)} of the groove"
    pressed = given.section_mm * (1 - (found.thinning_fraction or 0)) - given.groove_depth_mm
    if 0 < pressed < LEAST_SQUEEZE_MM:
        yield f"{pressed:.2f} mm of squeeze is under 0.2 mm (that limit: from memory, unverified)"
    yield from _stretch_findings(given, found)
    if given.duty == "dynamic" and given.section_mm < WEAR_SECTION_MM:
        yield "moving rings thinner than 3.53 mm wear early: count it as a wear part"
    caution = rubber_caution(given.material)
    if caution:
        yield caution
    yield from _housing_finding(given)


def _stretch_findings(given: GlandGiven, found: GlandFound) -> Iterator[str]:
    stretch, least, most = found.stretch_fraction, found.stretch_low_fraction, found.stretch_high_fraction
    if stretch is None or least is None or most is None:
        return
    whose = "class B" if given.inside_diameter_tolerance_mm is None else "your tolerance"
    bores = f"rings of this bore differ by {bore_tolerance_mm(given):.2f} mm either way ({whose})"
    if stretch < STRETCH_LOW:
        yield f"stretched {percent(stretch, 1)}, under 1 %: {bores}"
    if least < 0.0 <= stretch:
        yield f"the largest of these rings is loose on its seat by {percent(-least, 1)}: {bores}"
    if most > LARGEST_STRETCH:
        yield f"the smallest of these rings is stretched {percent(most)}, where no formula for its thinning was found"
    elif most > STRETCH_HIGH >= stretch:
        yield f"the smallest of these rings is stretched {percent(most, 1)}, over 5 %: {bores}"


def _housing_finding(given: GlandGiven) -> Iterator[str]:
    depth_name, width_name = {
        "static radial": ("radial_depth_static_mm", "radial_width_mm"),
        "static face": ("face_depth_mm", "face_width_mm"),
        "dynamic": ("radial_depth_dynamic_mm", "radial_width_mm"),
    }[given.duty]
    for row in rows("oring_housings.csv"):
        if abs(float(row["section_mm"]) - given.section_mm) > 0.005:
            continue
        if not row[depth_name]:
            yield "the housing table has no groove for so thin a moving ring"
        elif abs(float(row[depth_name]) - given.groove_depth_mm) > 0.05:
            yield (
                f"a housing table gives {row[depth_name]} mm deep and {row[width_name]} mm wide for this section "
                f"({given.duty})"
            )


def gland_working(given: GlandGiven, found: GlandFound) -> tuple[str, ...]:
    section = given.section_mm * (1 - (found.thinning_fraction or 0))
    worst = worst_of(given)
    lines = []
    if found.stretch_fraction is not None and found.thinning_fraction is not None:
        lines.append(
            f"stretch = (seat − d1) / d1 = ({given.seat_diameter_mm:g} − {given.inside_diameter_mm:g}) / "
            f"{given.inside_diameter_mm:g} = {found.stretch_fraction:.4f}"
        )
        lines.append(
            f"thinning by the handbook's formula {found.thinning_fraction:.4f}: d2' = {given.section_mm:g} mm × "
            f"(1 − {found.thinning_fraction:.4f}) = {section:.4f} mm"
        )
    lines += [
        f"squeeze = (d2' − h) / d2' = ({section:.4g} − {given.groove_depth_mm:g}) / {section:.4g} "
        f"= {found.squeeze_fraction:.4f}",
        f"fill = π/4 d2'² / (h b) = {pi / 4 * section**2:.4f} mm² / ({given.groove_depth_mm:g} × "
        f"{given.groove_width_mm:g}) mm² = {found.groove_fill_fraction:.4f}",
        f"low and high: depth {given.depth_tolerance_mm:g} mm either way against a stretched section of "
        f"{worst.thinnest_mm:.3f} to {worst.thickest_mm:.3f} mm; "
        f"room for swell = 1 / fill − 1 = {found.swell_room_fraction:.4f}",
    ]
    return tuple(lines)


GLAND = Calculator(
    name="gland",
    title="O-ring groove",
    question="Does this groove suit this ring?",
    purpose="squeeze, stretch and fill of an O-ring in its groove",
    version=2,
    given=GlandGiven,
    found=GlandFound,
    compute=gland,
    judge=judge_gland,
    working=gland_working,
    answer="squeeze_fraction",
    of="seal_fitting",
    card=OnCard(
        "seals",
        supplied=(Supplied("duty", "place", vocabulary.SHAFT_SEAL_PLACES, "dynamic", "it sits on a shaft"),),
        asks="never",
    ),
    valid=(
        "Sections up to 8.4 mm for the tolerances; stretch up to 25 %. Corners of the groove are left out.",
        "Low and high are a ring at the ends of its tolerances in a groove at the ends of its own, all at once: the "
        "section before stretch thins it, the bore through the stretch. The bore's tolerance is printed from 5 to "
        "640 mm; smaller ones are computed by the formula that fits it.",
        "The handbook's formula for thinning jumps by 0.19 points at a stretch of 3 %.",
        "The depth tolerance of 0.05 mm is assumed, not published; measure your own.",
        "A shaft that turns slowly is meant; nothing here is for pressure or speed.",
    ),
    sources=(
        SUPPLIER_GUIDE,
        SEAL_TECHNOLOGY,
        DYNAMIC_PAGE,
        OVERFILL,
        SMALL_RINGS,
        HOUSINGS,
        HANDBOOK_THINNING,
        CLASS_B,
    ),
    cautions=("knife",),
    worked=(
        Worked(
            {
                "inside_diameter_mm": "6.07",
                "section_mm": "1.78",
                "groove_depth_mm": "1.30",
                "groove_width_mm": "2.40",
                "duty": "static radial",
            },
            {"squeeze_fraction": 0.2697, "groove_fill_fraction": 0.7976, "swell_room_fraction": 0.2538},
            0.0001,
            HOUSINGS,
            "ok",
        ),
        Worked(
            {
                "inside_diameter_mm": "139.2936 mm",
                "section_mm": "3.5306 mm",
                "groove_depth_mm": "2.8194 mm",
                "groove_width_mm": "4.7498 mm",
                "seat_diameter_mm": "140.4112 mm",
                "duty": "static radial",
            },
            {"stretch_fraction": 0.008023, "squeeze_fraction": 0.19475, "groove_fill_fraction": 0.71897},
            0.00001,
            HANDBOOK_THINNING,
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (GLAND,)
