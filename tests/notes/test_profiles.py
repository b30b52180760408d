"""Profiles: a team's own headings, units and words, checked before anything is read."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bevelbook.declare.errors import InputError
from bevelbook.notes.headings import matched
from bevelbook.notes.profiles import profile_from
from bevelbook.notes.settings import Settings
from bevelbook.reading.heading_words import folded

Run = Callable[..., Any]

PROFILE = """
title: "an invented sheet"
columns:
  "Datum": "date"
  "Kiste": "diff"
  "Gewicht leer": "dry mass"
  "Bahn": "track_temp_c"
  "Halt": "grip"
  "Laune": "ignore"
units:
  track_temp_c: "°F"
  dry_mass_g: "mg"
words:
  grip: {"griffig": "high", "Rutschig": "low"}
options:
  decimal: ","
  date_order: "dmy"
  delimiter: "semicolon"
"""
SHEET = "Datum;Kiste;Gewicht leer;Bahn;Halt;Laune\n03/02/2024;a;21.300;68;rutschig;gut\n04/02/2024;a;;77;griffig;gut\n"


def test_a_sheet_in_another_language_comes_in_through_its_profile(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text(SHEET, encoding="utf-8")
    (tmp_path / "ours.yaml").write_text(PROFILE, encoding="utf-8")
    done = bevelbook("--db", db, "import", "notes.csv", "--profile", "ours.yaml", "--json", "--rows")
    assert done.code == 0
    first, second = (row["values"] for row in done.json["rows"])
    assert (first["date"], first["dry_mass_g"], first["track_temp_c"], first["grip"]) == (
        "2024-02-03",
        21.3,
        20.0,
        "low",
    )
    assert (second["track_temp_c"], second["grip"]) == (25.0, "high")


def test_an_option_of_the_command_line_goes_over_the_profile() -> None:
    settings = Settings(date_order="mdy").over(profile_from(PROFILE, "ours.yaml"))
    assert (settings.date_order, settings.decimal, settings.delimiter) == ("mdy", ",", ";")


@pytest.mark.parametrize(
    ("text", "code", "words"),
    [
        ("colums: {}", "unknown_profile_name", "Did you mean columns"),
        ('columns: {"x": "dry_mas_g"}', "unknown_field", "Did you mean dry_mass_g"),
        ('units: {dry_mass_g: "mgs"}', "unit_unknown", "Did you mean mg"),
        ('units: {dry_mass_g: "gr"}', "unit_ambiguous", "two meanings"),
        ('units: {grip: "g"}', "unknown_profile_name", "field with a unit"),
        ('words: {grip: {"x": "hihg"}}', "grip_unknown", "Did you mean high"),
        ('words: {gripp: {"x": "high"}}', "unknown_profile_name", "Did you mean grip"),
        ("words: {grip: {no: off}}", "profile_value", "in quotes"),
        ('options: {decimal: ";"}', "profile_value", ". or ,"),
        ("options: {date_base: 1905}", "profile_value", "1900 or 1904"),
        ("options: {year: 24}", "profile_value", "a year such as 2026"),
        ("months: {Februar: 13}", "profile_value", "the number of a month, 1 to 12"),
        ("months: {Februar: feb}", "profile_value", "the number of a month, 1 to 12"),
        ("months: 2", "profile_value", '"Februar": 2'),
        ("options: {header_line: true}", "profile_value", "a line from 1"),
        ("options: {allow_out_of_range: 1}", "profile_value", "true or false"),
        ("options: {decimals: 1}", "unknown_profile_name", "Did you mean decimal"),
        ("- a", "profile_value", "sections"),
        ("a: [", "profile_yaml", "not valid YAML"),
        ("columns: [1]", "profile_value", "columns"),
    ],
)
def test_a_wrong_profile_is_refused_with_its_place_and_near_misses(text: str, code: str, words: str) -> None:
    with pytest.raises(InputError) as caught:
        profile_from(text, "ours.yaml")
    assert caught.value.code == code
    assert words in str(caught.value)
    assert "ours.yaml" in str(caught.value)


def test_headings_and_words_need_no_quotes() -> None:
    settings = profile_from("columns: {=: dry_mass_g, No: diff, 1: date}\nwords: {grip: {no: low, 2: high}}", "x")
    assert settings.columns == {"=": "dry_mass_g", "no": "diff", "1": "date"}
    assert settings.words == {"grip": {"no": "low", "2": "high"}}


def test_a_profile_is_made_from_a_file_and_read_back(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "notes.csv").write_text("date;unit;dry mass [mg];Laune\n2024-02-03;a;21300;gut\n", encoding="utf-8")
    done = bevelbook("import", "notes.csv", "--write-profile", "ours.yaml", "--decimal", ",")
    assert done.code == 0
    settings = profile_from((tmp_path / "ours.yaml").read_text(encoding="utf-8"), "ours.yaml")
    assert settings.columns == {"date": "date", "unit": "diff", "dry mass [mg]": "dry_mass_g"}
    assert '  # "Laune": ""  # gut\n' in (tmp_path / "ours.yaml").read_text(encoding="utf-8"), (
        "only a person can say it"
    )
    assert (settings.decimal, dict(settings.units)) == (",", {"dry_mass_g": "mg"})
    report = bevelbook("--db", db, "import", "notes.csv", "--profile", "ours.yaml", "--json").json
    assert (report["accepted"], report["warnings"][:1]) == (1, ["unknown_column:Laune"])
    assert bevelbook("import", "notes.csv", "--write-profile", "ours.yaml").code == 2


@pytest.mark.parametrize(
    ("heading", "name", "unit"),
    [
        ("dry_mass_g", "dry_mass_g", ""),
        ("Dry Mass G", "dry_mass_g", ""),
        ("dry", "dry_mass_g", None),
        ("dry mass", "dry_mass_g", None),
        ("Dry.Mass", "dry_mass_g", None),
        ("dry mass (mg)", "dry_mass_g", "mg"),
        ("dry mass [oz]", "dry_mass_g", "oz"),
        ("dry mass oz", "dry_mass_g", "oz"),
        ("oil mass", "oil_mass_g", None),
        ("oil (g)", "oil_mass_g", "g"),
        ("oil mg", "oil_mass_g", "mg"),
        ("oil", None, None),
        ("oil (cSt)", "viscosity_cst", "cSt"),
        ("total", "total_mass_g", None),
        ("viscosity (cP)", "viscosity_cst", "cP"),
        ("track", None, None),
        ("track [°F]", "track_temp_c", "°F"),
        ("Dry weight: ", "dry_mass_g", None),
        ("dry mass / g", "dry_mass_g", "g"),
        ("oil mass in mg*", "oil_mass_g", "mg"),
        ("Date (dd.mm.yyyy)", "date", None),
        ("diff #", "diff", None),
        ("track temp F", "track_temp_c", "F"),
        ("air temp", "air_temp_c", None),
        ("unit", "diff", None),
        ("diff", "diff", None),
        ("result note", "result_note", None),
        ("weather", None, None),
        ("", None, None),
    ],
)
def test_headings_are_matched_exactly(heading: str, name: str | None, unit: str | None) -> None:
    column = matched(heading, 0, {})
    assert (column.field.name if column.field else None, column.unit) == (name, unit)


def test_a_heading_is_compared_without_what_people_vary() -> None:
    assert folded("\u00a0Track_Temp. ") == folded("track temp")
