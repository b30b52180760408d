"""Two sheets with the headings that a team has anyway, brought in at the first try. All cells are constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from asked import asked
from conftest import Outcome

Run = Callable[..., Outcome]

ELEVEN = """\
Day,Driver,Diff,Dry weight (g),Oil weight (g),Total weight (g),Oil,cSt,Track temperature (°C),Air temperature,Notes
2026-03-01,ana,K-01,12.41,1.86,14.27,house 7k,7000,31.5,22,felt planted
2026-03-08,bo,K-02,12.52,1.90,14.42,house 10k,10000,28,19,a bit lazy
2026-03-15,ana,K-01,12.40,1.85,14.25,house 7k,7000,35,26,new outdrive
"""
FOURTEEN = """\
Date,Diff,Track,Oil,dry,w/ oil,oil in,Air,Track temp,Grip,Packs,Best lap,Who,Notes
2026-03-01,K-01,Mill Hall,7k,12.41,14.27,1.86,22,31.5,high,3,18.42,ana,felt planted
2026-03-08,K-02,North Field,10k,12.52,14.42,1.90,19,28,med,2,18.61,bo,a bit lazy
2026-03-15,K-01,Mill Hall,7k,12.40,14.25,1.85,26,35,low,4,18.39,ana,new outdrive
"""
BUILDS = (
    "SELECT b.built_on, d.label, b.dry_mass_g, b.oil_mass_g, b.filled_mass_g, f.label, b.viscosity_cst, p.name "
    "FROM builds b JOIN diffs d ON d.id = b.diff LEFT JOIN fluids f ON f.id = b.fluid "
    "LEFT JOIN people p ON p.id = b.builder ORDER BY 1"
)
RUNS = (
    "SELECT r.run_on, r.track_temp_c, r.air_temp_c, r.grip, r.runs, r.best_lap_s, v.name, d.name, n.name, r.note "
    "FROM runs r LEFT JOIN venues v ON v.id = r.venue LEFT JOIN people d ON d.id = r.driver "
    "LEFT JOIN people n ON n.id = r.noted_by ORDER BY 1"
)


def _of_headings(done: Outcome) -> list[str]:
    """What the report says of meanings; what it says of units is not the matter here."""
    return [one for one in done.json["warnings"] if not one.startswith("unit_")]


def test_a_sheet_with_eleven_plain_headings_comes_in_whole(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "season.csv").write_text(ELEVEN, encoding="utf-8")
    done = bevelbook("--db", db, "import", "season.csv", "--accept-map", "--json")
    assert (done.code, done.json["accepted"], done.json["not_understood"]) == (0, 3, [])
    assert _of_headings(done) == ["meaning_by_cells:Oil=fluid"]
    assert asked(db, BUILDS) == [
        ("2026-03-01", "K-01", 12.41, 1.86, 14.27, "house 7k", 7000.0, None),
        ("2026-03-08", "K-02", 12.52, 1.9, 14.42, "house 10k", 10000.0, None),
        ("2026-03-15", "K-01", 12.4, 1.85, 14.25, "house 7k", 7000.0, None),
    ]
    assert asked(db, RUNS) == [
        ("2026-03-01", 31.5, 22.0, None, None, None, None, "ana", None, "felt planted"),
        ("2026-03-08", 28.0, 19.0, None, None, None, None, "bo", None, "a bit lazy"),
        ("2026-03-15", 35.0, 26.0, None, None, None, None, "ana", None, "new outdrive"),
    ]


def test_a_sheet_with_fourteen_plain_headings_comes_in_whole(bevelbook: Run, db: Path, tmp_path: Path) -> None:
    """Track holds names beside a Track temp, and Oil holds what is on the bottle: how thick it is, no source says."""
    (tmp_path / "season.csv").write_text(FOURTEEN, encoding="utf-8")
    done = bevelbook("--db", db, "import", "season.csv", "--accept-map", "--json")
    assert (done.code, done.json["accepted"], done.json["not_understood"]) == (0, 3, [])
    assert _of_headings(done) == ["meaning_by_cells:Track=venue", "meaning_by_cells:Oil=fluid"]
    assert asked(db, BUILDS) == [
        ("2026-03-01", "K-01", 12.41, 1.86, 14.27, "7k", None, "ana"),
        ("2026-03-08", "K-02", 12.52, 1.9, 14.42, "10k", None, "bo"),
        ("2026-03-15", "K-01", 12.4, 1.85, 14.25, "7k", None, "ana"),
    ]
    assert asked(db, RUNS) == [
        ("2026-03-01", 31.5, 22.0, "high", 3.0, 18.42, "Mill Hall", None, "ana", "felt planted"),
        ("2026-03-08", 28.0, 19.0, "medium", 2.0, 18.61, "North Field", None, "bo", "a bit lazy"),
        ("2026-03-15", 35.0, 26.0, "low", 4.0, 18.39, "Mill Hall", None, "ana", "new outdrive"),
    ]
