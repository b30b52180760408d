"""Rejected rows mended one by one: as an import of the file of corrected rows, but for those that are still wrong."""

from __future__ import annotations

import io
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from datetime import date
from pathlib import Path

import pytest
from conftest import empty_database

from bevelbook.notes.importing_parts import import_all
from bevelbook.notes.mending import BroughtIn, Mend, bring_in, change_earlier
from bevelbook.notes.mending_answers import answers_of
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.rejected_rows import RejectedRow, files_with_rejects, kept_file_called, open_rows
from bevelbook.notes.rejects import rejects_path
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.wording import without_options
from bevelbook.plugin.registry import Registry
from bevelbook.reading import Options, read
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.ids import new_id
from bevelbook.store.opening import open_for_writing
from bevelbook.taking_back.take_back import take_back

SEASON = """date,builder,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,grip,runs,note
2024-02-13,ana,M1,21.30,1.35,22.65,7000,high,2,fine
14/02/2024x,ana,M1,21.30,1.35,22.65,7000,high,2,slip in the day
2024-02-15,ana,M1,21.30,1.3g6,22.66,7000,high,2,slip in the oil
2024-02-16,ana,M1,21.30,1.35,22.65,7.000,high,2,dot
2024-02-17,ana,M1,21.30,1.35,23.65,7000,high,2,masses
"""
"""Invented."""
RECORDS = {
    "builds": "label, built_on, dry_mass_g, oil_mass_g, filled_mass_g, viscosity_cst, note, note_line",
    "runs": "label, run_on, runs, grip, note, note_line",
    "run_diffs": "build, run, note_line",
    "note_rejects": "line, status, reason, closed_line",
}


def imported(connection: sqlite3.Connection, path: Path, text: str, name: str = "season.csv", **more: object) -> Report:
    (report,) = import_all(io.BytesIO(text.encode()), name, connection, path, Settings(), by="ana", **more)  # type: ignore[arg-type]
    assert report.note_file, report.message
    return report


def mended(row: RejectedRow, cell: int, text: str, *, as_it_is: bool = False) -> Mend:
    cells = [*row.cells]
    cells[cell] = text
    return Mend(row, cells, as_it_is)


def brought_in(connection: sqlite3.Connection, path: Path, file: str, mends: Sequence[Mend], **more: str) -> BroughtIn:
    given = {"by": "ben", "asked": "a test", "entry_id": new_id(), **more}
    return bring_in(connection, path, file, mends, also=lambda _file: None, **given)


def lines(connection: sqlite3.Connection, file: str) -> list[int]:
    return [one.line for one in open_rows(connection, file)]


def rows_of(connection: sqlite3.Connection) -> dict[str, list[tuple[object, ...]]]:
    return {
        table: [tuple(row) for row in connection.execute(f"SELECT id, {columns} FROM {table} ORDER BY id")]
        for table, columns in RECORDS.items()
    }


def test_it_comes_to_the_same_as_importing_the_corrected_file(tmp_path: Path) -> None:
    """Everything that came in, by id and value, against an import of the file of rejected rows corrected in an
    editor."""
    made: list[dict[str, list[tuple[object, ...]]]] = []
    for name in ("page", "editor"):
        path = empty_database(tmp_path / f"{name}.db")
        with closing(open_for_writing(path)) as connection:
            sheet = tmp_path / name / "season.csv"
            sheet.parent.mkdir()
            report = imported(connection, path, SEASON, rejects=lambda part, to=sheet: rejects_path(to, part))
            assert report.note_file is not None and report.rejects_file is not None
            if name == "page":
                first, second, _, last = open_rows(connection, report.note_file)
                done = brought_in(
                    *(connection, path, report.note_file),
                    [mended(first, 0, "2024-02-14"), mended(second, 4, "1.36"), mended(last, 5, "22.65")],
                )
                assert (len(done.ids), done.still, done.known) == (3, {}, 0)
            else:
                text = Path(report.rejects_file).read_text(encoding="utf-8-sig")
                kept = [line for line in text.splitlines(keepends=True) if "7.000" not in line]
                corrected = "".join(kept).replace("14/02/2024x", "2024-02-14").replace("1.3g6", "1.36")
                imported(connection, path, corrected.replace("23.65,7000", "22.65,7000"), "season.rejected.csv")
            made.append(rows_of(connection))
    assert made[0] == made[1]
    assert len(made[0]["builds"]) == 4


