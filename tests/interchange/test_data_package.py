"""The description of an export, checked by the frictionless library, which knows Data Package and Table Schema 2.0 and
nothing of this project.

Each test of the first three takes a second or two: the library loads slowly, and reads every row of every table.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from exported import Everything

from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.reading.units import ucum_of


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


def test_what_is_counted_stands_in_braces() -> None:
    """An annotation changes no unit (UCUM 2.1, section 2.1, rule on curly braces)."""
    assert [ucum_of(unit) for unit in ("runs", "g/run", "g/reading")] == ["{run}", "g/{run}", "g/{reading}"]
