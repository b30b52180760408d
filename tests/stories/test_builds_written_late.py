"""A build that is written down after the notes of later days: their rows go to it, and back again. Constructed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked
from canonical import dumped
from conftest import Outcome

Run = Callable[..., Outcome]

SHEET = (
    "date,diff,dry_mass_g,oil_mass_g,total_mass_g,fluid,runs,result_note\n"
    "2026-04-01,q1,12.4,1.8,,house 5k,2,first\n"
    "2026-04-05,q1,,,,,3,middle\n"
    "2026-04-06,q1,,,14.1,,,\n"
    "2026-04-09,q1,,,,,1,last\n"
    "2026-04-12,q1,,,,house 7k,2,other oil\n"
)
ON_BUILDS = (
    "SELECT r.note, b.label FROM runs r JOIN run_diffs x ON x.run = r.id JOIN builds b ON b.id = x.build "
    "ORDER BY r.run_on, r.id"
)
AS_IMPORTED = [("first", "q1/1"), ("middle", "q1/1"), ("last", "q1/1"), ("other oil", "q1/2")]


@pytest.fixture
def noted(say: Run, tmp_path: Path) -> None:
    """The sheet of a month, imported."""
    (tmp_path / "a.csv").write_text(SHEET, encoding="utf-8")
    say("import", tmp_path / "a.csv")


def a_rebuild(say: Run, *more: str) -> Outcome:
    return say("record", "build", "diff=q1", "built_on=2026-04-04", "dry_mass=12.41", "oil_mass=1.86", *more)


@pytest.mark.usefixtures("noted")
def test_rows_after_a_build_that_is_written_late_go_to_it_and_back_when_it_is_taken_back(say: Run, db: Path) -> None:
    before = dumped(db)
    done = a_rebuild(say, "fluid=house 5k")
    assert "\n3 rows moved from q1/1 to q1/3\n" in done.out
    assert "still written" not in done.out
    assert asked(db, ON_BUILDS) == [("first", "q1/1"), ("middle", "q1/3"), ("last", "q1/3"), ("other oil", "q1/2")]
    assert asked(db, "SELECT b.label, f.runs FROM build_facts f JOIN builds b ON b.id = f.build ORDER BY b.label") == [
        ("q1/1", 2.0),
        ("q1/2", 2.0),
        ("q1/3", 4.0),
    ]
    back = say("take-back")
    assert "  3 rows moved from q1/3 to q1/1\n" in back.out
    assert dumped(db) == before


@pytest.mark.usefixtures("noted")
def test_a_row_whose_oil_is_in_already_stops_being_a_build(say: Run, db: Path) -> None:
    before = dumped(db)
    done = a_rebuild(say, "fluid=house 7k")
    assert "q1/2 is not a build any more: the build before it has the same oil (a.csv, line 6)" in " ".join(
        done.out.split()
    )
    assert asked(db, ON_BUILDS) == [("first", "q1/1"), ("middle", "q1/3"), ("last", "q1/3"), ("other oil", "q1/3")]
    say("take-back")
    assert dumped(db) == before


@pytest.mark.usefixtures("noted")
def test_rows_follow_a_build_whose_day_is_corrected(say: Run, db: Path) -> None:
    a_rebuild(say, "fluid=house 5k")
    before = dumped(db)
    done = json.loads(say("record", "build", "q1/3", "built_on=2026-04-08", "--json").out)
    assert done["moved"] == [{"rows": 2, "from": "q1/3", "to": "q1/1"}]
    assert done["builds_changed"] == []
    taken = json.loads(say("take-back", "--json").out)["taken_back"]
    assert taken[0]["moved"] == [{"rows": 2, "from": "q1/1", "to": "q1/3"}]
    assert dumped(db) == before


@pytest.mark.usefixtures("noted")
def test_a_build_that_only_note_rows_use_is_removed_and_they_go_back(say: Run, db: Path) -> None:
    a_rebuild(say, "fluid=house 5k")
    before = dumped(db)
    done = say("record", "build", "q1/3", "--remove", "was another diff")
    assert done.out.startswith("Removed build q1/3: was another diff\n3 rows moved from q1/3 to q1/1\n")
    assert asked(db, ON_BUILDS) == AS_IMPORTED
    say("take-back")
    assert dumped(db) == before


@pytest.mark.usefixtures("noted")
def test_what_was_written_by_hand_stays_on_its_build(say: Run, bevelbook: Run, db: Path) -> None:
    say("record", "run", "run_on=2026-04-07", "rear=q1", "runs=5", "note=by hand")
    a_rebuild(say, "fluid=house 5k")
    assert ("by hand", "q1/1") in asked(db, ON_BUILDS)
    say("record", "run", "run_on=2026-04-08", "rear=q1", "runs=1", "note=by hand later")
    refused = bevelbook("--db", db, "record", "build", "q1/3", "--remove", "was another diff")
    assert refused.code == 2
    assert "used by" in refused.err
    assert ("by hand later", "q1/3") in asked(db, ON_BUILDS)


@pytest.mark.usefixtures("noted")
def test_a_build_made_because_the_diff_was_closed_again_has_the_rows_after_it(say: Run, db: Path) -> None:
    say("record", "opening", "build=q1/1", "opened_on=2026-04-02", "reason=routine")
    before = dumped(db)
    done = json.loads(say("record", "run", "run_on=2026-04-03", "rear=q1", "runs=1", "--closed-again", "--json").out)
    assert done["builds_made"] == ["q1/3"]
    assert done["moved"] == [{"rows": 3, "from": "q1/1", "to": "q1/3"}]
    say("take-back")
    assert dumped(db) == before


@pytest.mark.usefixtures("noted")
def test_a_mass_taken_as_the_dry_mass_of_a_next_build_has_the_rows_after_it(say: Run, db: Path) -> None:
    say("record", "opening", "build=q1/1", "opened_on=2026-04-02", "reason=routine")
    done = say("record", "weighing", "build=q1", "weighed_on=2026-04-03", "mass=12.4", "--as-dry-mass")
    assert "3 rows moved from q1/1 to q1/3" in done.out


@pytest.mark.usefixtures("noted")
def test_a_build_is_not_put_after_the_run_of_its_own_row(bevelbook: Run, say: Run, db: Path) -> None:
    before = dumped(db)
    refused = bevelbook("--db", db, "record", "build", "q1/1", "built_on=2026-04-03")
    assert refused.code == 2
    assert "run 2026-04-01/1 of a.csv, line 2, is dated 2026-04-01" in " ".join(refused.err.split())
    assert dumped(db) == before
    a_rebuild(say, "fluid=house 5k", "built_on=2026-03-30")
    done = say("record", "build", "q1/1", "built_on=2026-04-03")
    assert "1 row moved from q1/1 to q1/3" in done.out


@pytest.mark.usefixtures("noted")
def test_the_rows_of_a_diff_stay_with_it_when_a_build_was_of_another_one(say: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "b.csv").write_text(
        "date,diff,oil_mass_g,runs,result_note\n2026-04-02,q2,1.8,1,of q2\n2026-04-07,q2,,1,late of q2\n"
    )
    say("import", tmp_path / "b.csv")
    a_rebuild(say, "fluid=house 5k")
    before = dumped(db)
    done = json.loads(say("record", "build", "q1/3", "diff=q2", "--json").out)
    assert sorted((one["rows"], one["from"], one["to"]) for one in done["moved"]) == [
        (1, "q2/1", "q1/3"),
        (3, "q1/3", "q1/1"),
    ]
    assert [row for row in asked(db, ON_BUILDS) if "q2" not in str(row[0])] == AS_IMPORTED
    say("take-back")
    assert dumped(db) == before


def test_a_build_without_another_one_for_its_note_rows_keeps_its_diff(
    bevelbook: Run, say: Run, db: Path, tmp_path: Path
) -> None:
    for label in ("q1", "q2"):
        say("record", "diff", f"label={label}", "housing_material=aluminium")
    a_rebuild(say)
    (tmp_path / "a.csv").write_text("date,diff,runs\n2026-04-05,q1,3\n", encoding="utf-8")
    say("import", tmp_path / "a.csv")
    before = dumped(db)
    refused = bevelbook("--db", db, "record", "build", "q1/1", "diff=q2")
    assert refused.code == 2
    assert "1 note row of q1 would have no build without q1/1" in refused.err
    assert dumped(db) == before


@pytest.mark.usefixtures("noted")
def test_a_build_of_today_moves_nothing(say: Run, db: Path) -> None:
    done = json.loads(say("record", "build", "diff=q1", "built_on=2026-05-01", "dry_mass=12.4", "--json").out)
    assert done["moved"] == []
    assert asked(db, ON_BUILDS) == AS_IMPORTED
