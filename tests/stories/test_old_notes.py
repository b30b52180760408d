"""Old notes that come in late, corrected, or in another order, by the command line. All data are constructed."""

from __future__ import annotations

import itertools
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from asked import asked
from conftest import Outcome, empty_database

Run = Callable[..., Outcome]

HEAD = "date,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,venue,runs,result_note\n"
SEASON = (
    HEAD
    + "2026-03-01,q1,12.41,1.86,14.27,5000,,3,first\n"
    + "2026-03-08,q1,12.40,1.86,~14.26,7000,,2,rebuilt\n"
    + "2026-03-08,q1,,,,,,3,afternoon\n"
    + "2026-03-15,q1,,,14.20,,,,\n"
    + "2026-03-15,q1,,,,,,4,later\n"
)


RUNS = (
    "SELECT r.note, b.viscosity_cst, b.built_on FROM runs r JOIN run_diffs x ON x.run = r.id "
    "JOIN builds b ON b.id = x.build ORDER BY r.run_on, r.note"
)
WEIGHINGS = "SELECT w.weighed_on, w.mass_g, b.viscosity_cst FROM weighings w JOIN builds b ON b.id = w.build"


@pytest.fixture
def bring(bevelbook: Run, db: Path, tmp_path: Path) -> Callable[..., Outcome]:
    """Import a sheet given as its text."""

    def run(name: str, text: str, *options: str, into: Path = db) -> Outcome:
        (tmp_path / name).write_text(text, encoding="utf-8")
        return bevelbook("--db", into, "import", name, *options)

    return run


def test_runs_after_a_rebuild_that_was_rejected_go_to_it_once_it_is_corrected(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path, tmp_path: Path
) -> None:
    """The afternoon, the weighing and the later runs were on the 5000 until its row came in."""
    assert bring("o.csv", SEASON).code == 1
    rejects = tmp_path / "o.rejected.csv"
    rejects.write_text(rejects.read_text(encoding="utf-8").replace("~14.26", "14.26"), encoding="utf-8")
    done = bevelbook("--db", db, "import", rejects)
    assert done.code == 0
    assert "  3 rows moved from q1/1 to q1/2\n" in done.out
    assert asked(db, RUNS) == [
        ("first", 5000.0, "2026-03-01"),
        ("afternoon", 7000.0, "2026-03-08"),
        ("rebuilt", 7000.0, "2026-03-08"),
        ("later", 7000.0, "2026-03-08"),
    ]
    assert asked(db, WEIGHINGS) == [("2026-03-15", 14.2, 7000.0)]
    assert asked(db, "SELECT runs FROM build_facts f JOIN builds b ON b.id = f.build ORDER BY b.built_on") == [
        (3,),
        (9,),
    ]
    assert "still written" not in bevelbook("--db", db, "check").out


BENCH = "date,diff,oil_mass_g,viscosity_cst\n2026-05-01,q1,1.86,5000\n2026-05-08,q1,1.86,7000\n2026-05-15,q1,,9000\n"
TRACK = (
    "date,diff,runs,viscosity_cst,result_note\n2026-04-30,q1,1,,before\n2026-05-01,q1,2,5000,a\n2026-05-08,q1,3,,b\n"
    "2026-05-09,q1,3,7000,c\n2026-05-16,q1,1,9000,d\n"
)
SCALE = "date,diff,total_mass_g,result_note\n2026-05-02,q1,14.26,wiped\n2026-05-20,q1,14.2,\n2026-05-08,q1,14.25,\n"
PLACED = (
    "SELECT 'run', r.note, r.runs, b.built_on, b.viscosity_cst, b.oil_mass_g FROM runs r JOIN run_diffs x "
    "ON x.run = r.id JOIN builds b ON b.id = x.build UNION ALL SELECT 'weighing', w.note, w.mass_g, b.built_on, "
    "b.viscosity_cst, b.oil_mass_g FROM weighings w JOIN builds b ON b.id = w.build "
    "UNION ALL SELECT 'build', id, version, built_on, viscosity_cst, oil_mass_g FROM builds ORDER BY 1, 2, 3, 4"
)


