"""Builds, what is in them, what was weighed, and what was found when they were opened."""

from __future__ import annotations

from bevelbook.declare.fields import choice, date, quantity, record, reference, text, whole
from bevelbook.declare.vocabulary import (
    BASIS_ORIGINS,
    BORE_STATES,
    BUILD_KINDS,
    CROSS_PIN_STATES,
    FEELS,
    GEAR_STATES,
    MASS_BASES,
    SCREW_STATES,
    SEAL_PLACES,
    SEAL_STATES,
    SHAFT_STATES,
    SHIM_PLACES,
    SQUEEZE_OUT,
    VISCOSITY_ORIGINS,
    WET_PLACES,
    YES_NO,
)


@record
class Build:
    label: str = text("For people, such as rear-a/3")
    diff: str = reference("diff", "The diff that was filled", facet=True)
    built_on: str = date("Day of the build")
    kind: str | None = choice(BUILD_KINDS, "What was done", default=None, carried=True, facet=True)
    washed: str | None = choice(YES_NO, "Washed out before this fill", default=None)
    builder: str | None = reference("person", "Who built it", default=None, followed=False)
    like: str | None = reference("build", "The build it was made like", default=None, followed=False)
    tries: str | None = reference("idea", "The idea that it tries", default=None, followed=False)
    fluid: str | None = reference("fluid", "Oil by its label", default=None, carried=True, facet=True)
    bottle: str | None = reference("bottle", "The bottle it came from", default=None, carried=True)
    viscosity_cst: float | None = quantity(
        "cSt", "Viscosity at 25 °C", default=None, above=0, plausible=(50, 2_000_000), carried=True
    )
    viscosity_from: str | None = choice(
        VISCOSITY_ORIGINS, "Where that viscosity comes from", default=None, carried=True
    )
    dry_mass_g: float | None = quantity("g", "Mass before oil", default=None, minimum=0, plausible=(5, 100))
    target_oil_mass_g: float | None = quantity(
        "g", "Oil that was meant to go in", default=None, above=0, plausible=(0, 10), carried=True
    )
    oil_mass_g: float | None = quantity("g", "Oil put in", default=None, minimum=0, plausible=(0, 10))
    filled_mass_g: float | None = quantity("g", "Mass after oil", default=None, minimum=0, plausible=(5, 110))
    closed_mass_g: float | None = quantity(
        "g", "Mass when closed, outside wiped", default=None, minimum=0, plausible=(5, 150)
    )
    sister_mass_g: float | None = quantity(
        "g",
        "An empty housing of the same kind, weighed alongside: its change is water, not oil",
        default=None,
        above=0,
        plausible=(0.5, 100),
    )
    mass_basis: str | None = choice(
        MASS_BASES, "What was on the scale for dry and filled mass", default=None, carried=True
    )
    parts_on_pan: str | None = text("The parts on the scale, if that needs saying", default=None, carried=True)
    scale: str | None = reference("scale", "The scale", default=None, carried=True)
    squeeze_out: str | None = choice(SQUEEZE_OUT, "Oil that came out when the lid went on", default=None)
    degassing: str | None = text("How bubbles were drawn out", default=None, carried=True)
    grease: str | None = text("Grease, and where", default=None, carried=True)
    gasket: str | None = text("Gasket or sealant", default=None, carried=True)
    seals: str | None = text("What was written of the seals, in words", default=None)
    screw_torque_nm: float | None = quantity(
        "N·m", "Final torque of the lid's screws", default=None, above=0, below=10, carried=True
    )
    hand_feel: str | None = choice(FEELS, "How it turns by hand", default=None)
    against_last: str | None = choice(("thinner", "same", "thicker"), "By hand, against the last build", default=None)
    paper_wet_at: str | None = choice(WET_PLACES, "Where the paper under it was wet after it was closed", default=None)
    note: str | None = text("Anything else", default=None)
    day_order: int | None = whole("Place among the builds of its diff on that day, from 1", default=None, minimum=1)


@record
class BlendPart:
    build: str = reference("build", "The build it went into")
    fluid: str | None = reference("fluid", "Oil by its label", default=None, carried=True)
    bottle: str | None = reference("bottle", "The bottle it came from", default=None, carried=True)
    viscosity_cst: float = quantity("cSt", "Viscosity at 25 °C", above=0, plausible=(50, 2_000_000), carried=True)
    mass_g: float = quantity("g", "Mass in the blend", above=0, carried=True)


