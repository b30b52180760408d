"""What a row becomes: which build it belongs to, what makes another one, in which order. All data are constructed."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from bevelbook.declare.errors import DatabaseError, InputError, UnknownNameError
from bevelbook.notes.decoding import unpacked
from bevelbook.notes.importing import import_notes
from bevelbook.notes.report import Report
from bevelbook.notes.reread import carry_out, find_kept, revise
from bevelbook.notes.settings import Settings

TODAY = "2026-06-30"
Bring = Callable[..., Report]


@pytest.fixture
def bring(database: sqlite3.Connection, path: Path) -> Bring:
    """Bring a file of notes in, given as its lines."""

    def run(*lines: str, name: str = "notes.csv", **settings: Any) -> Report:
        file = io.BytesIO("\n".join([*lines, ""]).encode())
        return import_notes(file, name, database, path, Settings(today=TODAY, **settings), want_rows=True)

    return run


def asked(database: sqlite3.Connection, sql: str) -> list[tuple[Any, ...]]:
    return [tuple(row) for row in database.execute(sql)]


RUNS = "SELECT b.label, r.runs FROM run_diffs x JOIN builds b ON b.id = x.build JOIN runs r ON r.id = x.run ORDER BY 2"


# Which build a row belongs to


def test_runs_of_the_day_of_a_build_go_to_it_in_the_order_of_lines(bring: Bring, database: sqlite3.Connection) -> None:
    bring(
        "date,diff,oil_mass_g,runs",
        "2026-05-02,a,1.86,1",
        "2026-05-03,a,,2",
        "2026-05-03,a,1.90,3",
        "2026-05-03,a,,4",
        "2026-05-04,a,,5",
    )
    assert asked(database, RUNS) == [("a/1", 1.0), ("a/1", 2.0), ("a/2", 3.0), ("a/2", 4.0), ("a/2", 5.0)]


def test_a_run_goes_to_the_build_that_the_database_holds_up_to_its_day(
    bring: Bring, database: sqlite3.Connection
) -> None:
    bring("date,diff,oil_mass_g", "2026-05-02,a,1.86", "2026-05-04,a,1.90")
    bring("date,diff,runs", "2026-05-02,a,1", "2026-05-03,a,2", "2026-05-04,a,3", name="later.csv")
    assert asked(database, RUNS) == [("a/1", 1.0), ("a/1", 2.0), ("a/2", 3.0)]


def test_of_a_build_of_the_file_and_one_held_the_later_takes_the_run_and_the_files_own_on_one_day(
    bring: Bring, database: sqlite3.Connection
) -> None:
    bring("date,diff,oil_mass_g", "2026-05-02,a,1.86", "2026-05-06,a,1.90")
    bring(
        "date,diff,oil_mass_g,runs",
        "2026-05-04,a,1.70,1",
        "2026-05-05,a,,2",
        "2026-05-06,a,,3",
        name="between.csv",
    )
    assert asked(database, RUNS) == [("a/3", 1.0), ("a/3", 2.0), ("a/2", 3.0)]
    bring("date,diff,oil_mass_g,runs", "2026-05-06,a,1.60,4", "2026-05-06,a,,5", name="same.csv")
    assert asked(database, RUNS)[-2:] == [("a/4", 4.0), ("a/4", 5.0)]


def test_a_row_before_every_build_makes_one_that_says_nothing(bring: Bring, database: sqlite3.Connection) -> None:
    bring("date,diff,oil_mass_g", "2026-05-02,a,1.86")
    report = bring("date,diff,runs", "2026-05-01,a,1", name="earlier.csv")
    assert report.made == {"builds": 1, "runs": 1}
    assert asked(database, "SELECT built_on, oil_mass_g FROM builds ORDER BY 1") == [
        ("2026-05-01", None),
        ("2026-05-02", 1.86),
    ]


def test_diffs_are_kept_apart(bring: Bring, database: sqlite3.Connection) -> None:
    bring("date,diff,oil_mass_g,runs", "2026-05-02,a,1.86,", "2026-05-02,b,1.90,", "2026-05-03,a,,1", "2026-05-03,b,,2")
    assert asked(database, RUNS) == [("a/1", 1.0), ("b/1", 2.0)]


# What makes a build


@pytest.mark.parametrize(
    ("row", "builds"),
    [
        ("house 7k,7000", 1),
        ("house 7k,", 1),
        (",7000", 1),
        (",", 1),
        ("house 8k,7000", 2),
        ("house 7k,8000", 2),
        (",8000", 2),
        ("house 8k,", 2),
    ],
)
def test_another_oil_or_viscosity_makes_a_build_and_the_same_does_not(
    bring: Bring, database: sqlite3.Connection, row: str, builds: int
) -> None:
    bring("date,diff,fluid,viscosity_cst,runs", "2026-05-02,a,house 7k,7000,1", f"2026-05-03,a,{row},2")
    assert asked(database, "SELECT count(*) FROM builds") == [(builds,)]
    assert asked(database, RUNS)[-1] == (f"a/{builds}", 2.0)


def test_the_first_row_of_a_diff_with_its_oil_and_a_mass_is_a_fill_and_one_without_is_a_weighing(
    bring: Bring, database: sqlite3.Connection
) -> None:
    head = "date,diff,fluid,viscosity_cst,total_mass_g"
    report = bring(head, "2026-05-02,a,house 7k,,14.26", "2026-05-02,b,,7000,14.26", "2026-05-02,c,,,14.26")
    assert report.made == {"builds": 3, "weighings": 1}
    assert asked(database, "SELECT label, filled_mass_g FROM builds ORDER BY 1") == [
        ("a/1", 14.26),
        ("b/1", 14.26),
        ("c/1", None),
    ]


def test_a_viscosity_of_a_note_says_that_it_is_from_a_note(bring: Bring, database: sqlite3.Connection) -> None:
    bring("date,diff,oil_mass_g,viscosity_cst", "2026-05-02,a,1.86,7000", "2026-05-03,a,1.90,")
    bring("date,diff,viscosity_cst,runs", "2026-05-04,b,7000,1", "2026-05-05,c,,1", name="more.csv")
    found = asked(database, "SELECT viscosity_cst, viscosity_from FROM builds ORDER BY built_on")
    assert found == [(7000.0, "note"), (None, None), (7000.0, "note"), (None, None)]


@pytest.mark.parametrize(
    ("cells", "is_unknown"),
    [("12.4,1.86,14.26", False), ("12.4,,14.26", False), (",1.86,", False), ("12.4,,", True), (",,", True)],
)
def test_a_build_of_which_nothing_says_how_much_oil_went_in_is_named(
    bring: Bring, cells: str, is_unknown: bool
) -> None:
    report = bring("date,diff,dry_mass_g,oil_mass_g,total_mass_g,runs", f"2026-05-02,a,{cells},1")
    assert ("fill_unknown:line 2" in report.warnings) == is_unknown


def test_a_weighing_takes_the_basis_of_its_build_and_stands_beside_a_run(
    bring: Bring, database: sqlite3.Connection
) -> None:
    bring("date,diff,oil_mass_g,total_mass_g,runs", "2026-05-02,a,1.86,14.26,", "2026-05-03,a,,14.25,2")
    assert asked(database, "SELECT weighed_on, mass_g, mass_basis FROM weighings") == [("2026-05-03", 14.25, None)]
    assert asked(database, RUNS) == [("a/1", 2.0)]


def test_a_row_that_says_nothing_is_a_run_of_none_unless_it_makes_the_first_build(
    bring: Bring, database: sqlite3.Connection
) -> None:
    report = bring("date,diff,runs", "2026-05-02,a,", "2026-05-03,a,")
    assert report.made == {"builds": 1, "runs": 1}
    assert asked(database, RUNS) == [("a/1", 0.0)]


def test_labels_go_on_from_those_that_are_there(bring: Bring, database: sqlite3.Connection) -> None:
    bring("date,diff,oil_mass_g,runs", "2026-05-02,a,1.86,1", "2026-05-02,b,1.86,1")
    bring("date,diff,oil_mass_g,runs", "2026-05-02,a,1.90,2", "2026-05-03,a,1.70,3", name="more.csv")
    assert asked(database, "SELECT label FROM builds ORDER BY 1") == [("a/1",), ("a/2",), ("a/3",), ("b/1",)]
    assert asked(database, "SELECT label FROM runs ORDER BY 1") == [
        ("2026-05-02/1",),
        ("2026-05-02/2",),
        ("2026-05-02/3",),
        ("2026-05-03/1",),
    ]


def test_a_name_that_two_records_have_is_the_one_that_stands_for_both(
    bring: Bring, database: sqlite3.Connection
) -> None:
    bring("date,diff,builder,oil_mass_g", "2026-05-02,a,ana,1.86")
    database.execute("INSERT INTO people (id, version, created_at, updated_at, name) SELECT 'z', 'z', '9', '9', 'ana'")
    bring("date,diff,builder,oil_mass_g", "2026-05-03,a,ana,1.86", name="more.csv")
    assert asked(database, "SELECT DISTINCT builder FROM builds") == [("z",)], "made by hand"


# Lines that are not rows


def test_lines_that_hold_no_row_are_skipped_each_for_its_reason(bring: Bring) -> None:
    report = bring(
        "sep=,",
        "our season,,",
        ",,",
        "date,diff,dry mass",
        ",,g",
        "2026-05-02,a,12.4",
        "Date,Diff,dry mass",
        ",,",
        "Total:,,12.4",
        "the end",
    )
    found = {row["line"]: row["reason"] for row in report.rows or [] if row["status"] != "accepted"}
    assert found == {
        1: "sep_hint",
        2: "preamble",
        3: "blank",
        5: "units_row",
        7: "repeated_header",
        8: "blank",
        9: "summary_row",
        10: "footer",
    }
    values = {row["line"]: row["value"] for row in report.rows or [] if row["status"] == "skipped" and row["value"]}
    assert values == {9: "Total:", 10: "the end"}
    assert (report.read, report.accepted, report.skipped, report.rejected) == (9, 1, 8, 0)


def test_a_row_above_the_heading_is_rejected_and_a_title_with_a_day_is_skipped(bring: Bring) -> None:
    titles = ("season,2026-05-01,", "2026-05-01,,", ",,12.4")
    report = bring("2026-05-01,b,12.4", *titles, "date,diff,dry mass", "2026-05-02,a,12.4")
    assert report.left == {("rejected", "preamble"): 1, ("skipped", "preamble"): 3}
    assert (report.accepted, [one.line for one in report.rejections]) == (1, [1])
    assert "below the heading" in (report.rejections[0].words or "")


@pytest.mark.parametrize(
    ("row", "reason"),
    [
        ("2026-05-02,a,", None),
        ("2026-05-02,a", "too_few_fields"),
        ("2026-05-02,a,12.4,,", None),
        ("2026-05-02,a,12.4,,x", "too_many_fields"),
        ("2026-05-02", "too_few_fields"),
        ("2026-05-02,,12.4", "missing_required"),
        (",a,12.4", "missing_required"),
    ],
)
def test_a_row_may_lack_or_add_empty_cells_at_its_end_alone(bring: Bring, row: str, reason: str | None) -> None:
    report = bring("date,diff,dry_mass_g,", row, "2026-05-03,b,12.4,")
    assert [one.reason for one in report.rejections] == ([reason] if reason else [])
    assert report.accepted == (1 if reason else 2)


def test_a_fault_of_the_heading_is_told_with_its_line(bring: Bring) -> None:
    report = bring("our season,,", ",,", "date,diff,Diff", "2026-05-02,a,b")
    assert (report.outcome, report.file_reason) == ("rejected", "duplicate_header")
    assert "line 3" in str(report.message)


def test_rejected_rows_that_cannot_be_written_are_said_with_where_else_they_are(
    database: sqlite3.Connection, path: Path, tmp_path: Path
) -> None:
    file = io.BytesIO(b"date,diff\nx,a\n2026-05-02,a\n")
    with pytest.raises(DatabaseError) as caught:
        import_notes(
            *(file, "notes.csv", database, path, Settings(today=TODAY)),
            rejects=lambda _: tmp_path / "no" / "rejects.csv",
        )
    assert caught.value.code == "not_writable"
    assert "note_rejects" in str(caught.value.remedy)
    assert asked(database, "SELECT count(*) FROM builds") == asked(database, "SELECT count(*) FROM note_rejects")


@pytest.mark.parametrize(
    ("row", "is_heading"), [("diff,date,", True), ("runs,x,", False), ("date,,", False), ("diff,runs,date", True)]
)
def test_a_row_that_names_two_columns_the_day_among_them_is_another_heading(
    bring: Bring, row: str, is_heading: bool
) -> None:
    report = bring("date,diff,runs", "2026-05-02,a,1", row)
    assert report.file_reason == ("header_changed" if is_heading else None)
    assert report.rejected == (0 if is_heading else 1)


def test_findings_stand_by_line_though_rows_are_placed_by_day(bring: Bring) -> None:
    report = bring("date,diff,dry_mass_g", *(f"2026-05-0{9 - n},a{n},9.5" for n in range(3)))
    assert report.warnings == [f"fill_unknown:line {line}" for line in (2, 3, 4)]


# What is kept of a file


def test_a_file_is_kept_once_with_what_was_said_of_it_and_what_came_of_it(
    bring: Bring, database: sqlite3.Connection
) -> None:
    rows = ("date,diff,dry_mass_g", "03/02/2026,a,9,5", "2026-05-04,b,x", ",,")
    first = bring(*(row.replace(",", ";").replace("9;5", "9,5") for row in rows), date_order="dmy", header_line=1)
    assert first.note_file is not None
    (kept,) = asked(database, "SELECT id, name, options, accepted, rejected, skipped FROM note_files")
    assert kept == (first.note_file, "notes.csv", '{"date_order": "dmy", "header_line": 1}', 1, 1, 1)
    left = asked(database, "SELECT line, status, reason, value FROM note_rejects ORDER BY line")
    assert left == [(3, "rejected", "number_unparseable", "x"), (4, "skipped", "blank", None)]
    again = bring(
        *(row.replace(",", ";").replace("9;5", "9,5") for row in rows), name="other.csv", allow_out_of_range=True
    )
    assert (again.added, again.known) == (0, 1)
    assert asked(database, "SELECT name, options FROM note_files") == [
        ("notes.csv", '{"date_order": "dmy", "header_line": 1, "allow_out_of_range": true}')
    ]
    assert len(asked(database, "SELECT line FROM note_rejects")) == 2
    entries = asked(database, "SELECT asked FROM entries WHERE asked LIKE 'import%' ORDER BY rowid")
    assert entries == [("import notes.csv",), ("import other.csv",)]


def test_records_say_who_brought_them_in(database: sqlite3.Connection, path: Path) -> None:
    file = io.BytesIO(b"date,diff,dry_mass_g\n2026-05-02,a,9.5\n")
    import_notes(file, "notes.csv", database, path, Settings(today=TODAY), by="ana")
    found = asked(database, "SELECT updated_by, created_at = updated_at FROM builds")
    assert found == asked(database, "SELECT updated_by, created_at = updated_at FROM diffs") == [("ana", 1)]


def test_what_is_done_besides_is_done_once_for_a_file_that_added_something(
    database: sqlite3.Connection, path: Path
) -> None:
    done: list[tuple[str, int]] = []
    said: list[tuple[str, int, int]] = []

    def also(note_file: str) -> None:
        done.append((note_file, database.execute("SELECT count(*) FROM build_facts").fetchone()[0]))

    for _ in range(2):
        file = io.BytesIO(b"date,diff,dry_mass_g\n2026-05-02,a,9.5\n")
        report = import_notes(
            *(file, "notes.csv", database, path, Settings(today=TODAY)),
            also=also,
            progress=lambda what, count, of: said.append((what, count, of)),
        )
    assert done == [(report.note_file, 1)], "after the facts, and not where nothing is new"
    assert [what for what, _, _ in said[: len(said) // 2]] == ["reading", "indexing", "working out"]


def test_fluids_that_differ_in_blanks_case_and_marks_alone_are_named_and_kept_apart(
    bring: Bring, database: sqlite3.Connection
) -> None:
    rows = [f"2026-05-02,{n},{name}" for n, name in enumerate(("house 7k", "House-7K", "slow", "house 7k"))]
    report = bring("date,diff,fluid", *rows)
    assert "similar_names:house 7k|House-7K" in report.warnings
    assert asked(database, "SELECT label FROM fluids ORDER BY 1") == [("House-7K",), ("house 7k",), ("slow",)]


def test_columns_without_a_heading_are_named_where_they_hold_anything(bring: Bring) -> None:
    report = bring(
        "date,diff,,dry_mass_g,,,weather,line", "2026-05-02,a,,9.5,x,,sun,7", "2026-05-03,b,,9.5,,,,", ",,,,,,,"
    )
    assert [one for one in report.warnings if "column" in one] == ["unknown_column:weather", "blank_header_column:5"]
    assert report.columns == {"date": "date", "diff": "diff", "dry_mass_g": "dry_mass_g"}


def test_rows_are_given_with_their_values_and_warnings_by_line(bring: Bring) -> None:
    report = bring("date,diff,dry_mass_g", "x,a,9.5", "2026-05-02 18:30,b,9.5", "2026-05-02,b,9.5")
    assert [(row["line"], row["status"]) for row in report.rows or []] == [
        (2, "rejected"),
        (3, "accepted"),
        (4, "accepted"),
    ]
    second = (report.rows or [])[1]
    assert sorted(second["warnings"]) == ["fill_unknown", "time_dropped"]  # type: ignore[call-overload]
    assert {name: value for name, value in second["values"].items() if value is not None} == {  # type: ignore[attr-defined]
        "date": "2026-05-02",
        "diff": "b",
        "dry_mass_g": 9.5,
    }


def test_a_workbook_is_kept_byte_by_byte_and_can_be_read_again(database: sqlite3.Connection, path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["date", "diff", "dry_mass_g", "runs"])
    sheet.append(["2026-05-02", "a", 9.5, 2])
    file = io.BytesIO()
    book.save(file)
    assert import_notes(file, "notes.xlsx", database, path, Settings(today=TODAY)).accepted == 1
    (packed,) = asked(database, "SELECT packed FROM note_bytes")[0]
    assert unpacked(packed) == file.getvalue()
    revision = revise(database, path, "notes.xlsx", Settings(today=TODAY), by="ana")
    assert (revision.report.accepted, revision.changes) == (1, [])


def test_a_formula_of_a_workbook_without_a_stored_value_is_refused(database: sqlite3.Connection, path: Path) -> None:
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    assert sheet is not None
    sheet.append(["date", "diff", "dry_mass_g"])
    sheet.append(["2026-05-02", "a", "=4+5"])
    file = io.BytesIO()
    book.save(file)
    report = import_notes(file, "notes.xlsx", database, path, Settings(today=TODAY))
    assert (report.accepted, report.left) == (0, {("rejected", "formula_in_cell"): 1})


# A file that is read again


def test_of_two_fields_that_a_row_gives_only_the_one_that_differs_is_changed(
    bring: Bring, database: sqlite3.Connection, path: Path
) -> None:
    """The grip is the team's own word for two of the three; the temperature of each stays as it is."""
    row = "date,diff,oil_mass_g,runs,track_temp_c,grip"
    bring(row, "2026-05-02,a,1.86,1,31,high", "2026-05-03,a,,2,32,high", "2026-05-04,a,,3,33,low")
    kept = asked(database, "SELECT name FROM note_files")
    assert kept == [("notes.csv",)]
    database.execute("UPDATE runs SET grip = 'medium', track_temp_c = 32 WHERE runs = 2")
    database.execute("UPDATE runs SET grip = 'low', track_temp_c = 40 WHERE runs = 3")
    revision = revise(database, path, "notes.csv", Settings(today=TODAY), by="ana")
    changed = {(one.what, one.kind, one.line, one.columns) for one in revision.changes}
    assert changed == {("changed", "run", 3, ("grip",)), ("changed", "run", 4, ("track_temp_c",))}
    assert "    line 3: run changed (grip)" in list(revision.lines())
    assert "  2 runs changed" in list(revision.lines())
    assert revision.as_dict()["dry_run"]
    assert revision.as_dict()["changes"] == [{"what": "changed", "record": "run", "count": 2}]
    carry_out(database, path, revision, by="ana")
    assert not revision.as_dict()["dry_run"]
    assert asked(database, "SELECT runs, track_temp_c, grip FROM runs ORDER BY 1") == [
        (1.0, 31.0, "high"),
        (2.0, 32.0, "high"),
        (3.0, 33.0, "low"),
    ]
    assert asked(database, "SELECT options, accepted, rejected FROM note_files") == [(None, 3, 0)]
    entry = asked(database, "SELECT asked FROM entries ORDER BY rowid DESC LIMIT 1")
    assert entry == [("import --again notes.csv",)]
    again = revise(database, path, "notes.csv", Settings(today=TODAY), by="ana")
    assert (again.changes, list(again.lines())[-1]) == ([], "  No record would change.")


