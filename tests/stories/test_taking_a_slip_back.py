"""Slips that a racer takes back: a wrong opening, a twin run, a sheet, another person's entry. Figures constructed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from asked import asked
from canonical import dumped
from conftest import Begin, Outcome

Run = Callable[..., Outcome]
SHEET = "date,diff,dry_mass_g,oil_mass_g,total_mass_g,runs,venue,fluid,builder\n"


@pytest.fixture
def built(say: Run, begin: Begin, db: Path) -> None:
    """A diff with one build."""
    begin(
        say,
        db,
        ("record", "diff", "label=rear-a", "housing_material=aluminium"),
        ("record", "fluid", "label=house 5k"),
        ("record", "build", "diff=rear-a", "built_on=2026-05-01", "dry_mass=12.42", "oil_mass=1.86", "fluid=house 5k"),
    )


@pytest.mark.usefixtures("built")
def test_an_opening_of_the_wrong_diff_is_taken_back_without_typing_an_id(say: Run, db: Path) -> None:
    before = dumped(db)
    say("record", "opening", "build=rear-a/1", "opened_on=2026-05-04", "reason=leak")
    assert asked(db, "SELECT word FROM diff_facts") == [("apart",)]
    taken = say("take-back")
    assert "Took back entry 4 of ana (record opening build=rear-a/1" in taken.out
    assert "removed opening of rear-a/1, 2026-05-04" in taken.out
    assert "Shelf: rear-a was 'apart', is now 'ready'" in taken.out
    assert dumped(db) == before


@pytest.mark.usefixtures("built")
def test_a_run_written_twice_counts_once_after_it_is_taken_back(say: Run, db: Path) -> None:
    say("record", "run", "run_on=2026-05-03", "rear=rear-a", "runs=2")
    before = dumped(db)
    say("record", "run", "run_on=2026-05-03", "rear=rear-a", "runs=3")
    assert asked(db, "SELECT runs FROM build_facts") == [(5.0,)]
    taken = say("take-back")
    assert "removed run 2026-05-03/2" in taken.out
    assert asked(db, "SELECT runs FROM build_facts") == [(2.0,)]
    assert dumped(db) == before


@pytest.mark.usefixtures("built")
def test_taking_back_twice_goes_two_entries_back(say: Run, db: Path) -> None:
    before = dumped(db)
    say("record", "build", "rear-a/1", "oil_mass=1.9")
    say("record", "build", "rear-a/1", "oil_mass=2.1", "note=poured on")
    first, second = say("take-back"), say("take-back")
    assert "changed build rear-a/1: oil mass 1.90 g, was 2.10 g; note empty, was poured on" in first.out
    assert "changed build rear-a/1: oil mass 1.86 g, was 1.90 g" in second.out
    assert dumped(db) == before


@pytest.mark.usefixtures("built")
def test_what_was_taken_back_comes_back(say: Run, db: Path) -> None:
    say("record", "weighing", "build=rear-a/1", "weighed_on=2026-05-02", "mass=14.27", "mass_basis=open half")
    before = dumped(db)
    say("take-back")
    again = say("take-back", "5")
    assert "brought back weighing rear-a/1#1, 2026-05-02" in again.out
    assert dumped(db) == before
    assert "was taken back already" not in say("take-back", "4").out
    assert asked(db, "SELECT count(*) FROM weighings") == [(0,)]


@pytest.mark.usefixtures("built")
def test_an_entry_that_a_later_one_builds_on_is_refused_by_name_and_taken_back_with_it(
    say: Run, bevelbook: Run, db: Path
) -> None:
    say("record", "run", "run_on=2026-05-03", "rear=rear-a", by="ben")
    before = dumped(db)
    refused = bevelbook("--db", db, "--by", "ana", "take-back")
    assert refused.code == 2
    assert "build rear-a/1 is used by" in refused.err
    assert "2026-05-03/1 rear, from entry 4 of ben (record run" in refused.err
    assert "--and-later" in refused.err
    unnamed = bevelbook("--db", db, "--by", "ana", "take-back", "--and-later", "--yes")
    assert unnamed.code == 2
    assert "entry 4 of ben (record run" in unnamed.err
    assert "is another person's" in unnamed.err
    assert f"bevelbook --db {db} --by ana take-back 3 --and-later --of ben" in unnamed.err
    in_a_script = bevelbook("--db", db, "--by", "ana", "take-back", "3", "--and-later", "--of", "ben")
    assert in_a_script.code == 2
    assert "2 entries would be taken back" in in_a_script.err
    assert dumped(db) == before
    done = say("take-back", "3", "--and-later", "--of", "ben", "--yes")
    assert done.out.index("Took back entry 4 of ben") < done.out.index("Took back entry 3 of ana")
    assert asked(db, "SELECT count(*) FROM builds") == [(0,)]
    assert asked(db, "SELECT count(*) FROM entries WHERE took_back IS NOT NULL") == [(2,)]


@pytest.mark.usefixtures("built")
def test_each_of_several_people_has_to_be_named_before_their_entries_are_taken_back(
    say: Run, bevelbook: Run, db: Path
) -> None:
    say("record", "run", "run_on=2026-05-03", "rear=rear-a", by="ben")
    say("record", "weighing", "build=rear-a", "weighed_on=2026-05-04", "mass=14.27", by="Cem Y")
    before = dumped(db)
    words = ("take-back", "3", "--and-later", "--yes", "--of", "ben")
    refused = bevelbook("--db", db, "--by", "ana", *words)
    assert refused.code == 2
    assert "entry 5 of Cem Y" in refused.err
    assert '--and-later --of ben --of "Cem Y"' in refused.err
    assert dumped(db) == before
    assert say(*words, "--of", "cem y").out.count("Took back entry") == 3


@pytest.mark.usefixtures("built")
def test_an_entry_of_another_person_wants_that_person_named(say: Run, bevelbook: Run, db: Path) -> None:
    say("record", "run", "run_on=2026-05-03", "rear=rear-a", by="ben")
    before = dumped(db)
    refused = bevelbook("--db", db, "--by", "cem", "take-back")
    assert refused.code == 2
    assert "there is no entry of cem to take back; the last is entry 4 of ben" in refused.err
    assert "--of ben" in refused.err
    named = bevelbook("--db", db, "--by", "ana", "take-back", "4")
    assert "entry 4 of ben (record run run_on=2026-05-03 rear=rear-a) is another person's" in named.err
    assert dumped(db) == before
    assert "Took back entry 4 of ben" in say("take-back", "--of", "ben").out


@pytest.mark.usefixtures("built")
def test_an_entry_without_a_name_is_taken_back_by_its_number(bevelbook: Run, db: Path) -> None:
    """It is nobody's, so that there is no name to give."""
    assert bevelbook("--db", db, "record", "run", "run_on=2026-05-03", "rear=rear-a").code == 0
    refused = bevelbook("--db", db, "--by", "cem", "take-back")
    assert refused.code == 2
    assert f"'bevelbook --db {db} --by cem take-back 4'" in " ".join(refused.err.split())
    assert "--of" not in refused.err
    assert "Took back entry 4" in bevelbook("--db", db, "--by", "cem", "take-back", "4").out


