"""The canonical columns of a flat note row, taken from the fields of the records that a row becomes."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.declare.fields import REQUIRED, Field, field_of
from bevelbook.records.building import Build
from bevelbook.records.parts import Diff, Fluid
from bevelbook.records.people import Person, Venue
from bevelbook.records.track import Run, RunDiff


def _column(owner: type[Any], source: str, name: str, about: str | None = None) -> Field:
    field = field_of(owner, source)
    default = REQUIRED if name in REQUIRED_COLUMNS else None
    return field._replace(name=name, about=about or field.about, default=default)


REQUIRED_COLUMNS: Final = ("date", "diff")

COLUMNS: Final[tuple[Field, ...]] = (
    _column(Build, "built_on", "date", "Day"),
    _column(Person, "name", "builder", "Who built it or wrote it down"),
    _column(Diff, "label", "diff"),
    _column(Build, "dry_mass_g", "dry_mass_g"),
    _column(Build, "oil_mass_g", "oil_mass_g"),
    _column(Build, "filled_mass_g", "total_mass_g", "Mass after oil, or weighed later"),
    _column(Build, "viscosity_cst", "viscosity_cst"),
    _column(Fluid, "label", "fluid", "Oil as its bottle names it"),
    _column(Venue, "name", "venue"),
    _column(RunDiff, "position", "position"),
    _column(Run, "grip", "grip"),
    _column(Run, "track_temp_c", "track_temp_c"),
    _column(Run, "air_temp_c", "air_temp_c"),
    _column(RunDiff, "diff_temp_c", "diff_temp_c"),
    _column(Run, "runs", "runs"),
    _column(Run, "call", "call"),
    _column(Run, "note", "result_note"),
)
BY_NAME: Final = {field.name: field for field in COLUMNS}
NAMES: Final = tuple(BY_NAME)
MASSES: Final = ("dry_mass_g", "oil_mass_g", "total_mass_g")

SYNONYMS: Final = {
    "dry": "dry_mass_g",
    "dry mass": "dry_mass_g",
    "oil mass": "oil_mass_g",
    "total": "total_mass_g",
    "total mass": "total_mass_g",
    "viscosity": "viscosity_cst",
    "track": "track_temp_c",
    "track temp": "track_temp_c",
    "air": "air_temp_c",
    "air temp": "air_temp_c",
    "diff temp": "diff_temp_c",
    "unit": "diff",
}
"""Headings in lower case with one blank between words, beside the canonical names. ``oil`` needs a mass unit."""

BESIDE: Final = ("line", "reason", "column")
"""The columns that the file of rejected rows carries beside the input's own."""