def test_sheets_of_bench_track_and_scale_give_the_same_in_any_order(
    bevelbook: Run, bring: Callable[..., Outcome], tmp_path: Path
) -> None:
    """Each run is on the build of its day, whichever sheet came in first; facts are those of a clean start."""
    found = []
    sheets = {"bench.csv": BENCH, "at_track.csv": TRACK, "scale.csv": SCALE}
    for number, order in enumerate(itertools.permutations(sheets)):
        db = empty_database(tmp_path / f"{number}.db")
        for name in order:
            assert bring(name, sheets[name], into=db).code == 0
        found.append(asked(db, PLACED))
        for name in order:
            assert bevelbook("--db", db, "import", "--again", name, "--dry-run", "--json").json["changes"] == []
        facts = "SELECT b.built_on, f.runs FROM build_facts f JOIN builds b ON b.id = f.build ORDER BY b.built_on"
        assert asked(db, facts) == [("2026-04-30", 1.0), ("2026-05-01", 2.0), ("2026-05-08", 6.0), ("2026-05-15", 1.0)]
    assert all(one == found[0] for one in found)


def test_a_row_that_only_repeats_the_oil_stops_being_a_build_and_is_one_again(
    bring: Callable[..., Outcome], db: Path, tmp_path: Path
) -> None:
    bring("track.csv", "date,diff,viscosity_cst,runs\n2026-05-03,q1,7000,2\n")
    done = bring("bench.csv", "date,diff,oil_mass_g,viscosity_cst\n2026-05-01,q1,1.86,7000\n")
    assert "  q1/1 is not a build any more: the build before it has the same oil (track.csv, line 2)\n" in done.out
    assert asked(db, "SELECT built_on FROM builds") == [("2026-05-01",)]
    done = bring("other.csv", "date,diff,oil_mass_g,viscosity_cst\n2026-05-02,q1,1.86,5000\n", "--json")
    (turned,) = done.json["builds_changed"]
    assert (turned["is_build"], turned["file"], turned["line"]) == (True, "track.csv", 2)
    assert asked(db, "SELECT built_on, viscosity_cst FROM builds ORDER BY 1") == [
        ("2026-05-01", 7000.0),
        ("2026-05-02", 5000.0),
        ("2026-05-03", 7000.0),
    ]
    assert asked(db, "SELECT b.built_on, x.note_line FROM run_diffs x JOIN builds b ON b.id = x.build") == [
        ("2026-05-03", 2)
    ]