def test_what_is_still_wrong_stays_and_what_is_right_is_one_entry(database: sqlite3.Connection, path: Path) -> None:
    file = imported(database, path, SEASON).note_file or ""
    first, second, third, last = open_rows(database, file)
    key = new_id()
    done = brought_in(
        *(database, path, file),
        [
            mended(first, 0, "2024-02-14"),
            mended(second, 4, "ca. 1.36"),
            mended(third, 6, "7.000", as_it_is=True),
            mended(last, 5, "23.70"),
        ],
        entry_id=key,
    )
    assert done.entry == key
    assert {*done.ids} == {first.id, third.id}
    assert {one: wrong.reason for one, wrong in done.still.items()} == {
        second.id: "approximate_value",
        last.id: "mass_mismatch",
    }
    assert lines(database, file) == [4, 6]
    assert database.execute("SELECT count(*) FROM entries").fetchone()[0] == 2
    # what is taken though it is out of range is a file of its own, in the same entry
    kept = database.execute("SELECT accepted, rejected, entry FROM note_files WHERE id <> ? ORDER BY id", (file,))
    assert [tuple(one) for one in kept] == [(1, 0, key), (1, 0, key)]
    assert database.execute("SELECT viscosity_cst FROM builds WHERE built_on = '2024-02-16'").fetchone()[0] == 7.0


def test_where_all_are_still_wrong_nothing_is_stored(database: sqlite3.Connection, path: Path) -> None:
    file = imported(database, path, SEASON).note_file or ""
    before = [database.execute(f"SELECT count(*) FROM {one}").fetchone()[0] for one in ("entries", "note_files")]
    rows = open_rows(database, file)
    done = brought_in(database, path, file, [mended(rows[0], 0, "soon"), mended(rows[1], 4, "")])
    # without its oil the masses do not say what went in: that row is right, and the other is not
    assert rows[0].id in done.still
    assert done.still[rows[0].id].reason == "date_unparseable"
    done = brought_in(database, path, file, [mended(rows[0], 0, "later")])
    assert (done.entry, done.ids) == (None, ())
    after = [database.execute(f"SELECT count(*) FROM {one}").fetchone()[0] for one in ("entries", "note_files")]
    assert after == [before[0] + 1, before[1] + 1]


def test_a_row_is_mended_once_and_how_is_known(database: sqlite3.Connection, path: Path) -> None:
    file = imported(database, path, SEASON).note_file or ""
    first, second, *_ = open_rows(database, file)
    key = new_id()
    brought_in(database, path, file, [mended(first, 0, "2024-02-14")], entry_id=key)
    builds = database.execute("SELECT count(*) FROM builds").fetchone()[0]
    done = brought_in(database, path, file, [mended(first, 0, "2024-02-12"), mended(second, 4, "1.36")])
    assert done.ids == (second.id,)
    assert (done.before[first.id].entry, done.before[first.id].by) == (key, "ben")
    assert done.before[first.id].cells[0] == "2024-02-14"
    assert done.before[first.id].was[0] == "14/02/2024x"
    assert database.execute("SELECT count(*) FROM builds").fetchone()[0] == builds + 1


def test_taking_it_back_has_the_rows_wait_again(database: sqlite3.Connection, path: Path, registry: Registry) -> None:
    file = imported(database, path, SEASON).note_file or ""
    key = new_id()
    brought_in(database, path, file, [mended(open_rows(database, file)[0], 0, "2024-02-14")], entry_id=key)
    assert lines(database, file) == [4, 5, 6]
    take_back(database, path, [EntryBook(database).by_id[key]], registry, asked="a test", by="ana")
    assert lines(database, file) == [3, 4, 5, 6]