def test_with_nothing_written_there_is_nothing_to_take_back(bevelbook: Run, db: Path) -> None:
    refused = bevelbook("--db", db, "take-back")
    assert refused.code == 2
    assert "there is nothing to take back" in refused.err


@pytest.mark.usefixtures("built")
def test_a_dry_run_says_what_would_come_of_it_and_writes_nothing(say: Run, db: Path) -> None:
    before = db.read_bytes()
    would = say("take-back", "--dry-run")
    assert "Would take back entry 3 of ana" in would.out
    assert "removed build rear-a/1" in would.out
    assert db.read_bytes() == before


def test_an_import_is_taken_back_whole(say: Run, db: Path, tmp_path: Path) -> None:
    before = dumped(db)
    rows = "2026-05-01,q1,12.4,1.8,14.2,3,Brickfield,house 5k,ana\n2026-05-02,q1,,,14.1,,,,\n2026-05-03,q1,,,~14,,,,\n"
    (tmp_path / "q1.csv").write_text(SHEET + rows, encoding="utf-8")
    assert say_with_rejects(say, "import", "q1.csv")
    taken = say("take-back")
    assert "removed the file q1.csv with 2 rows" in taken.out
    assert "removed build q1/1" in taken.out
    assert dumped(db) == before
    assert asked(db, "SELECT count(*) FROM note_rejects") == [(0,)]


def say_with_rejects(say: Run, *words: object) -> bool:
    """A command that ends with 1, since rows were rejected."""
    with pytest.raises(AssertionError):
        say(*words)
    return True


def test_a_grown_sheet_is_taken_back_to_the_sheet_before(say: Run, db: Path, tmp_path: Path) -> None:
    first = "2026-05-01,q1,12.4,1.8,,3,Brickfield,house 5k,ana\n"
    (tmp_path / "q1.csv").write_text(SHEET + first, encoding="utf-8")
    say("import", "q1.csv")
    before = dumped(db)
    (tmp_path / "q1.csv").write_text(SHEET + first + "2026-05-08,q1,12.5,1.9,,4,Depot,house 7k,ben\n", encoding="utf-8")
    say("import", "q1.csv")
    assert len(asked(db, "SELECT id FROM builds")) == 2
    say("take-back")
    assert dumped(db) == before


