"""Diffs and what goes into them: fluids, bottles, seals."""

from __future__ import annotations

from bevelbook.declare.fields import choice, date, quantity, record, reference, text, whole
from bevelbook.declare.vocabulary import POSITIONS, RUBBERS, SCREW_HOLES, YES_NO


@record
class Diff:
    label: str = text("What is written on it, such as rear-a")
    mark: str | None = text("What marks the case: a scratch, dots of a paint pen", default=None)
    usual_position: str | None = choice(POSITIONS, "Where it usually runs", default=None)
    housing_material: str | None = text("What the housing is made of", default=None)
    housing_mass_g: float | None = quantity(
        "g", "Case and lid alone, without metal parts", default=None, above=0, plausible=(0.5, 50)
    )
    free_volume_cm3: float | None = quantity(
        "cm3", "Room for oil when closed", default=None, above=0, plausible=(0.3, 20)
    )
    free_volume_from: str | None = text("How the room was found", default=None)
    screw_count: int | None = whole("Screws that hold the lid", default=None, minimum=2, maximum=32)
    screw_size: str | None = text("Thread of the screws, such as M2 x 8", default=None)
    screw_hole: str | None = choice(SCREW_HOLES, "What the screws go into", default=None)
    shaft_diameter_mm: float | None = quantity("mm", "Output shaft where the seal runs", default=None, above=0)
    joint_seal: str | None = reference("seal", "Seal of the lid's joint", default=None, followed=False)
    shaft_seal: str | None = reference("seal", "Seals of the output shafts", default=None, followed=False)
    usual_dry_mass_g: float | None = quantity(
        "g", "Dry mass when nothing is missing, open half", default=None, above=0, plausible=(5, 100)
    )
    usual_lid_mass_g: float | None = quantity("g", "Lid with its screws and gear", default=None, above=0)
    note: str | None = text("Anything else", default=None)


@record
class Fluid:
    label: str = text("As on the bottle")
    medium: str = choice(("oil", "grease", "putty"), "What kind of stuff", default="oil")
    viscosity_cst: float | None = quantity(
        "cSt", "Viscosity at 25 °C; only with its source", default=None, above=0, plausible=(50, 2_000_000)
    )
    viscosity_source: str | None = text("Where that viscosity comes from", default=None)
    density_g_cm3: float | None = quantity("g/cm3", "Density at 25 °C", default=None, minimum=0.5, maximum=2)
    expansion_per_k: float | None = quantity("1/K", "Measured cubic expansion", default=None, above=0, below=0.01)
    note: str | None = text("Anything else", default=None)


@record
class Bottle:
    fluid: str = reference("fluid", "The fluid on its label")
    lot: str | None = text("Lot, or another mark of this bottle", default=None)
    opened_on: str | None = date("Day it was opened", default=None)
    viscosity_cst: float | None = quantity(
        "cSt", "Own measurement, brought to 25 °C", default=None, above=0, plausible=(50, 2_000_000)
    )
    viscosity_uncertainty_cst: float | None = quantity(
        "cSt", "Standard uncertainty of it (k = 1)", default=None, minimum=0
    )
    measured_on: str | None = date("Day of the measurement", default=None)
    method: str | None = text("How it was measured", default=None)
    density_g_cm3: float | None = quantity("g/cm3", "Own density at 25 °C", default=None, minimum=0.5, maximum=2)
    full_mass_g: float | None = quantity(
        "g", "Mass full, with its cap, before any was taken", default=None, above=0, plausible=(5, 2000)
    )
    empty_mass_g: float | None = quantity("g", "Mass empty, with its cap", default=None, above=0, plausible=(1, 500))
    empty: str | None = choice(YES_NO, "Used up", default=None)
    note: str | None = text("Anything else", default=None)


@record
class FluidComparison:
    thicker: str = reference("bottle", "The thicker one")
    thinner: str = reference("bottle", "The thinner one")
    ratio: float | None = quantity("1", "Viscosity of the thicker over the thinner", default=None, minimum=1)
    temperature_c: float | None = quantity("°C", "Temperature of both", default=None, minimum=-50, maximum=150)
    compared_on: str | None = date("Day of the test", default=None)
    note: str | None = text("How it was done", default=None)


@record
class Seal:
    label: str = text("What the team calls it")
    form: str = choice(
        ("O-ring", "four-lobed ring", "lip seal", "paper", "sealant"), "What kind of seal", default="O-ring"
    )
    inside_diameter_mm: float | None = quantity("mm", "Inside diameter when new", default=None, above=0, below=200)
    section_mm: float | None = quantity("mm", "Section (cord) when new", default=None, above=0, below=20)
    outside_diameter_mm: float | None = quantity("mm", "Outside diameter when new", default=None, above=0, below=240)
    material: str = choice(RUBBERS, "Material", default="unknown")
    hardness: int | None = whole("Shore A", default=None, minimum=10, maximum=100)
    groove_depth_mm: float | None = quantity("mm", "Depth of its groove", default=None, above=0, below=20)
    groove_width_mm: float | None = quantity("mm", "Width of its groove", default=None, above=0, below=40)
    note: str | None = text("Anything else", default=None)