def test_a_file_taken_back_meanwhile_has_no_rows(database: sqlite3.Connection, path: Path, registry: Registry) -> None:
    file = imported(database, path, SEASON).note_file or ""
    (one, *_) = open_rows(database, file)
    entry = database.execute("SELECT entry FROM note_files").fetchone()[0]
    take_back(database, path, [EntryBook(database).by_id[entry]], registry, asked="a test", by="ana")
    done = brought_in(database, path, file, [mended(one, 0, "2024-02-14")])
    assert done.entry is None
    assert done.before[one.id].entry is None
    assert kept_file_called(database, file) is None
    assert database.execute("SELECT count(*) FROM builds").fetchone()[0] == 0


HOSTILE = (
    "<script>1</script>",
    "'; DROP TABLE builds; --",
    "=1+1",
    'a "quoted", cell',
    "two\nlines",
    "\x00zero",
    "long " * 20_000,
    "Ünïcödé 🏁 \u202e",
    ";\t|",
)


def test_any_text_in_a_cell_is_kept_or_comes_back(database: sqlite3.Connection, path: Path) -> None:
    text = SEASON.splitlines(keepends=True)
    bad = "".join(f"2024-02-3{number % 2},ana,M1,21.30,1.35,22.65,7000,high,2,x{number}\n" for number in range(9))
    file = imported(database, path, text[0] + text[1] + bad).note_file or ""
    rows = open_rows(database, file)
    assert len(rows) == len(HOSTILE)
    mends = []
    for number, (row, note) in enumerate(zip(rows, HOSTILE, strict=True)):
        cells = [*row.cells]
        cells[0], cells[-1] = f"2024-03-{number + 1:02}", note
        mends.append(Mend(row, cells))
    done = brought_in(database, path, file, mends)
    assert [done.still[one.id].reason for one in rows if one.id in done.still] == ["control_character"]
    notes = [row[0] for row in database.execute("SELECT note FROM runs WHERE run_on >= '2024-03-01' ORDER BY run_on")]
    assert notes == [one.strip() for one in HOSTILE if "\x00" not in one]


def test_a_row_that_reads_as_something_else_comes_back(database: sqlite3.Connection, path: Path) -> None:
    file = imported(database, path, SEASON).note_file or ""
    first, second, third, last = open_rows(database, file)
    heading = SEASON.splitlines()[0].split(",")
    empty, total = ["" for _ in heading], ["total", "", "", *last.cells[3:]]
    done = brought_in(
        *(database, path, file),
        [Mend(first, heading), Mend(second, empty), Mend(third, total), mended(last, 5, "22.65")],
    )
    assert done.ids == (last.id,)
    assert {one.reason for one in done.still.values()} == {"date_unparseable", "missing_required", "summary_row"}
    assert all(one.words for one in done.still.values())


def test_a_row_above_the_heading_comes_in_as_it_is(database: sqlite3.Connection, path: Path) -> None:
    text = SEASON.splitlines(keepends=True)
    file = imported(database, path, "Our notes\n" + text[1] + text[0] + text[1].replace("13", "18")).note_file or ""
    (row,) = open_rows(database, file)
    assert row.reason == "preamble"
    assert brought_in(database, path, file, [Mend(row, row.cells)]).ids == (row.id,)
    assert lines(database, file) == []


def test_rows_of_a_sheet_with_units_and_commas_are_read_as_in_it(database: sqlite3.Connection, path: Path) -> None:
    text = "date;diff;dry;oil mass;track temp\n;;g;mg;°F\n05.06.2025;M2;21,30;1350;68\n6.6.25x;M2;21,30;1360;86\n"
    file = imported(database, path, text, "sheet; with: signs.txt").note_file or ""
    (row,) = open_rows(database, file)
    assert brought_in(database, path, file, [mended(row, 0, "06.06.2025")]).ids == (row.id,)
    found = database.execute("SELECT oil_mass_g FROM builds WHERE built_on = '2025-06-06'").fetchone()
    assert found[0] == pytest.approx(1.36)
    assert database.execute("SELECT track_temp_c FROM runs WHERE run_on = '2025-06-06'").fetchone()[0] == pytest.approx(
        30
    )


