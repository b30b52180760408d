"""The reference tables that ship with the tool, so that pages can show them with their sources."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from bevelbook import DataSet, hookimpl
from bevelbook.reference import BUNDLED

TITLES: Final = {
    "silicone_grades": "Silicone fluids: density and expansion by grade",
    "viscosity_temperature": "Silicone fluids: viscosity against temperature",
    "silicone_thinning": "Silicone fluids: thick oils thin when sheared fast",
    "blend_examples": "Blends: published examples",
    "wall_factors": "Falling ball: wall factors",
    "oring_sizes": "O-rings: sizes by code",
    "oring_housings": "O-rings: grooves by section",
    "oring_limits": "O-rings: limits of squeeze, stretch, fill and swell",
    "oring_tolerances": "O-rings: tolerances",
    "rubber_in_silicone_oil": "Rubbers in silicone oil",
    "thermal_expansion": "Thermal expansion of rubbers, plastics and metals",
    "water_uptake": "Water that plastics take up from air",
    "specific_heats": "Specific heat of metals, plastics and silicone oil",
    "tightening_schemes": "Tightening: passes",
    "tightening_sequences": "Tightening: orders",
    "screw_breaking_torque": "Screws: breaking torque",
    "shim_rings": "Shim rings",
    "bevel_backlash": "Small bevel gears: backlash",
    "cautions": "Cautions of the work",
}


@hookimpl
def bevelbook_datasets() -> Iterable[DataSet]:
    return tuple(DataSet(name, title, BUNDLED, f"{name}.csv") for name, title in TITLES.items())
