"""Sheets in other languages come in with the profile of their language. All data are invented.

Names of months: Unicode CLDR, wide and abbreviated; the lists below were printed by a library that holds it.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bevelbook.notes.bundled_profiles import LANGUAGES, language_profile
from bevelbook.reading.heading_words import folded

Run = Callable[..., Any]

CLDR_MONTHS = {
    "de": "Januar Februar März April Mai Juni Juli August September Oktober November Dezember",
    "fr": "janvier février mars avril mai juin juillet août septembre octobre novembre décembre",
    "es": "enero febrero marzo abril mayo junio julio agosto septiembre octubre noviembre diciembre",
    "it": "gennaio febbraio marzo aprile maggio giugno luglio agosto settembre ottobre novembre dicembre",
}
CLDR_SHORT_MONTHS = {
    "de": "Jan. Feb. März Apr. Mai Juni Juli Aug. Sept. Okt. Nov. Dez.",
    "fr": "janv. févr. mars avr. mai juin juil. août sept. oct. nov. déc.",
    "es": "ene feb mar abr may jun jul ago sept oct nov dic",
    "it": "gen feb mar apr mag giu lug ago set ott nov dic",
}

SHEETS = Path(__file__).parent / "languages"
"""One invented sheet a language, of the same two rows."""


@pytest.mark.parametrize("language", [*LANGUAGES])
@pytest.mark.parametrize("by_code", [False, True], ids=["name", "code"])
def test_a_sheet_in_a_language_comes_in_whole(
    bevelbook: Run, db: Path, tmp_path: Path, language: str, by_code: bool
) -> None:
    sheet = (SHEETS / f"{language}.csv").read_text(encoding="utf-8")
    (tmp_path / "notes.csv").write_text(sheet, encoding="utf-8")
    name = LANGUAGES[language] if by_code else language.title()
    done = bevelbook("--db", db, "import", "notes.csv", "--profile", name, "--json", "--rows")
    assert done.code == 0, done.out
    assert not [one for one in done.json["warnings"] if "unknown" in one or "blank" in one]
    first, second = (row["values"] for row in done.json["rows"])
    expected = {"date": "2024-02-14", "diff": "K-01", "dry_mass_g": 21.3, "oil_mass_g": 1.35, "total_mass_g": 22.65}
    expected |= {"viscosity_cst": 7000, "position": "rear", "grip": "high", "track_temp_c": 24.0}
    expected |= {"air_temp_c": 19.0, "runs": 4.0, "call": "keep", "builder": "Ana"}
    assert {name: first[name] for name in expected} == expected
    assert first["fluid"].endswith("7k")
    assert {first["venue"], first["result_note"]} <= {*sheet.splitlines()[1].replace(";", ",").split(",")}
    later = {"date": "2024-02-15", "oil_mass_g": 1.4, "position": "front", "grip": "low", "call": "change"}
    assert {name: second[name] for name in later} == later


@pytest.mark.parametrize("code", [*CLDR_MONTHS])
@pytest.mark.parametrize("names", [CLDR_MONTHS, CLDR_SHORT_MONTHS], ids=["wide", "abbreviated"])
def test_every_month_has_its_name(code: str, names: dict[str, str]) -> None:
    months = language_profile(code).months
    assert [months[name.rstrip(".").casefold()] for name in names[code].split()] == [*range(1, 13)]


@pytest.mark.parametrize("code", [*LANGUAGES.values()])
def test_a_profile_names_what_a_row_needs_and_what_is_weighed(code: str) -> None:
    settings = language_profile(code)
    wanted = {"date", "diff", "dry_mass_g", "oil_mass_g", "total_mass_g", "viscosity_cst", "fluid", "venue", "builder"}
    assert wanted <= set(settings.columns.values())
    assert set(settings.columns) == {folded(heading) for heading in settings.columns}
    assert {"grip", "position", "call"} <= settings.words.keys()
    for field in ("grip", "position", "call"):
        assert len(set(settings.words[field].values())) >= 3


@pytest.mark.parametrize(
    ("code", "heading", "low", "high"),
    [
        ("fr", "Masse pleine", "bas", "haut"),
        ("es", "Peso lleno", "baja", "alta"),
        ("it", "Massa piena", "bassa", "alta"),
        ("de", "Vollgewicht", "niedrig", "hoch"),
    ],
)
def test_the_full_mass_and_both_ends_of_the_grip_are_known(code: str, heading: str, low: str, high: str) -> None:
    profile = language_profile(code)
    assert profile.columns[folded(heading)] == "total_mass_g"
    assert [profile.words["grip"][word] for word in (low, high)] == ["low", "high"]