def test_rows_of_a_workbook_and_of_one_place_are_read_as_in_it(database: sqlite3.Connection, path: Path) -> None:
    from openpyxl import Workbook

    book, file = Workbook(), io.BytesIO()
    for row in (
        ("Date", "Diff", "Oil", "dry", "Notes"),
        (date(2026, 5, 3), "F-03/R-07", "7k/10k", "9.52/21.125", "fine"),
        (date(2026, 5, 4), "F-03/R-07", "7k/10k", "9.52", "one value"),
        ("4.5.26x", "F-03/R-07", "7k/10k", "9.52/21.3", "slip"),
    ):
        book.active.append(row)
    book.save(file)
    split = {"at": "/", "into": ["front", "rear"], "columns": ["Oil", "Diff", "dry"]}
    reports = import_all(file, "season.xlsx", database, path, Settings(split=split), by="ana")
    assert [one.rejected for one in reports] == [2, 2]
    rear = reports[1].note_file or ""
    one, slip = open_rows(database, rear)
    assert one.reason == "cell_not_split"
    assert brought_in(database, path, rear, [mended(one, 3, "21.2"), mended(slip, 0, "2026-05-05")]).still == {}
    found = database.execute("SELECT built_on, dry_mass_g FROM builds WHERE dry_mass_g > 20 ORDER BY built_on, id")
    assert [tuple(row) for row in found] == [("2026-05-03", 21.125), ("2026-05-04", 21.2), ("2026-05-05", 21.3)]
    assert [(one.called, one.waiting) for one in files_with_rejects(database)] == [("season.xlsx, front", 2)]


def test_rows_of_rejected_rows_can_be_mended_too(database: sqlite3.Connection, path: Path) -> None:
    imported(database, path, SEASON)
    again = "date,builder,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,grip,runs,note,line,reason,column\n"
    again += "2024-02-14,ana,M1,21.30,1.35,22.65,7000,high,2,slip in the day,3,date_unparseable: x,date\n"
    again += "2024-02-15,ana,M1,21.30,1.36x,22.66,7000,high,2,slip in the oil,4,unit_unknown: x,oil_mass_g\n"
    file = imported(database, path, again, "season.rejected.csv").note_file or ""
    assert [(one.called, one.waiting) for one in files_with_rejects(database)] == [
        ("season.rejected.csv", 1),
        ("season.csv", 2),
    ]
    (row,) = open_rows(database, file)
    assert brought_in(database, path, file, [mended(row, 4, "1.36")]).ids == (row.id,)
    assert [one.called for one in files_with_rejects(database)] == ["season.csv"]


def test_a_row_that_looks_changed_changes_the_earlier_one(database: sqlite3.Connection, path: Path) -> None:
    text = "".join(SEASON.splitlines(keepends=True)[:2])
    imported(database, path, text)
    file = imported(database, path, text.replace("fine", "fine; new rings")).note_file or ""
    (row,) = open_rows(database, file)
    assert row.reason == "looks_changed"
    given = {"by": "ben", "asked": "a test", "also": lambda _file: None}
    assert "not there any more" in change_earlier(database, path, file, [99], entry_id=new_id(), **given)
    key = new_id()
    assert change_earlier(database, path, file, [row.line], entry_id=key, **given) == ""
    assert [row[0] for row in database.execute("SELECT note FROM runs")] == ["fine; new rings"]
    assert lines(database, file) == []
    assert database.execute("SELECT made_by FROM entries WHERE id = ?", (key,)).fetchone()[0] == "ben"
    assert "not there" in change_earlier(database, path, "nothing", [1], entry_id=new_id(), **given)


def test_a_row_that_looks_changed_may_be_another_one(database: sqlite3.Connection, path: Path) -> None:
    text = "".join(SEASON.splitlines(keepends=True)[:2])
    imported(database, path, text)
    file = imported(database, path, text.replace("fine", "fine; new rings")).note_file or ""
    (row,) = open_rows(database, file)
    assert brought_in(database, path, file, [Mend(row, row.cells)]).ids == (row.id,)
    assert sorted(row[0] for row in database.execute("SELECT note FROM runs")) == ["fine", "fine; new rings"]