def test_what_was_written_by_hand_stays_when_an_older_sheet_comes_in(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    """A run by hand, a run of the notes that a person put on another build, and a build that an opening names."""
    bring("a.csv", "date,diff,runs,result_note\n2026-05-03,q1,2,noted\n2026-05-04,q1,1,put elsewhere\n")
    bring("b.csv", "date,diff,oil_mass_g,viscosity_cst\n2026-05-10,q1,1.86,9000\n")
    ((unknown,),) = asked(db, "SELECT label FROM builds WHERE built_on = '2026-05-03'")
    ((other,),) = asked(db, "SELECT label FROM builds WHERE built_on = '2026-05-10'")
    ((moved,),) = asked(db, "SELECT x.id FROM run_diffs x JOIN runs r ON r.id = x.run WHERE r.note = 'put elsewhere'")
    with closing(sqlite3.connect(db)) as connection:
        connection.execute(
            "UPDATE run_diffs SET build = (SELECT id FROM builds WHERE label = ?), entered = ? WHERE id = ?",
            (other, '{"build": "typed"}', moved),
        )
        connection.commit()
    assert (
        bevelbook("--db", db, "record", "weighing", f"build={unknown}", "weighed_on=2026-05-03", "mass=14.2").code == 0
    )
    done = bring("old.csv", "date,diff,oil_mass_g,viscosity_cst\n2026-05-01,q1,1.86,5000\n")
    assert "moved" not in done.out
    assert asked(db, "SELECT b.label FROM weighings w JOIN builds b ON b.id = w.build") == [(unknown,)]
    assert asked(db, f"SELECT b.label FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.id = '{moved}'") == [
        (other,)
    ]


def test_a_row_with_a_total_alone_is_a_weighing_with_its_remark_and_venue(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    """No run is counted for it, nor for a build with a remark: the build lost its oil in three runs, not in four."""
    done = bring(
        "o.csv",
        HEAD + "2026-03-01,r1,12.41,1.86,14.27,5000,Hall One,3,first\n"
        "2026-03-08,r1,,,14.20,,Hall One,,weighed.\n"
        "2026-03-09,r1,12.41,1.85,14.26,5000,Hall One,,new o rings\n"
        "2026-03-10,r1,,,,,Hall One,,only a remark\n",
    )
    assert "  4 rows new: 2 builds, 1 weighing only, 2 runs\n" in done.out
    assert "words_only" in done.out
    seen = asked(db, "SELECT line, made, venue, result_note FROM imported_notes ORDER BY line")
    assert seen == [
        (2, "build and run", "Hall One", "first"),
        (3, "weighing", "Hall One", "weighed."),
        (4, "build", None, "new o rings"),
        (5, "run", "Hall One", "only a remark"),
    ]
    facts = "SELECT b.label, f.runs FROM build_facts f JOIN builds b ON b.id = f.build ORDER BY 1"
    assert asked(db, facts) == [("r1/1", 3.0), ("r1/2", 1.0)]
    assert asked(db, "SELECT line, cells FROM note_extras") == [(4, '{"venue":"Hall One"}')]
    assert "4 known already" in bring("o.csv", (db.parent / "o.csv").read_text()).out


OPEN = (
    "SELECT f.name, r.line FROM note_rejects r JOIN note_files f ON f.id = r.note_file "
    "WHERE status = 'rejected' AND closed_by IS NULL ORDER BY 1, 2"
)
THREE = (
    HEAD
    + "2026-03-01,q1,12.41,1.86,14.27,5000,,3,first\n"
    + "2026-03-08,q1,12.40,1.86,~14.26,7000,,2,rebuilt\n"
    + "2026-03-09,q1,,,,,,2-3,how many\n"
    + "2026-03-,q1,,,,,,4,which day\n"
)


def rejected_on_the_first_page(db: Path) -> int:
    from bevelbook.reports.questions import rejected_rows

    with closing(sqlite3.connect(db)) as connection:
        return rejected_rows(connection)


def test_corrected_rows_are_closed_by_the_import_that_takes_them_and_no_longer_asked_for(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path, tmp_path: Path
) -> None:
    """One is corrected, one is still wrong, and one has its day filled in: then the last one."""
    assert bring("o.csv", THREE).code == 1
    assert rejected_on_the_first_page(db) == 3
    text = (tmp_path / "o.rejected.csv").read_text(encoding="utf-8")
    done = bring("o.rejected.csv", text.replace("~14.26", "14.26").replace("2026-03-,", "2026-03-10,"))
    assert (done.code, "  closes 2 rejected rows of o.csv\n" in done.out) == (1, True)
    assert rejected_on_the_first_page(db) == 1
    assert asked(db, OPEN) == [("o.rejected.csv", 3)]
    text = (tmp_path / "o.rejected-2.csv").read_text(encoding="utf-8")
    done = bring("o.rejected-2.csv", text.replace("2-3", "2"), "--json")
    assert done.json["closes"] == [{"rows": 1, "file": "o.rejected.csv"}]
    assert rejected_on_the_first_page(db) == 0
    done = bring("o.csv", THREE)
    assert "  3 rejected rows are closed by another file.\n" in done.out
    assert "nothing is left to correct there.\n" in done.out
    assert "bring that file in" not in done.out
    assert rejected_on_the_first_page(db) == 0


def test_a_dry_run_says_what_would_move_and_what_would_be_closed(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    """It says the same as the import itself, and writes nothing."""
    bring("o.csv", SEASON)
    mended = SEASON.replace("~14.26", "14.26").replace("14.20", "14.02")
    before, files = db.read_bytes(), sorted(one.name for one in db.parent.iterdir())
    would = bring("o.csv", mended, "--dry-run", "--take-changes")
    assert (db.read_bytes(), sorted(one.name for one in db.parent.iterdir())) == (before, files)
    for said in (
        "  1 row changed an earlier one:\n",
        "  closes 1 rejected row of o.csv\n",
        "  3 rows moved from q1/1 to q1/2\n",
        "  A dry run: nothing was written.\n",
    ):
        assert said in would.out
    done = bring("o.csv", mended, "--take-changes")
    assert done.out.startswith(would.out.removesuffix("  A dry run: nothing was written.\n"))


def test_rows_corrected_in_the_sheet_itself_are_closed_too(bring: Callable[..., Outcome], db: Path) -> None:
    bring("o.csv", THREE)
    assert "closes" not in bring("o.csv", THREE + "2026-03-20,q1,,,,,,1,one more\n").out
    assert rejected_on_the_first_page(db) == 3
    done = bring("o.csv", THREE.replace("~14.26", "14.26") + "2026-03-20,q1,,,,,,1,one more\n")
    assert "  closes 1 rejected row of o.csv\n" in done.out
    assert rejected_on_the_first_page(db) == 2


def test_a_renamed_file_of_rejected_rows_is_known_by_line_and_by_what_was_not_corrected(
    bring: Callable[..., Outcome], db: Path, tmp_path: Path
) -> None:
    bring("o.csv", THREE)
    text = (tmp_path / "o.rejected.csv").read_text(encoding="utf-8")
    done = bring("by hand.csv", text.replace("~14.26", "14.26").replace("2026-03-,", "2026-03-10,"))
    assert "  closes 2 rejected rows of o.csv\n" in done.out
    assert asked(db, OPEN) == [("by hand.csv", 3)]


@pytest.mark.parametrize("above", ["", "".join(f"2026-02-0{day},r9,,,,,,1,of another diff\n" for day in range(1, 7))])
def test_a_day_filled_in_in_the_sheet_itself_closes_its_row(
    bring: Callable[..., Outcome], db: Path, above: str
) -> None:
    """Also with rows put in above; another new row of that day does not close it."""
    bring("o.csv", THREE)
    mended = THREE.replace("~14.26", "14.26").replace("2026-03-,", "2026-03-10,").replace(HEAD, HEAD + above)
    done = bring("o.csv", mended + "2026-03-10,q1,,,,,,4,the day after\n")
    assert "  closes 2 rejected rows of o.csv\n" in done.out
    assert asked(
        db, f"SELECT line, closed_line - {above.count('r9')} FROM note_rejects WHERE closed_by IS NOT NULL"
    ) == [
        (3, 3),
        (4, 4),
        (5, 5),
    ]


def test_a_day_filled_in_with_the_remark_completed_closes_its_row_at_its_place(
    bring: Callable[..., Outcome], db: Path
) -> None:
    bring("o.csv", HEAD + "2026-03-,q1,,,,,Hall One,4,which day\n2026-03-11,q1,,,,,,1,\n")
    done = bring("o.csv", HEAD + "2026-03-10,q1,,,,,Hall One,4,it was Tuesday\n2026-03-11,q1,,,,,,1,\n")
    assert "  closes 1 rejected row of o.csv\n" in done.out
    assert rejected_on_the_first_page(db) == 0


SHEET = (
    HEAD
    + "2026-06-01,r1,12.41,1.86,14.27,5000,Hall One,3,first\n"
    + "2026-06-07,r1,12.40,1.85,14.25,7000,Hall One,2,\n"
    + "2026-06-08,r1,,,,,,4,fine\n"
    + "2026-06-09,r1,,,14.2,,,,\n"
)
LATER = (
    SHEET.replace(",2,\n", ",2,new o rings both sides\n").replace(",14.2,", ",14.02,")
    + "2026-06-10,r1,,,,,,1,one more\n"
)
ALL = (
    "SELECT 'build', id, built_on, oil_mass_g, note FROM builds "
    "UNION ALL SELECT 'run', id, run_on, runs, note FROM runs "
    "UNION ALL SELECT 'weighing', id, weighed_on, mass_g, note FROM weighings ORDER BY 1, 3"
)


def test_a_completed_remark_and_a_corrected_number_change_the_earlier_rows(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    """In a script somebody has to say so; then the records keep their ids, and nothing comes in twice."""
    bring("season.csv", SHEET)
    before = asked(db, ALL)
    ((build,),) = asked(db, "SELECT label FROM builds WHERE built_on = '2026-06-07'")
    assert bevelbook("--db", db, "record", "opening", f"build={build}", "opened_on=2026-06-20").code == 0
    done = bring("season.csv", LATER, "--json")
    assert (done.code, done.json["rejected_by_reason"], done.json["added"]) == (1, {"looks_changed": 2}, 1)
    assert [(one["line"], one["line_before"], one["taken_as"]) for one in done.json["looks_changed"]] == [
        (3, 3, "reject"),
        (5, 5, "reject"),
    ]
    assert done.json["looks_changed"][1]["differences"] == [{"column": "total_mass_g", "before": 14.2, "now": 14.02}]
    assert 'result_note was empty, is "new o rings both sides"' in done.json["rejects"][0]["words"]
    done = bring("season.csv", LATER, "--take-changes")
    assert done.code == 0
    assert "  2 rows changed an earlier one:\n" in done.out
    now = asked(db, ALL)
    assert {row[1] for row in before} < {row[1] for row in now}
    assert len(now) == len(before) + 1
    assert asked(db, "SELECT note FROM runs WHERE run_on = '2026-06-07'") == [("new o rings both sides",)]
    assert asked(db, "SELECT mass_g FROM weighings") == [(14.02,)]
    assert asked(db, "SELECT json_extract(content, '$.mass_g') FROM history WHERE table_name = 'weighings'") == [
        (14.2,)
    ]
    assert asked(db, "SELECT b.label FROM openings o JOIN builds b ON b.id = o.build") == [(build,)]
    for text in (LATER, SHEET, LATER + "2026-06-11,r1,,,,,,1,and another\n"):
        assert bring("season.csv", text).code == 0
    assert len(asked(db, ALL)) == len(now) + 1
    assert rejected_on_the_first_page(db) == 0


def test_a_sheet_read_again_after_its_rows_changed_brings_no_old_row_back(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    bring("season.csv", SHEET)
    bring("season.csv", LATER, "--take-changes")
    now = asked(db, ALL)
    for (sha256,) in asked(db, "SELECT sha256 FROM note_files"):
        done = bevelbook("--db", db, "import", "--again", sha256, "--yes", "--json")
        assert (done.code, done.json["changes"]) == (0, [])
    assert asked(db, ALL) == now


@pytest.mark.parametrize("above", ["", "2026-05-01,r9,,,,,,1,of another diff\n2026-05-02,r9,,,,,,1,and again\n"])
@pytest.mark.parametrize(("was", "is_now"), [("06-07", "06-06"), ("06-08", "06-18"), ("06-09", "06-19")])
def test_a_corrected_day_changes_the_earlier_row_and_makes_no_twin(
    bring: Callable[..., Outcome], db: Path, was: str, is_now: str, above: str
) -> None:
    """A build with its run, a run and a weighing; also with rows put in above and below."""
    bring("season.csv", SHEET)
    count = len(asked(db, ALL))
    later = SHEET.replace(f"2026-{was}", f"2026-{is_now}").replace(HEAD, HEAD + above) + "2026-06-20,r1,,,,,,1,more\n"
    done = bring("season.csv", later)
    assert done.code == 1
    assert f'changed: date was "2026-{was}", is "2026-{is_now}"' in done.out
    assert bring("season.csv", later, "--take-changes").code == 0
    now = asked(db, ALL)
    assert len(now) == count + 1 + (3 if above else 0)
    assert (f"2026-{is_now}" in str(now), f"2026-{was}" in str(now)) == (True, False)
    for text in (later, SHEET, later + "2026-06-21,r1,,,,,,2,and more\n"):
        assert bring("season.csv", text).code == 0
    assert len(asked(db, ALL)) == len(now) + 1


def test_a_sheet_read_again_asks_about_its_changed_rows_as_an_import_does(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    """They stay rejected until somebody says what they are; then the earlier rows change, without twins."""
    bring("season.csv", SHEET)
    bring("season.csv", LATER)
    before = asked(db, ALL)
    ((sha256,),) = asked(db, "SELECT f.sha256 FROM note_files f WHERE f.rejected = 2")
    again = ("--db", db, "import", "--again", sha256, "--yes")
    done = bevelbook(*again)
    assert (done.code, "No record changes" in done.out) == (1, True)
    assert "line 5: looks_changed. looks like line 5 of season.csv, changed" in done.out
    assert asked(db, ALL) == before
    done = bevelbook(*again, "--take-changes")
    assert (done.code, "  2 rows changed an earlier one:\n" in done.out) == (0, True)
    assert {row[1] for row in asked(db, ALL)} == {row[1] for row in before}
    assert asked(db, "SELECT mass_g FROM weighings") == [(14.02,)]
    assert rejected_on_the_first_page(db) == 0
    assert bevelbook(*again, "--json").json["changes"] == []


def test_a_row_put_in_above_one_like_it_is_new(bring: Callable[..., Outcome], db: Path) -> None:
    head = "date,diff,oil_mass_g,viscosity_cst,runs\n"
    bring("season.csv", head + "2026-06-01,r1,1.86,5000,3\n2026-06-03,r1,,,3\n2026-06-05,r1,,,3\n")
    done = bring(
        "season.csv",
        head + "2026-06-01,r1,1.86,5000,3\n2026-06-02,r1,,,3\n2026-06-03,r1,,,3\n2026-06-05,r1,,,3\n"
        "2026-06-06,r1,,,3\n",
    )
    assert (done.code, "  2 rows new: 2 runs; 3 known already\n" in done.out) == (0, True)


def test_an_older_state_that_comes_in_again_answers_no_question_about_a_newer_one(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    bring("season.csv", SHEET)
    bring("season.csv", LATER)
    assert bevelbook("--db", db, "take-back", "1").code == 0
    bring("season.csv", SHEET)
    assert [line for _, line in asked(db, OPEN)] == [3, 5]
    bring("season.csv", LATER + "2026-06-11,r1,,,,,,1,and another\n", "--take-changes")
    assert rejected_on_the_first_page(db) == 0


def test_a_changed_row_may_be_a_new_one_or_be_left_out(bring: Callable[..., Outcome], db: Path) -> None:
    bring("season.csv", SHEET)
    count = len(asked(db, ALL))
    assert bring("season.csv", LATER, "--as-new").code == 0
    assert len(asked(db, ALL)) == count + 4, "a build with its run, a weighing, and the run of the last row"


def test_on_a_terminal_the_earlier_rows_are_asked_about(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One is changed, the other left out: it is asked about again next time."""
    bring("season.csv", SHEET)
    answers = iter(["e", "c", "l"])
    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr("click.prompt", lambda *_given, **_more: next(answers))
    done = bring("season.csv", LATER)
    assert done.code == 0
    assert "2 rows look like earlier ones, changed" in done.err
    assert asked(db, "SELECT mass_g FROM weighings") == [(14.2,)]
    assert asked(db, "SELECT note FROM runs WHERE run_on = '2026-06-07'") == [("new o rings both sides",)]
    assert asked(db, "SELECT line, status FROM note_rejects WHERE reason = 'looks_changed'") == [(5, "skipped")]


def test_a_copy_under_another_name_is_known_by_its_rows_and_a_sheet_of_another_driver_is_not(
    bring: Callable[..., Outcome], db: Path
) -> None:
    more = "2026-06-12,r1,,,,,,1,a\n2026-06-13,r1,,,,,,1,b\n"
    bring("season.csv", SHEET + more)
    done = bring("season copy.csv", LATER + more, "--json")
    assert done.json["rejected_by_reason"] == {"looks_changed": 2}
    other = HEAD + "".join(f"2026-06-0{n},r1,,,,,,{n},of the other\n" for n in range(1, 9))
    assert bring("season.csv", other).code == 0


KEPT = (
    "SELECT note_file, line, status, reason, closed_by FROM note_rejects "
    "UNION ALL SELECT note_file, line, cells, '', '' FROM note_extras ORDER BY 1, 2, 3"
)
FROM_ROWS = " UNION ALL ".join(
    f"SELECT '{table}', id, note_file, note_line, {value} FROM {table}"
    for table, value in (("builds", "note"), ("weighings", "mass_g"), ("runs", "note"), ("run_diffs", "build"))
)


def test_an_import_that_changed_earlier_rows_is_taken_back_whole(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    bring("season.csv", SHEET)
    before = sorted(asked(db, FROM_ROWS), key=str), asked(db, KEPT)
    assert bring("season.csv", LATER, "--take-changes").code == 0
    assert sorted(asked(db, FROM_ROWS), key=str) != before[0]
    assert bevelbook("--db", db, "take-back").code == 0
    assert (sorted(asked(db, FROM_ROWS), key=str), asked(db, KEPT)) == before
    assert bring("season.csv", LATER, "--take-changes").code == 0
    assert asked(db, "SELECT mass_g FROM weighings") == [(14.02,)]


def test_a_sheet_goes_on_under_the_old_names_of_what_a_person_renamed(
    bevelbook: Run, bring: Callable[..., Outcome], db: Path
) -> None:
    """The diff, its oil and the track were renamed in the database; the sheet keeps the names it always had."""
    head = "date,diff,oil_mass_g,fluid,venue,runs\n"
    first = head + "2026-03-01,q1,1.86,house 5k,Quay,3\n"
    assert bring("s.csv", first).code == 0
    for kind, name, new in (
        ("diff", "q1", "label=quick"),
        ("fluid", "house 5k", "label=5000"),
        ("venue", "Quay", "name=Pier"),
    ):
        assert bevelbook("--db", db, "record", kind, name, new).code == 0
    done = bring("s.csv", first + "2026-03-08,q1,,house 5k,Quay,2\n")
    assert (done.code, done.err) == (0, "")
    assert "1 row new: 1 run; 1 known already" in done.out
    assert asked(db, "SELECT d.label, f.runs FROM build_facts f JOIN diffs d ON d.id = f.diff") == [("quick", 5.0)]
    assert asked(db, "SELECT count(*) FROM fluids UNION ALL SELECT count(*) FROM venues") == [(1,), (1,)]


PLANTED = (
    "date,diff,fluid,dry_mass_g,oil_mass_g,total_mass_g,runs,diff_temp_c,grip,call,result_note\n"
    "2026-03-01,q1,5k,12.40,1.86,14.26,,,,,built\n2026-03-22,q1,,,,,4,25,high,,planted b\n"
)
IN_RUNS = (
    "SELECT r.run_on, r.runs, r.call, r.note, x.position, x.diff_temp_c FROM runs r JOIN run_diffs x ON x.run = r.id"
)


@pytest.mark.parametrize(
    ("by_hand", "was", "is_now", "run"),
    [
        (("rear=q1",), ",25,", ",26,", ("2026-03-22", 4, None, "planted b", "rear", 26)),
        (("rear=q1", "rear_temp=44"), ",25,", ",26,", ("2026-03-22", 4, None, "planted b", "rear", 44)),
        (("rear=q1", "rear_temp=44"), "d b", "d both", ("2026-03-22", 4, None, "planted both", "rear", 44)),
        (("call=keep",), "03-22", "03-21", ("2026-03-21", 4, "keep", "planted b", None, 25)),
        (("run_on=2026-03-20",), "d b", "d both", ("2026-03-20", 4, None, "planted both", None, 25)),
        (("runs=5",), ",4,", ",3,", ("2026-03-22", 5, None, "planted b", None, 25)),
    ],
)
def test_what_a_person_set_stays_and_makes_no_twin_when_the_sheet_changes(
    bevelbook: Run,
    bring: Callable[..., Outcome],
    db: Path,
    by_hand: tuple[str, ...],
    was: str,
    is_now: str,
    run: tuple[object, ...],
) -> None:
    """Place and temperature typed with the run, a call and the day: each sheet is known, and asked about once."""
    bring("s.csv", PLANTED)
    assert bevelbook("--db", db, "record", "run", "2026-03-22/1", *by_hand).code == 0
    changed = PLANTED.replace(was, is_now)
    done = bring("s.csv", changed, "--json")
    assert (done.code, done.json["rejected_by_reason"]) == (1, {"looks_changed": 1})
    typed = {"position", "call", "date", *(["diff_temp_c"] if "rear_temp=44" in by_hand else ["runs"])}
    assert not (typed - {"date" if is_now == "03-21" else ""}) & {
        one["column"] for one in done.json["looks_changed"][0]["differences"]
    }
    assert bring("s.csv", changed, "--take-changes").code == 0
    for text in (changed, PLANTED, changed):
        assert bring("s.csv", text).code == 0
        assert asked(db, IN_RUNS) == [run]


def test_a_cell_that_a_person_set_is_named_as_staying(bevelbook: Run, bring: Callable[..., Outcome], db: Path) -> None:
    bring("s.csv", PLANTED)
    bevelbook("--db", db, "record", "run", "2026-03-22/1", "runs=5")
    done = bring("s.csv", PLANTED.replace("d b", "d both"))
    assert (done.code, "; stays as a person set it: runs" in done.out, "runs was" in done.out) == (1, True, False)
