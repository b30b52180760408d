"""How much the drag of the oil heats a diff, at most: ``drag-heat``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Final

from bevelbook import Calculator, Judgement, OneOf, Source, Worked, choice, hookimpl, listing, quantity, record
from bevelbook.formulas.percent import percent
from bevelbook.formulas.rounded_up import rounded_up
from bevelbook.physics.density import REFERENCE_C
from bevelbook.physics.drag_heat import ENERGY_BALANCE, drag_heat_w, rise_without_losses_k
from bevelbook.physics.viscosity import VISCOSITY_LAW, viscosity_ratio
from bevelbook.reference import citations, rows

MATERIALS: Final = {
    "steel": "steel",
    "aluminium": "aluminium",
    "brass": "brass",
    "acetal": "POM homopolymer",
    "nylon": "PA66",
    "glass-filled nylon": "PA66 33% glass",
    "silicone oil": "silicone oil",
}
"""What a part is made of, and its row of the table of specific heats."""
BEYOND_C: Final = 200.0
"""A rise from which the bound is beyond what any oil in a diff takes, so no figure is worth a word; our own
figure."""
FAR_C: Final = 20.0
"""A rise from which the bound is far too high, since the oil thins on the way; our own figure."""
ROUGH: Final = Source(
    "proposal",
    "over 20 °C the bound counts as far too high, since the oil is a third thinner by then; over 200 °C as beyond "
    "sense",
)
CONSTRUCTED: Final = Source(
    "computed",
    "constructed: 0.0051 N·m·s × (15 rad/s)² = 1.1475 W; × 300 s / 8 J/K = 43.03 K, 0.143 K each second",
)
CONSTRUCTED_PARTS: Final = Source(
    "computed",
    "constructed: 10 g × 0.49 + 6 g × 1.5 + 1.5 g × 1.5 = 16.15 J/K; 0.002 × 10² × 300 / 16.15 = 3.715 K",
)


@record
class HeatedPart:
    mass_g: float = quantity("g", "Mass of what warms with the oil", above=0, plausible=(0.1, 500), example="10")
    material: str = choice(tuple(MATERIALS), "What it is made of")


@record
class HeatGiven:
    damping_nm_s: float = quantity(
        "N·m·s", "Damping of the diff, as bench-drag gives it", above=0, same_as="results.damping_nm_s"
    )
    speed_difference_rad_s: float = quantity(
        "rad/s",
        "Speed difference of the two outputs over the run, root mean square; takes rpm too",
        minimum=0,
        plausible=(0, 300),
    )
    run_time_s: float = quantity("s", "How long the run lasts", above=0, plausible=(30, 7200))
    heat_capacity_j_k: float | None = quantity(
        "J/K", "What warms: the sum of mass × specific heat, in place of its parts", default=None, above=0
    )
    parts: tuple[HeatedPart, ...] = listing(HeatedPart, "What warms, part by part", default=(), singular="part")


@record
class HeatFound:
    heat_w: float = quantity("W", "Heat from the drag, at most", digits=1)
    rise_k: float = quantity("K", "How much warmer the run makes it, at most: as if no heat left it", digits=0)
    rise_each_minute_k: float = quantity("K", "The same for each minute", digits=1)
    warmed_j_k: float = quantity("J/K", "Heat capacity of what warms", heading="heat capacity", digits=1)


def heat_capacity_j_k(given: HeatGiven) -> float:
    """The heat capacity that was given, else that of the parts, in J/K."""
    if given.heat_capacity_j_k is not None:
        return given.heat_capacity_j_k
    table = {row["material"]: float(row["specific_heat_j_per_g_k"]) for row in rows("specific_heats.csv")}
    return sum(part.mass_g * table[MATERIALS[part.material]] for part in given.parts)


def drag_heat(given: HeatGiven) -> HeatFound:
    """Heat P = c w^2, and the rise P t / C if none of it leaves: upper bounds both."""
    heat, capacity = drag_heat_w(given.damping_nm_s, given.speed_difference_rad_s), heat_capacity_j_k(given)
    return HeatFound(
        heat_w=heat,
        rise_k=rise_without_losses_k(heat, given.run_time_s, capacity),
        rise_each_minute_k=rise_without_losses_k(heat, 60.0, capacity),
        warmed_j_k=capacity,
    )


def judge_heat(given: HeatGiven, found: HeatFound) -> Judgement:
    minutes = f"{given.run_time_s / 60.0:.3g} min"
    heat = f"at most {rounded_up(found.heat_w)} W"
    said = (
        f"{heat}: no more than {rounded_up(found.rise_k)} °C warmer in {minutes}, as if no heat left it and the oil "
        "stayed as thick"
    )
    findings = [
        "the bench test turns slowly: thick oil also thins when sheared fast, so a thick diff heats less than this"
    ]
    if given.heat_capacity_j_k is not None and given.parts:
        findings.append("the heat capacity was given, so the parts do not count")
    if found.rise_k <= FAR_C:
        return Judgement("ok", (said,), tuple(findings))
    if found.rise_k > BEYOND_C:
        beyond = (
            f"{heat} while the oil is as thick as on the bench; over {minutes} the sums break off, beyond "
            f"{BEYOND_C:g} °C warmer: long before that the oil thins and the heat leaves"
        )
        advice = (
            "it says nothing of this run: check the speed difference, the root mean square of the whole run and not "
            "its peak, and the time"
        )
        return Judgement("caution", (beyond, advice), tuple(findings))
    return Judgement("caution", (said, f"the truth is well below that: {_thinned(found.rise_k)}"), tuple(findings))


def _thinned(rise_k: float) -> str:
    left = percent(viscosity_ratio(REFERENCE_C + rise_k))
    return (
        f"{rounded_up(rise_k)} °C warmer the oil has only {left} of its viscosity and the drag as little, and heat "
        "leaves all the time"
    )


def heat_working(given: HeatGiven, found: HeatFound) -> tuple[str, ...]:
    lines = [
        f"P = c Δω² = {given.damping_nm_s:g} N·m·s × ({given.speed_difference_rad_s:.4g} rad/s)² = {found.heat_w:.4g} W"
    ]
    if given.heat_capacity_j_k is None:
        table = {row["material"]: row["specific_heat_j_per_g_k"] for row in rows("specific_heats.csv")}
        shown = " + ".join(f"{one.mass_g:g} g × {table[MATERIALS[one.material]]} J/(g·K)" for one in given.parts)
        lines.append(f"C = {shown} = {found.warmed_j_k:.4g} J/K")
    lines.append(
        f"rise = P t / C = {found.heat_w:.4g} W × {given.run_time_s:g} s / {found.warmed_j_k:.4g} J/K "
        f"= {found.rise_k:.4g} K"
    )
    return tuple(lines)


DRAG_HEAT: Final = Calculator(
    name="drag-heat",
    title="Heat from drag",
    question="How warm can the drag of its oil make this diff?",
    purpose="upper bound of heat and warming from the drag of the oil",
    version=1,
    given=HeatGiven,
    found=HeatFound,
    compute=drag_heat,
    judge=judge_heat,
    working=heat_working,
    answer="rise_k",
    one_of=(OneOf((("heat_capacity_j_k",), ("parts",))),),
    valid=(
        "Upper bounds: the damping is that of the cold, slow bench test, and no heat leaves.",
        "The speed difference is the root mean square over the run: long straights make it small, one spinning wheel "
        "large. One turn a second is 6.28 rad/s.",
        "Heat capacity: weigh gears, pins, housing and oil, and multiply by the specific heat, in J/(g·K): steel 0.49, "
        "aluminium 0.90, acetal 1.5, nylon 1.7 (1.6 with glass), read in handbooks; silicone oil 1.5, from memory. The "
        "gears that it meshes with and the shafts take heat too and are left out, which keeps it an upper bound.",
        "It leaves out the heat of the gear mesh, bearings and a motor beside it: it bounds what the oil's drag adds, "
        "not the diff's temperature.",
    ),
    sources=(
        ENERGY_BALANCE,
        VISCOSITY_LAW,
        ROUGH,
        *(
            citations()[key]
            for key in ("specific-heats-plastics", "specific-heats-metals", "specific-heat-silicone-oil")
        ),
    ),
    cautions=("hot-parts",),
    worked=(
        Worked(
            {
                "damping_nm_s": "0.0051",
                "speed_difference_rad_s": "15",
                "run_time_s": "5 min",
                "heat_capacity_j_k": "8",
            },
            {"heat_w": 1.1475, "rise_k": 43.03},
            0.005,
            CONSTRUCTED,
            "caution",
        ),
        Worked(
            {
                "damping_nm_s": "0.002",
                "speed_difference_rad_s": "10",
                "run_time_s": "300",
                "parts": ["10:steel", "6:acetal", "1.5:silicone oil"],
            },
            {"heat_w": 0.2, "rise_k": 3.715, "warmed_j_k": 16.15},
            0.001,
            CONSTRUCTED_PARTS,
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (DRAG_HEAT,)
