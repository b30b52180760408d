"""The description of an export, checked by the frictionless library, which knows Data Package and Table Schema 2.0 and
nothing of this project; and the codes of units, against the tables of UCUM.

Each test of the first three takes a second or two: the library loads slowly, and reads every row of every table.
"""

from __future__ import annotations

import json
import re
import sqlite3
from contextlib import closing
from datetime import date
from functools import cache
from pathlib import Path
from typing import Any

import pint
import pytest
from exported import Everything

from bevelbook.declare.fields import UNIT_OF_SUFFIX, UNITS_WITHOUT_SUFFIX
from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.reading.units import QUANTITIES, ucum_of

ATOMS: dict[str, str] = {
    "g": "gram",
    "m": "meter",
    "s": "second",
    "K": "kelvin",
    "rad": "radian",
    "1": "dimensionless",
    "%": "percent",
    "N": "newton",
    "Pa": "pascal",
    "J": "joule",
    "W": "watt",
    "St": "centimeter**2/second",
    "Cel": "delta_degC",
    "deg": "degree",
    "min": "minute",
}
"""The Unified Code for Units of Measure (UCUM), version 2.1, 2017: its tables of units."""
PREFIXES: dict[str, float] = {"": 1.0, "k": 1e3, "c": 1e-2, "m": 1e-3}
"""The same, table of prefixes."""


def package_of(folder: Path) -> Any:
    from frictionless import Package

    return Package(str(folder / "datapackage.json"))


@pytest.mark.long
def test_an_export_is_a_valid_data_package_with_all_its_keys(everything: Everything) -> None:
    report = package_of(everything.folder).validate()
    assert report.valid, report.flatten(["path", "rowNumber", "fieldName", "type", "note"])[:5]
    assert report.stats["tasks"] == len(exported_tables())
    package = json.loads((everything.folder / "datapackage.json").read_bytes())
    keys = {
        (one["name"], key["fields"][0], key["reference"].get("resource", one["name"]))
        for one in package["resources"]
        for key in one["schema"].get("foreignKeys", ())
    }
    with closing(sqlite3.connect(everything.db)) as connection:
        declared = {
            (table.name, row[3], row[2])
            for table in exported_tables()
            for row in connection.execute(f"PRAGMA foreign_key_list({table.name})")
        }
    files = {("note_files", "sha256", "note_bytes"), ("pictures", "id", "picture_bytes")}
    assert keys == declared | files


@pytest.mark.long
def test_what_breaks_a_rule_is_found_by_the_description_alone(everything: Everything) -> None:
    """The description says the rules: a program that knows it alone finds each of these faults."""
    builds, fluids = everything.folder / "builds.csv", everything.folder / "fluids.csv"
    names = next(one.names for one in exported_tables() if one.name == "builds")
    lines = builds.read_text(encoding="utf-8").split("\n")
    for number, (column, value) in enumerate(
        (
            ("diff", "nobody"),
            ("built_on", "3 May"),
            ("dry_mass_g", "heavy"),
            ("dry_mass_g", "-5"),
            ("kind", "wheel"),
            ("label", ""),
            ("id", lines[9].split(",")[0]),
        ),
        start=1,
    ):
        cells = lines[number].split(",")
        cells[names.index(column)] = value
        lines[number] = ",".join(cells)
    builds.write_text("\n".join(lines), encoding="utf-8", newline="")
    fluids.write_text(fluids.read_text(encoding="utf-8").replace(",label,", ",name,"), encoding="utf-8", newline="")
    found = package_of(everything.folder).validate().flatten(["type", "fieldName", "rowNumber"])
    types = {(kind, field) for kind, field, _ in found}
    assert types >= {
        ("foreign-key", None),
        ("type-error", "built_on"),
        ("type-error", "dry_mass_g"),
        ("constraint-error", "dry_mass_g"),
        ("constraint-error", "kind"),
        ("constraint-error", "label"),
        ("primary-key", None),
        ("incorrect-label", "label"),
        ("hash-count", None),
    }