@record
class SealFitting:
    build: str = reference("build", "The build")
    place: str = choice(SEAL_PLACES, "Where it sits", carried=True, facet=True)
    seal: str | None = reference("seal", "The kind of seal", default=None, carried=True)
    condition: str | None = choice(("new", "used"), "New or used", default=None)
    measured_outside_diameter_mm: float | None = quantity("mm", "Outside diameter, measured", default=None, above=0)
    measured_inside_diameter_mm: float | None = quantity("mm", "Inside diameter, measured", default=None, above=0)
    measured_section_mm: float | None = quantity("mm", "Section, measured", default=None, above=0)
    state: str | None = choice(SEAL_STATES, "State", default=None, facet=True)
    note: str | None = text("Anything else", default=None, carried=True)


@record
class BuildPart:
    build: str = reference("build", "The build")
    part: str = choice(
        ("side gear", "small gear", "outdrive", "cross pin", "bearing", "gasket", "screw", "other"),
        "Part",
        carried=True,
        facet=True,
    )
    place: str | None = choice(("case side", "lid side", "both"), "Where it sits", default=None, carried=True)
    condition: str | None = choice(("new", "used", "turned over"), "New, used or turned over", default=None)
    mark: str | None = text("What marks this piece", default=None, carried=True)
    note: str | None = text("Anything else", default=None, carried=True)


@record
class BuildShim:
    build: str = reference("build", "The build")
    place: str = choice(SHIM_PLACES, "Where it sits", carried=True, facet=True)
    thickness_mm: float = quantity(
        "mm", "Thickness; negative for material taken away", minimum=-5, maximum=5, plausible=(-1, 2), carried=True
    )
    bore_mm: float | None = quantity("mm", "Bore", default=None, above=0, carried=True)
    outside_diameter_mm: float | None = quantity("mm", "Outside diameter", default=None, above=0, carried=True)
    pieces: int = whole("How many of them", default=1, minimum=1, maximum=20, carried=True)
    note: str | None = text("Anything else", default=None, carried=True)


@record
class Weighing:
    build: str = reference("build", "The build that was weighed")
    weighed_on: str | None = date("Day", default=None)
    mass_g: float = quantity("g", "Reading", minimum=0, plausible=(5, 150))
    sister_mass_g: float | None = quantity(
        "g",
        "An empty housing of the same kind, weighed alongside: its change is water, not oil",
        default=None,
        above=0,
        plausible=(0.5, 100),
    )
    mass_basis: str | None = choice(
        MASS_BASES, "What was on the scale; only equal ones are compared", default=None, facet=True
    )
    parts_on_pan: str | None = text("The parts on the scale, if that needs saying", default=None)
    scale: str | None = reference("scale", "The scale", default=None)
    runs: float | None = quantity("runs", "Runs since the build; summed when not given", default=None, minimum=0)
    person: str | None = reference("person", "Who weighed", default=None, followed=False)
    venue: str | None = reference("venue", "Where it was weighed", default=None, followed=False)
    wiped: str | None = choice(YES_NO, "Outside wiped before weighing", default=None)
    note: str | None = text("Anything else", default=None)
    basis_from: str | None = choice(
        BASIS_ORIGINS, "What in a note row said what was on the scale; empty: taken from the build", default=None
    )


@record
class Opening:
    build: str = reference("build", "The build that it ends")
    opened_on: str = date("Day")
    reason: str | None = choice(
        ("leak", "notchy", "oil change", "routine", "broke", "top-up"), "Why", default=None, facet=True
    )
    person: str | None = reference("person", "Who opened it", default=None, followed=False)
    closed_mass_g: float | None = quantity(
        "g", "Mass before opening, wiped", default=None, minimum=0, plausible=(5, 150)
    )
    sister_mass_g: float | None = quantity(
        "g",
        "An empty housing of the same kind, weighed alongside: its change is water, not oil",
        default=None,
        above=0,
        plausible=(0.5, 100),
    )
    scale: str | None = reference("scale", "The scale", default=None)
    leak_place: str | None = choice(
        (*WET_PLACES, "unknown"),
        "Where it was wet",
        default=None,
        facet=True,
    )
    leak_amount: str | None = choice(("dry", "damp", "drops", "empty"), "How wet", default=None)
    oil: str | None = choice(("clear", "grey", "black", "flakes"), "The oil", default=None)
    side_gears: str | None = choice(GEAR_STATES, "Side gears", default=None)
    small_gears: str | None = choice(GEAR_STATES, "Small gears", default=None)
    shafts: str | None = choice(SHAFT_STATES, "Shafts where the seals run", default=None)
    cross_pin: str | None = choice(CROSS_PIN_STATES, "Cross pin", default=None)
    bores: str | None = choice(BORE_STATES, "Bores for the shafts", default=None)
    seals: str | None = choice(SEAL_STATES, "Seals", default=None)
    screws: str | None = choice(SCREW_STATES, "Screws", default=None)
    note: str | None = text("Anything else", default=None)