def test_rows_that_another_file_has_too_stay_and_belong_to_it(say: Run, db: Path, tmp_path: Path) -> None:
    first = "2026-05-01,q1,12.4,1.8,,3,Brickfield,house 5k,ana\n"
    (tmp_path / "q1.csv").write_text(SHEET + "2026-04-01,q1,12.1,1.7,,1,Oldfield,house 3k,cem\n" + first, "utf-8")
    say("import", "q1.csv")
    (tmp_path / "more.csv").write_text(SHEET + first + "2026-05-08,q1,12.5,1.9,,4,,,\n", encoding="utf-8")
    say("import", "more.csv")
    say("take-back", "1")
    assert asked(db, "SELECT name FROM note_files") == [("more.csv",)]
    assert asked(db, "SELECT built_on, note_line FROM builds ORDER BY built_on") == [
        ("2026-05-01", 2),
        ("2026-05-08", 3),
    ]
    assert asked(db, "SELECT name FROM venues") == [("Brickfield",)]
    assert asked(db, "SELECT label FROM fluids") == [("house 5k",)]
    assert asked(db, "SELECT note_line FROM diffs") == [(2,)]


def test_an_import_with_runs_added_since_is_refused(say: Run, bevelbook: Run, db: Path, tmp_path: Path) -> None:
    (tmp_path / "q1.csv").write_text(SHEET + "2026-05-01,q1,12.4,1.8,,3,Brickfield,house 5k,ana\n", encoding="utf-8")
    say("import", "q1.csv")
    say("record", "run", "run_on=2026-05-03", "rear=q1")
    before = dumped(db)
    refused = bevelbook("--db", db, "--by", "ana", "take-back", "1")
    assert refused.code == 2
    assert "build q1/1 is used by" in refused.err
    assert "entry 2 of ana (record run" in refused.err
    assert dumped(db) == before
    say("take-back")
    say("take-back")
    assert asked(db, "SELECT (SELECT count(*) FROM diffs) + (SELECT count(*) FROM venues)") == [(0,)]


def test_history_says_who_wrote_what_and_what_came_of_it(say: Run, db: Path) -> None:
    say("record", "diff", "label=rear-a")
    say("record", "diff", "rear-a", "usual_position=rear", by="ben")
    say("take-back", "--of", "ben")
    text = say("history").out
    assert "  took back entry 2 of ben (record diff rear-a usual_position=rear)" in text
    assert "  changed diff rear-a: usual position rear, was empty" in text
    assert "  taken back by entry 3" in text
    versions = say("history", "rear-a").out.splitlines()
    assert versions[0] == "diff rear-a"
    assert "usual position empty, was rear" in versions[1]
    assert versions[3].endswith("ana: added")
    as_data = say("history", "--json").json
    assert [one["made_by"] for one in as_data["entries"]] == ["ana", "ben", "ana"]


def test_corrected_rejects_taken_back_leave_the_rows_rejected_and_the_runs_where_they_were(
    say: Run, db: Path, tmp_path: Path
) -> None:
    """The rebuild came in late, so the runs after it had gone to the build before, and go back there."""
    rows = (
        "2026-05-01,q1,12.4,1.8,14.2,3,Brickfield,house 5k,ana\n"
        "2026-05-08,q1,12.5,1.9,~14.26,2,Depot,house 7k,ben\n"
        "2026-05-15,q1,,,,4,Brickfield,,ana\n"
    )
    (tmp_path / "q1.csv").write_text(SHEET + rows, encoding="utf-8")
    say_with_rejects(say, "import", "q1.csv")
    before = dumped(db)
    rejects = tmp_path / "q1.rejected.csv"
    rejects.write_text(rejects.read_text("utf-8").replace("~14.26", "14.26"), encoding="utf-8")
    say("import", "q1.rejected.csv")
    assert asked(db, "SELECT count(*) FROM note_rejects WHERE closed_by IS NOT NULL") == [(1,)]
    assert asked(db, "SELECT runs FROM build_facts f JOIN builds b ON b.id = f.build ORDER BY built_on") == [(3,), (6,)]
    after = dumped(db)
    say("take-back")
    assert dumped(db) == before
    say("take-back", "3")
    assert dumped(db) == after


def test_an_older_sheet_taken_back_gives_the_first_row_its_build_again(say: Run, db: Path, tmp_path: Path) -> None:
    """With the older sheet the first row of the later one no longer makes a build, and without it it does again."""
    (tmp_path / "may.csv").write_text(SHEET + "2026-05-08,q1,,,,2,Depot,house 5k,ben\n", encoding="utf-8")
    say("import", "may.csv")
    before = dumped(db)
    (tmp_path / "april.csv").write_text(SHEET + "2026-04-01,q1,12.4,1.8,,3,,house 5k,ana\n", encoding="utf-8")
    say("import", "april.csv")
    assert asked(db, "SELECT built_on FROM builds") == [("2026-04-01",)]
    say("take-back")
    assert dumped(db) == before
