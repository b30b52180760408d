"""A sheet is taken back while corrected rows and a later state of it stay. All data are constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked
from conftest import Outcome

Run = Callable[..., Outcome]

HEAD = "date,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,venue,runs,result_note\n"
SHEET = (
    HEAD
    + "2026-03-01,q1,12.41,1.86,14.27,5000,,3,first\n"
    + "2026-03-08,q1,,,14.15,,,,weighed before opening\n"
    + "2026-03-08,q1,12.40,1.86,~14.26,7000,,2,rebuilt\n"
    + "2026-03-09,q1,,,,,,4,after\n"
)
WEIGHED = "SELECT w.mass_g, b.built_on FROM weighings w JOIN builds b ON b.id = w.build"


@pytest.fixture
def bring(bevelbook: Run, db: Path, tmp_path: Path) -> Callable[..., Outcome]:
    """Import a sheet given as its text."""

    def run(name: str, text: str, *options: str) -> Outcome:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return bevelbook("--db", db, "import", name, *options)

    return run


@pytest.mark.parametrize("above", ["", "2026-02-01,r9,,,,,,1,of another diff\n2026-02-02,r9,,,,,,1,and again\n"])
def test_a_weighing_before_a_rebuild_stays_on_the_old_build_when_the_first_sheet_is_taken_back(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path, tmp_path: Path, above: str
) -> None:
    """The rebuild of that day came in from the corrected rejected rows; also with rows put in above since."""
    bring("o.csv", SHEET)
    text = (tmp_path / "o.rejected.csv").read_text(encoding="utf-8")
    assert bring("o.rejected.csv", text.replace("~14.26", "14.26")).code == 0
    later = SHEET.replace("~14.26", "14.26").replace(HEAD, HEAD + above) + "2026-03-10,q1,,,,,,1,one more\n"
    assert bring("o.csv", later).code == 0
    before = asked(db, WEIGHED)
    assert before == [(14.15, "2026-03-01")]
    done = bevelbook("--db", db, "take-back", "1")
    assert done.code == 0
    assert " moved from " not in done.out
    assert asked(db, WEIGHED) == before
    bring("o.csv", SHEET)
    assert asked(db, WEIGHED) == before


def test_a_weighing_before_a_rebuild_stays_on_the_old_build_when_no_sheet_has_the_corrected_row(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path, tmp_path: Path
) -> None:
    """The sheet of the weighing has the rebuild rejected still; the corrected row goes by the line that it had."""
    bring("o.csv", SHEET)
    text = (tmp_path / "o.rejected.csv").read_text(encoding="utf-8")
    bring("o.rejected.csv", text.replace("~14.26", "14.26"))
    bring("o.csv", SHEET + "2026-03-10,q1,,,,,,1,one more\n")
    assert bevelbook("--db", db, "take-back", "1").code == 0
    assert asked(db, WEIGHED) == [(14.15, "2026-03-01")]


def test_a_weighing_of_an_earlier_state_of_the_sheet_stays_before_a_rebuild_that_was_added_below_it(
    bring: Callable[..., Outcome], db: Path
) -> None:
    """Both states of the sheet have one name, so that the rebuild follows the weighing on its day."""
    bring("o.csv", "".join(SHEET.splitlines(keepends=True)[:3]))
    assert bring("o.csv", SHEET.replace("~14.26", "14.26")).code == 0
    assert asked(db, WEIGHED) == [(14.15, "2026-03-01")]


def test_a_sheet_imported_again_finds_its_rejected_rows_closed_by_the_corrected_ones_that_are_there(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path, tmp_path: Path
) -> None:
    """After it was taken back, and in a later state with the row still uncorrected; one that is wrong stays open."""
    bring("o.csv", SHEET + "2026-03-12,q1,,,,,,2-3,how many\n")
    text = (tmp_path / "o.rejected.csv").read_text(encoding="utf-8")
    bring("o.rejected.csv", text.replace("~14.26", "14.26"))
    later = SHEET + "2026-03-12,q1,,,,,,2-3,how many\n2026-03-13,q1,,,,,,1,one more\n"
    assert "  1 rejected row is closed by another file.\n" in bring("o.csv", later).out
    assert bevelbook("--db", db, "take-back", "1").code == 0
    bring("o.csv", SHEET + "2026-03-12,q1,,,,,,2-3,how many\n")
    open_ones = "SELECT DISTINCT value FROM note_rejects WHERE status = 'rejected' AND closed_by IS NULL"
    assert asked(db, open_ones) == [("2-3",)]