def test_values_are_read_with_their_types_by_the_description_alone(everything: Everything) -> None:
    with package_of(everything.folder).get_resource("builds") as resource:
        rows = {row["id"]: row for row in resource.row_stream}
    with closing(sqlite3.connect(everything.db)) as connection:
        connection.row_factory = sqlite3.Row
        held = connection.execute("SELECT * FROM builds").fetchall()
    assert len(rows) == len(held) > 30
    for one in held:
        row = rows[one["id"]]
        assert row["built_on"] == (one["built_on"] and date.fromisoformat(one["built_on"]))
        assert (row["label"], row["note_line"]) == (one["label"], one["note_line"])
        for name in ("oil_mass_g", "dry_mass_g", "viscosity_cst"):
            assert (row[name] is None) == (one[name] is None)
            assert row[name] is None or float(row[name]) == one[name]


def test_every_column_says_what_it_holds_and_in_which_unit(everything: Everything) -> None:
    package = json.loads((everything.folder / "datapackage.json").read_bytes())
    fields = {(one["name"], field["name"]): field for one in package["resources"] for field in one["schema"]["fields"]}
    assert all(field["title"] and field["description"] for field in fields.values())
    mass = fields["builds", "dry_mass_g"]
    assert (mass["unit"], mass["ucumCode"], mass["constraints"]) == ("g", "g", {"minimum": 0})
    assert fields["fluids", "expansion_per_k"]["constraints"] == {"exclusiveMinimum": 0, "exclusiveMaximum": 0.01}
    assert (fields["runs", "track_temp_c"]["unit"], fields["runs", "track_temp_c"]["ucumCode"]) == ("°C", "Cel")
    for table in exported_tables():
        for column in table.columns:
            if column.field is not None and column.field.unit is not None:
                assert fields[table.name, column.name]["ucumCode"] == ucum_of(column.field.unit)


@pytest.mark.parametrize("unit", [*dict.fromkeys((*UNIT_OF_SUFFIX.values(), *UNITS_WITHOUT_SUFFIX))])
def test_the_code_of_a_unit_means_the_unit(unit: str) -> None:
    """A difference of temperature is written in kelvin: a code of UCUM for degrees Celsius has a zero of its own."""
    registry = unit_registry()
    code = ucum_of(unit) or ""
    assert re.fullmatch(r"[!-~]+", code), "UCUM is written in ASCII, without blanks (2.1)"
    ours = registry.Quantity(
        1.0, QUANTITIES[unit].pint_name.replace("degC", "delta_degC").replace("delta_delta", "delta")
    )
    theirs = registry.Quantity(1.0, "dimensionless")
    sign = 1
    for piece in re.findall(r"\{[a-z]+\}|[./]|[^./{}]+", code):
        if piece in "./":
            sign = -1 if piece == "/" else 1
        elif not piece.startswith("{"):
            name, exponent = re.fullmatch(r"(%|1|[A-Za-z]+?)([0-9]*)", piece).groups()  # type: ignore[union-attr]
            theirs *= _atom(registry, name) ** (sign * int(exponent or 1))
    ratio = (ours / theirs).to("dimensionless").magnitude
    assert ratio == pytest.approx(1.0, abs=1e-12)


@cache
def unit_registry() -> Any:
    """Made once: it takes half a second."""
    return pint.UnitRegistry()


def _atom(registry: Any, name: str) -> Any:
    if name in ATOMS:
        return registry.Quantity(1.0, ATOMS[name])
    return registry.Quantity(PREFIXES[name[0]], ATOMS[name[1:]])


def test_what_is_counted_stands_in_braces() -> None:
    """An annotation changes no unit (UCUM 2.1, section 2.1, rule on curly braces)."""
    assert [ucum_of(unit) for unit in ("runs", "g/run", "g/reading")] == ["{run}", "g/{run}", "g/{reading}"]
