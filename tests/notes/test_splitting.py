"""Cells with one value for each place in the car, split by a profile into parts of one entry. Invented data."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook

from bevelbook.declare.errors import InputError
from bevelbook.notes.profiles import profile_from

Command = Callable[..., Any]
HEADING = "Date,Who,Diff,Oil,dry,runs,Notes"
RULE = 'split:\n  at: "/"\n  into: [front, rear]\n  columns: ["Oil", "Diff", "dry"]\n'
FIRST = "2026-05-03,ana,F-03/R-07,7k/10k,9.52/11.20,4,ok / fine"


@pytest.fixture
def bring(bevelbook: Command, db: Path, tmp_path: Path) -> Callable[..., Any]:
    """Import rows below the heading, or a file that is there already, with the profile."""

    def run(
        *rows: str, rule: str = RULE, options: tuple[str, ...] = (), heading: str = HEADING, name: str = "s.csv"
    ) -> Any:
        if rows:
            (tmp_path / name).write_text("\n".join((heading, *rows, "")), encoding="utf-8")
        (tmp_path / "ours.yaml").write_text(rule, encoding="utf-8")
        return bevelbook("--db", db, "import", tmp_path / name, "--profile", tmp_path / "ours.yaml", "--json", *options)

    return run


def asked(db: Path, question: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(question).fetchall()


def shown(db: Path, *columns: str) -> list[tuple[Any, ...]]:
    return asked(db, f"SELECT {', '.join(columns)} FROM imported_notes ORDER BY diff, line")


def parts(done: Any, *keys: str) -> list[tuple[Any, ...]]:
    return [tuple(part[key] for key in keys) for part in done.json["parts"]]


def left(done: Any) -> list[list[tuple[int, str, str]]]:
    return [[(one["line"], one["column"], one["value"]) for one in part["rejects"]] for part in done.json["parts"]]


def test_each_place_has_its_own_values_and_everything_else_is_whole(bring: Command, db: Path) -> None:
    done = bring(FIRST, "2026-05-04,bo,F-03/R-07,,9.50/,2,")
    assert done.code == 0
    assert parts(done, "file", "read", "accepted", "added", "known") == [
        ("s.csv, front", 2, 2, 2, 0),
        ("s.csv, rear", 2, 2, 2, 0),
    ]
    columns = ("line", "date", "position", "diff", "fluid", "dry_mass_g", "runs", "result_note")
    assert shown(db, *columns) == [
        (2, "2026-05-03", "front", "F-03", "7k", 9.52, 4, "ok / fine"),
        (3, "2026-05-04", "front", "F-03", None, 9.5, 2, None),
        (2, "2026-05-03", "rear", "R-07", "10k", 11.2, 4, "ok / fine"),
        (3, "2026-05-04", "rear", "R-07", "10k", None, 2, None),
    ]


def test_a_slash_in_a_day_and_in_a_column_that_is_not_named_stays(bring: Command, db: Path) -> None:
    heading = "Date,Diff,Oil,Notes"
    rule = RULE.replace(', "dry"', "")
    done = bring("13/05/2026,F-03/R-07,7k/10k,7k/10k for now", rule=rule, heading=heading)
    assert (done.code, parts(done, "accepted")) == (0, [(1,), (1,)])
    assert shown(db, "date", "result_note") == [("2026-05-13", "7k/10k for now")] * 2


@pytest.mark.parametrize(
    ("row", "column", "value"),
    [
        ("2026-05-04,bo,F-03/R-07,8k,9.5/11.2,3,", "fluid", "8k"),
        ("2026-05-04,bo,F-03/R-07,8k/9k/10k,9.5/11.2,3,", "fluid", "8k/9k/10k"),
        ("2026-05-04,bo,F-03/R-07,8k/9k,9.5,3,", "dry_mass_g", "9.5"),
        ("2026-05-04,bo,F-03,8k/9k,9.5/11.2,3,", "diff", "F-03"),
        ("2026-05-04,bo,F-03/F-03,8k/9k,9.5/11.2,3,", "diff", "F-03/F-03"),
    ],
)
def test_a_cell_without_one_value_for_each_place_rejects_its_row_whole(
    bring: Command, db: Path, row: str, column: str, value: str
) -> None:
    done = bring(FIRST, row)
    assert (done.code, parts(done, "accepted", "rejected_by_reason")) == (1, [(1, {"cell_not_split": 1})] * 2)
    assert left(done) == [[(3, column, value)]] * 2
    words = [one["words"] for part in done.json["parts"] for one in part["rejects"]]
    assert ["only that of front" in words[0], "only that of rear" in words[1]] == [True, True]
    assert [value in raw for (raw,) in asked(db, "SELECT raw FROM note_rejects WHERE status = 'rejected'")] == [
        True
    ] * 2


def test_one_value_is_for_every_place_where_the_profile_says_so_but_never_a_diff(bring: Command, db: Path) -> None:
    done = bring(
        "2026-05-04,bo,F-03/R-07,8k,9.5/11.2,3,", "2026-05-05,bo,F-03,8k,9.5/11.2,3,", rule=RULE + "  alone: both\n"
    )
    assert left(done) == [[(3, "diff", "F-03")]] * 2
    assert shown(db, "diff", "fluid", "dry_mass_g") == [("F-03", "8k", 9.5), ("R-07", "8k", 11.2)]


def test_the_diffs_are_given_where_no_column_has_them(bring: Command, db: Path) -> None:
    rule = 'split:\n  at: "|"\n  into: [rear, front]\n  columns: ["oil"]\n'
    heading, row = "Date,Oil,runs", "2026-05-04,8k|9k,3"
    assert bring(row, rule=rule, heading=heading).json["file_reason"] in ("missing_required", "option_misfit")
    done = bring(row, rule=rule + '  diffs: {front: "F-03", rear: "R-07"}\n', heading=heading)
    assert (done.code, parts(done, "file")) == (0, [("s.csv, rear",), ("s.csv, front",)])
    assert shown(db, "position", "diff", "fluid") == [("front", "F-03", "9k"), ("rear", "R-07", "8k")]


@pytest.mark.parametrize(
    ("rule", "heading", "row", "words"),
    [
        (RULE, "Date,Diff,Oil", "2026-05-04,F-03/R-07,8k/9k", "no column dry"),
        (RULE.replace('"Diff", ', ""), "Date,Diff,Oil,dry", "2026-05-04,F-03,8k/9k,9.5/11.2", "diffs: {front: F-01"),
        (RULE.replace('"dry"', '"Date"'), "Date,Diff,Oil", "4/5,F-03/R-07,8k/9k", "which is one for all"),
        (RULE, "Date,Diff,Oil,dry,pos", "2026-05-04,F-03/R-07,8k/9k,9.5/11,front", "--map pos=ignore"),
        (
            RULE.replace('"Diff", ', "") + '  diffs: {front: "F-03", rear: "R-07"}\n',
            *("Date,Diff,Oil,dry", "2026-05-04,F-03,8k/9k,9.5/11.2", "has a column for them"),
        ),
    ],
)
def test_a_rule_that_does_not_fit_refuses_the_file_and_says_what_to_type(
    bring: Command, db: Path, rule: str, heading: str, row: str, words: str
) -> None:
    done = bring(row, rule=rule, heading=heading)
    assert (done.code, done.json["file_reason"], words in done.json["message"]) == (2, "option_misfit", True)
    assert asked(db, "SELECT count(*) FROM note_files") == [(0,)]


def test_units_are_settled_for_each_place_by_its_own_values(bring: Command, db: Path) -> None:
    """At the front 190 cannot be degrees Celsius; at the rear nothing says what 77 is."""
    rule = RULE.replace('"Oil"', '"diff temp"').replace(', "dry"', "")
    done = bring("2026-05-03,F-03/R-07,190/77,2", rule=rule, heading="Date,Diff,diff temp,runs")
    said = [warnings[0] for (warnings,) in parts(done, "warnings")]
    assert said == ["unit_by_plausibility:diff_temp_c=F", "unit_assumed:diff_temp_c=C"]
    assert shown(db, "diff", "round(diff_temp_c, 1)") == [("F-03", 87.8), ("R-07", 77.0)]


def test_the_same_file_adds_nothing_and_all_parts_are_taken_back_together(
    bring: Command, bevelbook: Command, db: Path
) -> None:
    bring(FIRST)
    assert parts(bring(), "added", "known") == [(0, 1), (0, 1)]
    assert asked(db, "SELECT part FROM note_files ORDER BY part") == [("front",), ("rear",)]
    assert asked(db, "SELECT count(*) FROM entries") == [(1,)]
    assert bevelbook("--db", db, "take-back", "1").code == 0
    assert (shown(db, "diff"), asked(db, "SELECT count(*) FROM note_files")) == ([], [(0,)])


def test_a_dry_run_says_the_same_and_writes_nothing(bring: Command, db: Path) -> None:
    tried = bring(FIRST, "2026-05-04,bo,F-03/R-07,8k,,3,", options=("--dry-run",))
    assert asked(db, "SELECT count(*) FROM note_files") == [(0,)]
    keys = ("file", "accepted", "rejected", "made", "warnings")
    assert parts(tried, *keys) == parts(bring(), *keys)
    assert parts(bring(options=("--dry-run",)), "known", "added") == [(1, 0), (1, 0)]


def test_rejected_rows_of_each_part_are_corrected_in_a_file_of_their_own(
    bring: Command, db: Path, tmp_path: Path
) -> None:
    """Also imported twice, where a row of the other place has the same day and diff as it was rejected."""
    done = bring(FIRST, "2026-05-04,bo,F-03,8k/9k,9.5/11.2,3,")
    assert [Path(part["rejects_file"]).name for part in done.json["parts"]] == [
        "s.front.rejected.csv",
        "s.rear.rejected.csv",
    ]
    front, rear = (tmp_path / f"s.{place}.rejected.csv" for place in ("front", "rear"))
    for _ in range(2):
        done = bring(name=front.name)
        assert (done.code, done.json["accepted"], "parts" in done.json) == (0, 1, False)
        open_ones = (
            "SELECT part, line FROM note_rejects r JOIN note_files f ON f.id = r.note_file WHERE closed_by IS NULL"
        )
        assert asked(db, open_ones) == [("rear", 3)]
    rear.write_text(rear.read_text(encoding="utf-8").replace("bo,F-03", "bo,R-07"), encoding="utf-8")
    assert bring(name=rear.name).json["closes"] == [{"rows": 1, "file": "s.csv, rear"}]
    assert asked(db, open_ones) == []
    assert shown(db, "position", "diff", "fluid")[1::2] == [("front", "F-03", "8k"), ("rear", "R-07", "9k")]


def test_rows_corrected_in_the_sheet_itself_close_those_of_both_parts(bring: Command, db: Path) -> None:
    bring(FIRST, "2026-05-04,bo,F-03/R-07,8k,9.5/11.2,3,")
    done = bring(FIRST, "2026-05-04,bo,F-03/R-07,8k/9k,9.5/11.2,3,")
    assert parts(done, "accepted", "added", "known") == [(2, 1, 1)] * 2
    assert [part["closes"][0]["file"] for part in done.json["parts"]] == ["s.csv, front", "s.csv, rear"]


def test_a_part_is_read_again_as_it_was_split(bring: Command, bevelbook: Command, db: Path, tmp_path: Path) -> None:
    bring(FIRST, "03/04/2026,bo,F-03/R-07,8k/9k,,3,")
    (options,) = asked(db, "SELECT options FROM note_files WHERE part = 'rear'")[0]
    assert json.loads(options)["split_place"] == "rear"
    again = bevelbook("--db", db, "import", "--again", "s.csv, rear", "--date-order", "dmy", "--yes", "--json")
    assert (again.code, again.json["accepted"], again.json["rejected"]) == (0, 2, 0)
    assert shown(db, "position", "date", "diff", "fluid") == [
        ("front", "2026-05-03", "F-03", "7k"),
        ("rear", "2026-05-03", "R-07", "10k"),
        ("rear", "2026-04-03", "R-07", "9k"),
    ]


def test_a_file_that_came_in_whole_is_not_split_when_it_is_read_again(
    bring: Command, bevelbook: Command, db: Path, tmp_path: Path
) -> None:
    bring("2026-05-03,K-01,7k/10k", rule="{}", heading="Date,Diff,Oil")
    (tmp_path / "ours.yaml").write_text(RULE, encoding="utf-8")
    again = bevelbook("--db", db, "import", "--again", "s.csv", "--profile", tmp_path / "ours.yaml", "--yes", "--json")
    assert (again.code, again.json["file_reason"], "'bevelbook history' lists" in again.json["message"]) == (
        2,
        "option_misfit",
        True,
    )
    assert shown(db, "fluid") == [("7k/10k",)]


def test_rejected_rows_of_a_file_that_came_in_whole_are_split(bring: Command, db: Path, tmp_path: Path) -> None:
    bring("2026-05-33,F-03/R-07,7k/10k", rule="{}", heading="Date,Diff,Oil")
    rejects = tmp_path / "s.rejected.csv"
    rejects.write_text(rejects.read_text(encoding="utf-8").replace("2026-05-33", "2026-05-03"), encoding="utf-8")
    done = bring(name=rejects.name, rule=RULE.replace(', "dry"', ""))
    assert parts(done, "accepted") == [(1,), (1,)]
    assert shown(db, "diff", "fluid") == [("F-03", "7k"), ("R-07", "10k")]


def test_sheets_of_a_workbook_are_split_too_and_a_number_or_a_day_is_one_value(
    bring: Command, db: Path, tmp_path: Path
) -> None:
    from datetime import datetime

    book = Workbook()
    book.remove(book["Sheet"])
    for name in ("May", "June"):
        sheet = book.create_sheet(name)
        sheet.append(HEADING.split(","))
        sheet.append([datetime(2026, 5, 3), "ana", "F-03/R-07", "7k/10k", "9.52/11.2", 4, name])
        sheet.append([datetime(2026, 5, 4), "ana", "F-03/R-07", datetime(2026, 10, 7), "9.52/11.2", 4, name])
        sheet.append([datetime(2026, 5, 5), "ana", "F-03/R-07", "7k/10k", 9.52, 4, name])
    file = BytesIO()
    book.save(file)
    (tmp_path / "s.xlsx").write_bytes(file.getvalue())
    done = bring(name="s.xlsx", options=("--sheet", "all"))
    assert parts(done, "file", "accepted", "rejected_by_reason") == [
        (f"s.xlsx, sheet {sheet}, {place}", 1, {"cell_not_split": 2})
        for sheet in ("May", "June")
        for place in ("front", "rear")
    ]


def test_a_temperature_of_the_diff_at_a_place_is_that_of_its_part(bring: Command, db: Path) -> None:
    """A temperature in its own column that differs from it rejects the row of that place only."""
    heading = "Date,Diff,Oil,runs,front_diff_temp_c,rear_diff_temp_c,diff_temp_c"
    rule = RULE.replace('"dry"', '"diff_temp_c"')
    rows = ("2026-05-03,F-03/R-07,7k/10k,4,62,57,", "2026-05-04,F-03/R-07,7k/10k,4,61,60,61/55")
    done = bring(*rows, rule=rule, heading=heading)
    assert parts(done, "accepted", "rejected_by_reason") == [(2, {}), (1, {"temps_disagree": 1})]
    temps = "SELECT position, diff_temp_c FROM run_diffs ORDER BY 1, 2"
    assert asked(db, temps) == [("front", 61.0), ("front", 62.0), ("rear", 57.0)]


def test_sheets_with_temperatures_of_the_diff_at_a_place_come_in_together(bring: Command, tmp_path: Path) -> None:
    book = Workbook()
    book.remove(book["Sheet"])
    for diff in ("F-03", "F-04"):
        sheet = book.create_sheet(diff)
        sheet.append(["date", "diff", "runs", "position", "front_diff_temp_c", "diff_temp_c"])
        sheet.append(["2026-05-03", diff, 3, "front", 61, 61])
    file = BytesIO()
    book.save(file)
    (tmp_path / "s.xlsx").write_bytes(file.getvalue())
    assert parts(bring(name="s.xlsx", rule="{}", options=("--sheet", "all")), "accepted") == [(1,), (1,)]


def test_a_heading_that_comes_again_and_a_sum_are_still_skipped(bring: Command) -> None:
    done = bring(FIRST, HEADING, "total,,,,9.52/11.2,4,", "", "2026-05-05,bo,F-03/R-07,8k/9k,,3,")
    skipped = {"repeated_header": 1, "summary_row": 1, "blank": 1}
    assert parts(done, "accepted", "rejected", "skipped_by_reason") == [(2, 0, skipped)] * 2


def test_a_mass_that_is_not_split_is_named(bring: Command, db: Path) -> None:
    done = bring(
        "2026-05-03,F-03/R-07,7k/10k,1.5", rule=RULE.replace(', "dry"', ""), heading="Date,Diff,Oil,oil mass g"
    )
    assert [[one for one in warnings if one.startswith("same_at")] for (warnings,) in parts(done, "warnings")] == [
        ["same_at_each_place:oil mass g"]
    ] * 2
    assert shown(db, "oil_mass_g") == [(1.5,), (1.5,)]


def test_many_labels_that_look_like_two_are_named_with_their_column_and_lines(bring: Command, db: Path) -> None:
    rows = [f"2026-05-{day:02},K-01,{day}k/{day + 1}k" for day in range(1, 9)]
    found = bring(*rows, "2026-05-20,K-01,7k", rule="{}", heading="Date,Diff,Oil").json["warnings"]
    assert "pairs_in_cells:Oil (lines 2, 3, 4, 5, 6 and 3 more)" in found
    few = bring(*(f"2026-06-{day:02},K-01,7k" for day in range(1, 9)), rows[0], rule="{}", heading="Date,Diff,Oil")
    assert not any(one.startswith("pairs_in_cells") for one in few.json["warnings"])


@pytest.mark.parametrize(
    ("section", "found"),
    [
        ('at: "/"\n  into: [front, rear]', "has no columns"),
        ('at: ","\n  into: [front, rear]\n  columns: ["Oil"]', ","),
        ('at: "x"\n  into: [front, rear]\n  columns: ["Oil"]', "x"),
        ('at: "/"\n  into: [front]\n  columns: ["Oil"]', "two or three places"),
        ('at: "/"\n  into: [front, front]\n  columns: ["Oil"]', "two or three places"),
        ('at: "/"\n  into: [front, left]\n  columns: ["Oil"]', "left"),
        ('at: "/"\n  into: [front, rear]\n  columns: "Oil"', "headings of the columns"),
        ('at: "/"\n  into: [front, rear]\n  columns: ["Oil"]\n  alone: front', "front"),
        ('at: "/"\n  into: [front, rear]\n  columns: ["Oil"]\n  diffs: {front: "F-03"}', "has no rear"),
        ('at: "/"\n  into: [front, rear]\n  columns: ["Oil"]\n  diffs: {front: "F-03", rear: "f-03"}', "one diff for"),
        ('at: "/"\n  into: [front, rear]\n  column: ["Oil"]', "column"),
    ],
)
def test_a_rule_with_a_fault_is_refused_at_its_line(section: str, found: str) -> None:
    with pytest.raises(InputError) as fault:
        profile_from(f"split:\n  {section}\n", "ours.yaml")
    assert found in str(fault.value)
    assert "line" in str(fault.value)


def test_a_written_profile_keeps_the_rule(bring: Command, db: Path, tmp_path: Path) -> None:
    rule = RULE + '  alone: both\n  diffs: {front: "F-03", rear: "R-07"}\n'
    rule = rule.replace('"Diff", ', "")
    bring("2026-05-03,8k/9k,9.5/11.2", rule=rule, heading="Date,Oil,dry", options=("--write-profile", "new.yaml"))
    written = (tmp_path / "new.yaml").read_text(encoding="utf-8")
    assert profile_from(written, "new.yaml").split == profile_from(rule, "ours.yaml").split
    assert "position" not in written.partition("columns:")[2].partition("# Units")[0]
