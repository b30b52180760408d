"""Which shims give the right float: ``shims``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import lru_cache
from math import radians, sin, tan
from typing import Any, Final, NamedTuple

from bevelbook import (
    Calculator,
    CardLine,
    Judgement,
    Named,
    OnCard,
    OneOf,
    Sentence,
    Source,
    Worked,
    choice,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
    text,
    vocabulary,
    whole,
)
from bevelbook.reference import rows
from bevelbook_plugins.rubbers import largest_expansion_per_k

GEAR_STEEL: Final = "carbon steel"
TICKS_PER_MM: Final = 10_000
MOST_SUMS: Final = 100_000
FAR_MM: Final = 0.05

SHIM_RINGS: Final = Source(
    "standard",
    "988, shim rings and supporting rings",
    "DIN",
    "1990",
    "p. 1",
    "read: page 1; thickness steps and tolerances from memory, unverified",
)
STACK: Final = Source(
    "computed", "float after = float without shims - stack; nearest to the target, then fewest pieces"
)
BACKLASH: Final = Source(
    "computed",
    "backlash at the pitch circle by axial travel, 2 dx tan(alpha) sin(delta)",
    seen="worked out here from the geometry",
)
BACKLASH_TABLE: Final = Source(
    "data sheet",
    "AGMA recommended backlash for bevel and hypoid gears",
    "engineersedge.com",
    year="undated",
    where="module 0.51 to 1.27: 0 to 0.051 mm",
    seen="read in inches; the source standard is not named there",
)
EXPANSION: Final = Source(
    "handbook",
    "Plastics Engineering",
    "Butterworth-Heinemann",
    year="undated",
    where="Table 1.8, p. 31",
    seen="read; the other value for PA66 is from Fundamentals of Materials Science and Engineering, Table B.6",
)
PERCEPTIBLE_PLAY: Final = Source("common practice", "free turning with just perceptible play is the float to aim for")
FAR_RULE: Final = Source("proposal", "more than 0.05 mm off the target needs other shims")


@record
class Size:
    thickness_mm: float = quantity(
        "mm", "Thickness; negative for a thicker gasket or material taken away", minimum=-5, maximum=5
    )
    count: int = whole("How many are at hand", default=1, minimum=1, maximum=100)
    tolerance_mm: float | None = quantity(
        "mm", "How far off it may be, either way; the listed one for shim rings if left out", default=None, minimum=0
    )


@record
class ShimGiven:
    float_mm: float | None = quantity("mm", "Float without any shims", default=None, minimum=0)
    width_pulled_mm: float | None = quantity(
        "mm", "Width with the shafts pulled out, without any shims", default=None, above=0
    )
    width_pushed_mm: float | None = quantity(
        "mm", "Width with the shafts pushed in, without any shims", default=None, above=0
    )
    target_float_mm: float = quantity("mm", "Float wanted", minimum=0)
    place: str | None = choice(vocabulary.SHIM_PLACES, "Where the shims go", default=None)
    sizes: tuple[Size, ...] = listing(Size, "Shims at hand", singular="size")
    pieces_max: int | None = whole("Most pieces in the stack", default=None, minimum=1)
    pressure_angle_deg: float = quantity("deg", "Pressure angle of the gears", default=20, above=0, below=45)
    cone_angle_deg: float = quantity(
        "deg",
        "Pitch cone angle of the gear that is moved: 45 for two equal gears, else atan(its teeth / the other's)",
        default=45,
        above=0,
        below=90,
    )
    reading_step_mm: float = quantity(
        "mm", "How far off a reading of the width or float may be", default=0.01, minimum=0
    )
    span_mm: float | None = quantity(
        "mm", "Length of housing between the seats of the gears, for the float when hot", default=None, above=0
    )
    housing_material: str = text(
        "What the housing is made of, such as POM copolymer", default="unknown", same_as="diffs.housing_material"
    )
    warming_k: float = quantity("K", "How much warmer it gets than when measured", default=40, minimum=0, maximum=150)


@record
class Piece:
    thickness_mm: float = quantity("mm", "Thickness")
    pieces: int = whole("Pieces of it")


@record
class ShimFound:
    float_after_mm: float = quantity("mm", "Float with the stack in")
    backlash_change_mm: float = quantity(
        "mm", "Change of backlash with the whole stack behind one gear; negative is less"
    )
    float_before_mm: float = quantity("mm", "Float without shims")
    stack_thickness_mm: float = quantity("mm", "Thickness of the stack")
    pieces: int = whole("Pieces in the stack")
    float_low_mm: float = quantity("mm", "Least float, all tolerances against you; negative binds", exact=True)
    float_high_mm: float = quantity("mm", "Most float, all tolerances against you", exact=True)
    float_hot_mm: float | None = quantity("mm", "Float when warm, by the growth of the housing")
    stack: tuple[Piece, ...] = listing(Piece, "Shims to fit")


class _Best(NamedTuple):
    """The best way to one sum: fewest pieces, then a preference among equal counts, then how many of each size."""

    pieces: int
    preference: tuple[int, ...]
    counts: tuple[int, ...]


def choose(
    float_mm: float, target_float_mm: float, sizes: tuple[tuple[float, int], ...], pieces_max: int | None = None
) -> tuple[int, ...]:
    """How many of each size to fit, in the order of ``sizes``: every reachable sum is tried.

    Nearest to the target; ties: fewest pieces, then more float, then the thicker pieces. No stack thicker than the
    float. Thicknesses count to 0.0001 mm. ``sizes`` are pairs of thickness in mm, positive or negative, and count.
    Raises InputError past 100,000 reachable sums.

    Source: definition.

    >>> choose(0.42, 0.10, ((0.1, 1), (0.15, 1), (0.2, 1), (0.3, 1), (0.5, 1), (1.0, 1)))
    (0, 0, 0, 1, 0, 0)
    """
    room = round(float_mm * TICKS_PER_MM)
    need = room - round(target_float_mm * TICKS_PER_MM)
    most = sum(count for _, count in sizes) if pieces_max is None else pieces_max
    return _chosen(room, need, sizes, most)


@lru_cache(256)
def _chosen(room: int, need: int, sizes: tuple[tuple[float, int], ...], most: int) -> tuple[int, ...]:
    """The same in whole steps, kept: an uncertainty asks again and again for floats that are the same to the step."""
    negative_first = sorted(range(len(sizes)), key=lambda one: (sizes[one][0] > 0, -abs(sizes[one][0])))
    reached = {0: _Best(0, (), ())}
    for place in negative_first:
        reached = _with(reached, *sizes[place], most, room)
    best = min(
        (total for total in reached if total <= room),
        key=lambda total: (abs(total - need), reached[total].pieces, total),
    )
    counts = dict(zip(negative_first, reached[best].counts, strict=True))
    return tuple(counts[place] for place in range(len(sizes)))


def _with(reached: dict[int, _Best], thickness_mm: float, count: int, most: int, room: int) -> dict[int, _Best]:
    ticks = round(thickness_mm * TICKS_PER_MM)
    grown: dict[int, _Best] = {}
    for total, way in reached.items():
        for more in range(min(count, most - way.pieces) + 1):
            found = total + more * ticks
            if ticks > 0 and found > room:
                break
            liked = more if ticks > 0 else -more
            new = _Best(way.pieces + more, (*way.preference, liked), (*way.counts, more))
            old = grown.get(found)
            if old is None or (new.pieces, [-one for one in new.preference]) < (
                old.pieces,
                [-one for one in old.preference],
            ):
                grown[found] = new
        if len(grown) > MOST_SUMS:
            raise refuse(
                ShimGiven,
                "sizes",
                "these shims can be stacked in too many ways to try all",
                remedy=Sentence("Leave out sizes, or give ", Named("pieces_max"), "."),
                code="too_many_combinations",
            )
    return grown


def shim(given: ShimGiven) -> ShimFound:
    """Stack nearest to the float wanted, and what it does.

    float after = float without shims - stack. Worst case: all thickness tolerances and the reading's error add up.
    Backlash: -2 dx tan(alpha) sin(delta), dx the stack. Hot: + (housing - steel expansion) x span x warming.
    """
    before, error = _float(given)
    if not given.sizes:
        raise refuse(
            given,
            "sizes",
            "no shim thicknesses are given",
            remedy=Sentence("Give what is at hand: ", Named("sizes", "0.2:4"), "."),
            code="missing_input",
        )
    if any(abs(one.thickness_mm) * TICKS_PER_MM < 0.5 for one in given.sizes):
        raise refuse(given, "sizes", "a shim has no thickness", remedy="Leave out sizes of 0 mm.")
    counts = choose(
        before,
        given.target_float_mm,
        tuple((one.thickness_mm, one.count) for one in given.sizes),
        given.pieces_max,
    )
    fitted = [(one, count) for one, count in zip(given.sizes, counts, strict=True) if count]
    thickness = sum(one.thickness_mm * count for one, count in fitted)
    thinner = sum(_tolerances_mm(one, given.reading_step_mm)[0] * count for one, count in fitted)
    thicker = sum(_tolerances_mm(one, given.reading_step_mm)[1] * count for one, count in fitted)
    after = before - thickness
    angle = tan(radians(given.pressure_angle_deg)) * sin(radians(given.cone_angle_deg))
    return ShimFound(
        float_after_mm=after,
        backlash_change_mm=-2.0 * thickness * angle,
        float_before_mm=before,
        stack_thickness_mm=thickness,
        pieces=sum(counts),
        float_low_mm=after - thicker - error,
        float_high_mm=after + thinner + error,
        float_hot_mm=_hot_mm(given, after),
        stack=tuple(
            Piece(thickness_mm=one.thickness_mm, pieces=count)
            for one, count in sorted(fitted, key=lambda pair: -pair[0].thickness_mm)
        ),
    )


def _float(given: ShimGiven) -> tuple[float, float]:
    """Float without shims and the bound of its error, in mm."""
    if given.float_mm is not None:
        if given.float_mm < 0:
            raise refuse(
                given,
                "float_mm",
                f"a float of {given.float_mm:g} mm is negative: the gears are pressed together without shims",
                remedy="Measure again; if it binds, take material away or fit a thicker gasket before shimming.",
            )
        return given.float_mm, given.reading_step_mm
    pulled, pushed = given.width_pulled_mm, given.width_pushed_mm
    if pulled is None or pushed is None:
        raise refuse(
            given,
            "float_mm",
            "the float is not known",
            remedy=Sentence(
                "Give ", Named("float_mm"), ", or ", Named("width_pulled_mm"), " with ", Named("width_pushed_mm"), "."
            ),
            code="missing_input",
        )
    if pulled < pushed:
        raise refuse(
            given,
            "width_pulled_mm",
            f"the width pulled out ({pulled:g} mm) is less than pushed in ({pushed:g} mm): the float would be negative",
            remedy="Check whether the two are swapped, and measure both at the same spot.",
        )
    return pulled - pushed, 2.0 * given.reading_step_mm


def _tolerances_mm(size: Size, reading_step_mm: float) -> tuple[float, float]:
    """How much thinner and how much thicker a piece may be, in mm."""
    if size.tolerance_mm is not None:
        return size.tolerance_mm, size.tolerance_mm
    for row in rows("shim_rings.csv"):
        if abs(float(row["thickness_mm"]) - size.thickness_mm) < 1e-6:
            return -float(row["tolerance_lower_mm"]), float(row["tolerance_upper_mm"])
    return reading_step_mm, reading_step_mm


def _hot_mm(given: ShimGiven, after_mm: float) -> float | None:
    housing = largest_expansion_per_k(given.housing_material)
    steel = largest_expansion_per_k(GEAR_STEEL)
    if given.span_mm is None or housing is None or steel is None:
        return None
    return after_mm + heat_float_mm(given.span_mm, housing, steel, given.warming_k)


def heat_float_mm(span_mm: float, housing_per_k: float, gear_per_k: float, warming_k: float) -> float:
    """How much the float grows by heat, in mm: (housing - gear expansion) x span x warming.

    Source: definition of linear expansion; coefficients in the table of thermal expansion.

    >>> heat_float_mm(40.0, 95e-6, 12e-6, 40.0)
    0.133
    """
    return (housing_per_k - gear_per_k) * span_mm * warming_k


def judge_shim(given: ShimGiven, found: ShimFound) -> Judgement:
    where = f" {given.place}" if given.place else ""
    if found.stack:
        fit = " and ".join(f"{one.pieces} of {one.thickness_mm:g} mm" for one in found.stack)
        summary = f"fit {fit}{where}: float {found.float_after_mm:.2f} mm, wanted {given.target_float_mm:.2f} mm"
    else:
        summary = f"fit nothing{where}: float {found.float_after_mm:.2f} mm, wanted {given.target_float_mm:.2f} mm"
    span = f"between {found.float_low_mm:.2f} and {found.float_high_mm:.2f} mm if all tolerances add up"
    findings = tuple(_shim_findings(given, found))
    short = given.target_float_mm - found.float_before_mm
    if found.float_low_mm < -1e-9:
        return Judgement(
            "unclear", (summary, f"{span}: unclear whether it binds; turn it by hand before closing"), findings
        )
    off = found.float_after_mm - given.target_float_mm
    if short > 1e-9 and off < -1e-9:
        room = f"{-off:.2f} mm more room is needed: a thicker gasket, or material taken away"
        return Judgement("caution", (room, summary, span), findings)
    if abs(off) > FAR_MM + 1e-9:
        far = f"{abs(off):.2f} mm off with these shims; over {FAR_MM:g} mm get others (our own figure)"
        return Judgement("caution", (far, summary, span), findings)
    return Judgement("ok", (summary, span), findings)


def _shim_findings(given: ShimGiven, found: ShimFound) -> Iterator[str]:
    if given.width_pulled_mm is not None and given.float_mm is None:
        yield "widths over both shafts give the float of both sides together: move one shaft at a time"
    listed = {float(row["thickness_mm"]) for row in rows("shim_rings.csv")}
    if any(one.tolerance_mm is None and one.thickness_mm in listed for one in given.sizes):
        yield "tolerances of listed shim rings are from memory, unverified: measure the stack"
    if found.stack:
        less = "less" if found.backlash_change_mm < 0 else "more"
        yield (
            f"all of it behind one gear makes the backlash {abs(found.backlash_change_mm):.2f} mm {less}: if it feels "
            "tight, put it on the other side; it must spin freely"
        )
    if given.span_mm is not None and found.float_hot_mm is None:
        yield f"no growth by heat is known for a housing of {given.housing_material}: the float when hot is left out"
    if found.float_hot_mm is not None and found.float_hot_mm - found.float_after_mm > FAR_MM:
        yield (
            f"{given.warming_k:g} K warmer the float is {found.float_hot_mm:.2f} mm: the housing grows more than the "
            "gears"
        )


def shim_working(given: ShimGiven, found: ShimFound) -> tuple[str, ...]:
    lines = []
    if given.float_mm is None:
        lines.append(
            f"float = pulled − pushed = {given.width_pulled_mm} mm − {given.width_pushed_mm} mm "
            f"= {found.float_before_mm:.3f} mm"
        )
    pieces = " + ".join(f"{one.pieces} × {one.thickness_mm:g}" for one in found.stack) or "0"
    row = next(row for row in rows("bevel_backlash.csv") if row["module_low_mm"] == "0.508")
    lines += [
        f"float after = float − stack = {found.float_before_mm:.3f} mm − ({pieces}) mm = {found.float_after_mm:.3f} mm",
        f"backlash −2 dx tan(α) sin(δ) = −2 × {found.stack_thickness_mm:.3f} mm × tan({given.pressure_angle_deg:g}°) × "
        f"sin({given.cone_angle_deg:g}°) = {found.backlash_change_mm:.4f} mm",
        f"backlash of a new pair by a table: {float(row['backlash_low_mm']):g} to {row['backlash_high_mm']} mm for "
        "module 0.51 to 1.27",
    ]
    if found.float_hot_mm is not None:
        lines.append(
            f"hot: + (housing − steel) × span × warming = {found.float_hot_mm:.3f} mm with {given.span_mm:g} mm of "
            f"{given.housing_material} and {given.warming_k:g} K"
        )
    return tuple(lines)


AT_HAND: Final = ["0.1", "0.15", "0.2", "0.3", "0.5", "1.0"]

SHIMS: Final = Calculator(
    name="shims",
    title="Shims",
    question="Which shims do I put in?",
    purpose="shims for a float, from what is at hand",
    version=1,
    given=ShimGiven,
    found=ShimFound,
    compute=shim,
    judge=judge_shim,
    working=shim_working,
    answer="float_after_mm",
    card=OnCard("shim stack", asks="never", instead=(CardLine("Float without shims", unit="mm"),)),
    one_of=(OneOf((("float_mm",), ("width_pulled_mm", "width_pushed_mm")), exclusive=True),),
    valid=(
        "Exact: every sum of the pieces at hand is tried, to 0.0001 mm. Ties: fewest pieces, then more float.",
        "No stack is thicker than the float. A thicker gasket or material taken away counts as a negative thickness.",
        "No source gives the right float for gears this small; free turning with just perceptible play "
        "is common practice, no source.",
        "Backlash: one gear moved along its axis, the whole stack behind it.",
        "Hot: a housing of the given span grows against steel gears; glass-filled nylon along its flow only.",
    ),
    sources=(STACK, SHIM_RINGS, BACKLASH, BACKLASH_TABLE, EXPANSION, PERCEPTIBLE_PLAY, FAR_RULE),
    cautions=("knife",),
    worked=(
        Worked(
            {"float_mm": "0.42 mm", "target_float_mm": "0.10 mm", "sizes": AT_HAND},
            {"float_after_mm": 0.12, "stack_thickness_mm": 0.30, "pieces": 1},
            1e-9,
            Source(
                "computed", "hand calculation: 0.30 leaves 0.12, 0.35 leaves 0.07; of 0.30 and 0.1 + 0.2 the one piece"
            ),
            "ok",
        ),
        Worked(
            {"float_mm": "0.63 mm", "target_float_mm": "0.10 mm", "sizes": AT_HAND, "pieces_max": "3"},
            {"float_after_mm": 0.08, "stack_thickness_mm": 0.55},
            1e-9,
            Source("computed", "hand calculation: 0.1 + 0.15 + 0.3 = 0.55 leaves 0.08; 0.50 leaves 0.13"),
            "ok",
        ),
        Worked(
            {"float_mm": "0.2 mm", "target_float_mm": "0.1 mm", "sizes": ["0.1"]},
            {"float_after_mm": 0.1, "backlash_change_mm": -0.0515},
            0.00005,
            BACKLASH,
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (SHIMS,)