def test_a_label_changed_by_hand_stays(bring: Bring, database: sqlite3.Connection, path: Path) -> None:
    bring("date,diff,oil_mass_g", "2026-05-02,a,1.86")
    database.execute("UPDATE builds SET label = 'the good one'")
    assert revise(database, path, "notes.csv", Settings(today=TODAY), by="ana").changes == []


def test_a_kept_file_is_found_by_name_id_or_the_first_six_digits_of_its_hash(
    bring: Bring, database: sqlite3.Connection
) -> None:
    report = bring("date,diff,oil_mass_g", "2026-05-02,a,1.86", "x,a,1.86")
    found = find_kept(database, "notes.csv")
    assert (found.id, found.accepted, found.rejected) == (report.note_file, 1, 1)
    assert find_kept(database, found.id) == find_kept(database, found.sha256[:6].upper()) == found
    for wrong in (found.sha256[:5], "other.csv", found.sha256[1:8]):
        with pytest.raises(UnknownNameError):
            find_kept(database, wrong)
    bring("date,diff,oil_mass_g", "2026-05-03,a,1.86")
    with pytest.raises(InputError) as caught:
        find_kept(database, "notes.csv")
    assert caught.value.code == "ambiguous_name"
    assert caught.value.what.startswith("2 kept files")
    assert found.sha256[:12] in str(caught.value.remedy)


