"""A season's sheet with front and rear in one cell, from the first look to the last corrected row. Invented data."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from asked import asked
from conftest import Outcome

Run = Callable[..., Outcome]

SHEET = """Date,Who,Diff,Oil,Dry weight (g),w/ oil,Packs
2026-05-02,ana,F-03/R-07,7k/10k,9.52/11.20,11.02/13.05,3
2026-05-09,ana,F-03/R-07,7k/10k,,,4
2026-05-16,bo,F-03/R-07,8k,9.50/11.21,11.01/13.04,2
2026-05-23,bo,F-03/R-07,8k/12k,9.51/11.19,11.02/13.05,5
"""
PROFILE = """split:
  at: "/"
  into: [front, rear]
  columns: ["Diff", "Oil", "Dry weight", "w/ oil"]
"""


def test_a_sheet_with_front_and_rear_in_one_cell_comes_in_whole(
    bevelbook: Run, say: Run, db: Path, tmp_path: Path
) -> None:
    (tmp_path / "season.csv").write_text(SHEET, encoding="utf-8")
    looked = bevelbook("--db", db, "import", "season.csv", "--dry-run")
    assert "pairs_in_cells:Oil (line" in looked.out
    assert "split: {at:" in looked.out

    (tmp_path / "ours.yaml").write_text(PROFILE, encoding="utf-8")
    done = bevelbook("--db", db, "--by", "ana", "import", "season.csv", "--profile", "ours.yaml")
    assert done.code == 1
    assert "season.csv, front: 3 rows accepted, 1 rejected" in done.out
    assert "season.csv, rear: 3 rows accepted, 1 rejected" in done.out
    assert 'line 4, fluid "8k": cell_not_split' in done.out

    for place in ("front", "rear"):
        say("import", f"season.{place}.rejected.csv", "--profile", "ours.yaml")
    builds = (
        "SELECT d.label, b.built_on, f.label, b.dry_mass_g, round(b.filled_mass_g - b.dry_mass_g, 2) FROM builds b "
        "JOIN diffs d ON d.id = b.diff JOIN fluids f ON f.id = b.fluid ORDER BY d.label, b.built_on"
    )
    assert asked(db, builds) == [
        ("F-03", "2026-05-02", "7k", 9.52, 1.5),
        ("F-03", "2026-05-16", "8k", 9.5, 1.51),
        ("F-03", "2026-05-23", "8k", 9.51, 1.51),
        ("R-07", "2026-05-02", "10k", 11.2, 1.85),
        ("R-07", "2026-05-16", "8k", 11.21, 1.83),
        ("R-07", "2026-05-23", "12k", 11.19, 1.86),
    ]
    packs = "SELECT position, sum(runs) FROM imported_notes GROUP BY 1 ORDER BY 1"
    assert asked(db, packs) == [("front", 14), ("rear", 14)]

    assert "0 rows new" in bevelbook("--db", db, "--by", "ana", "import", "season.csv", "--profile", "ours.yaml").out
    for entry in "321":
        say("take-back", entry)
    assert asked(db, "SELECT count(*) FROM builds") == [(0,)]