TODAY = date(2026, 5, 20)


@pytest.mark.parametrize(
    ("reason", "column", "value", "texts", "values"),
    [
        ("ambiguous_number", "viscosity_cst", "7.125", ("7125",), (7125.0,)),
        ("ambiguous_number", "total_mass_g", "21,345", ("21.3450",), (21.345,)),
        ("ambiguous_number", "viscosity_cst", "100.000 cSt", ("100 cSt", "100000 cSt"), (100.0, 100000.0)),
        ("out_of_range", "viscosity_cst", "7.000", ("7000",), (7000.0,)),
        ("out_of_range", "dry_mass_g", "21.3 lb", ("21.3 g",), (21.3,)),
        ("ambiguous_date", "date", "03/04/2026", ("2026-04-03", "2026-03-04"), ("2026-04-03", "2026-03-04")),
        ("ambiguous_date", "date", "03/06/2026", ("2026-03-06",), ("2026-03-06",)),
        ("date_incomplete", "date", "3 April", ("2026-04-03", "2025-04-03"), ("2026-04-03", "2025-04-03")),
        ("date_incomplete", "date", "3 June", ("2025-06-03",), ("2025-06-03",)),
        ("temp_unit_unknown", "track_temp_c", "42", ("42 °C", "42 °F"), (42.0, pytest.approx(50 / 9))),
        ("unit_not_allowed", "dry_mass_g", "21,3 ml", ("21,3 g",), (21.3,)),
        ("unit_ambiguous", "oil_mass_g", "1.9 gr", ("1.9 g",), (1.9,)),
        ("grip_unknown", "grip", "hihg", ("high", "low", "medium"), ("high", "low", "medium")),
        ("missing_required", "diff", None, ("M1",), ("M1",)),
        ("number_unparseable", "runs", "3+2", (), ()),
        ("control_character", "result_note", "le\0aked", (), ()),
        ("too_few_fields", None, None, (), ()),
        ("ambiguous_number", "no such column", "1.234", (), ()),
        ("ambiguous_number", "viscosity_cst", "<b>", (), ()),
        ("unit_unknown", "dry_mass_g", "", (), ()),
    ],
)
def test_an_answer_has_one_reading(
    database: sqlite3.Connection,
    path: Path,
    reason: str,
    column: str | None,
    value: str | None,
    texts: tuple[str, ...],
    values: tuple[object, ...],
) -> None:
    if reason == "missing_required":
        imported(database, path, "".join(SEASON.splitlines(keepends=True)[:2]))
    answers = answers_of(database, reason, column, value, TODAY)
    assert tuple(one.text for one in answers) == texts
    options = Options(today=TODAY.isoformat())
    assert tuple(read(BY_NAME[column or ""], one.text, options) for one in answers) == values
    assert len({one.words for one in answers}) == len(answers)


FILES = ("05", "06", "09", "21", "24", "26", "30", "33", "34", "39", "45", "46", "48", "52", "64")


def test_no_reason_names_an_option_once_it_is_worded_for_a_page(database: sqlite3.Connection, path: Path) -> None:
    """These files of tests/messy have a row for most reasons."""
    found: set[tuple[str, str]] = set()
    for file in sorted((Path(__file__).parents[1] / "messy").glob("*.csv")):
        if file.name[:2] not in FILES:
            continue
        with file.open("rb") as opened:
            import_all(opened, file.name, database, path, Settings(today="2026-11-26"))
    for reason, words in database.execute("SELECT DISTINCT reason, words FROM note_rejects WHERE status = 'rejected'"):
        plain = without_options(words or "")
        found.add((reason, words))
        assert "--" not in plain, plain
        assert "profile" not in plain, plain
        assert plain, reason
    assert len({reason for reason, _ in found}) > 15
    assert any("--" in words for _, words in found)