def test_a_file_that_would_be_refused_now_changes_nothing(
    bring: Bring, database: sqlite3.Connection, path: Path
) -> None:
    bring("date,diff,oil_mass_g", "2026-05-02,a,1.86")
    revision = revise(database, path, "notes.csv", Settings(today=TODAY, header_line=2), by="ana")
    assert (revision.report.outcome, revision.changes) == ("rejected", [])
    assert "not imported (no_heading)" in next(revision.lines())


def test_more_than_twenty_changes_are_counted(bring: Bring, database: sqlite3.Connection, path: Path) -> None:
    for count, more in ((20, False), (21, True)):
        name = f"{count}.csv"
        bring("date,diff,runs", *(f"2026-05-0{count - 19},{count}-{n},1" for n in range(count)), name=name)
        database.execute("UPDATE runs SET runs = 2 WHERE run_on = ?", (f"2026-05-0{count - 19}",))
        lines = list(revise(database, path, name, Settings(today=TODAY), by="ana").lines())
        assert lines[1] == f"  {count} runs changed"
        assert (lines[-1] == "    and 1 more") == more
        assert len([line for line in lines if line.startswith("    line ")]) == 20


def test_one_change_is_said_in_the_singular_and_options_are_kept_as_they_were_typed(
    bring: Bring, database: sqlite3.Connection, path: Path
) -> None:
    bring("date,diff,runs,Gefühl", "2026-05-02,a,1,keep")
    settings = Settings(today=TODAY, columns={"gefühl": "call"})
    revision = revise(database, path, "notes.csv", settings, by="ana")
    assert {"  1 run added", "  1 run removed"} < set(revision.lines())
    carry_out(database, path, revision, by="ana")
    assert asked(database, "SELECT options FROM note_files") == [('{"columns": {"gefühl": "call"}}',)]


def test_cells_without_a_column_are_kept_for_the_rows_that_are_taken(
    bring: Bring, database: sqlite3.Connection
) -> None:
    bring("date,diff,runs,mood", "2026-05-02,a,1,calm", "2026-05-03,a,many,cross", "2026-05-04,a,2,glad")
    assert asked(database, "SELECT line, cells FROM note_extras ORDER BY line") == [
        (2, '{"mood":"calm"}'),
        (4, '{"mood":"glad"}'),
    ]
