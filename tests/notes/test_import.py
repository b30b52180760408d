"""What a flat note row becomes, what is known already, and what the command says and leaves behind."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from asked import asked

from bevelbook.notes.note_columns import NAMES

Run = Callable[..., Any]

SIX = """date,diff,dry_mass_g,oil_mass_g,total_mass_g,viscosity_cst,track_temp_c,grip,runs
2026-05-03,rear-a,9.52,1.50,11.02,7000,24,medium,4
2026-05-03,rear-a,,,,7000,31,medium,3
2026-05-10,rear-a,,,,10000,33,high,4
2026-05-10,rear-b,9.48,1.51,10.99,7000,33,high,1.5
2026-05-11,rear-b,,,10.97,,,,
2026-05-12,rear-b,,,,,,grippy,3
"""


@pytest.fixture
def notes(tmp_path: Path) -> Callable[..., Path]:
    """Write a file of notes."""

    def write(text: str | bytes, name: str = "notes.csv") -> Path:
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return write


def test_six_note_rows_become_builds_runs_and_a_weighing(bevelbook: Run, db: Path, notes: Run) -> None:
    done = bevelbook("--db", db, "import", notes(SIX), "--json", "--rows")
    assert done.code == 1
    report = done.json
    assert (report["accepted"], report["rejected"]) == (5, 1)
    assert report["made"] == {"builds": 3, "weighings": 1, "runs": 4}
    rejected = report["rejects"][0]
    assert (rejected["line"], rejected["reason"], rejected["value"]) == (7, "grip_unknown", "grippy")
    assert 'grip: {"grippy": ...}' in rejected["words"]
    assert report["warnings"] == ["fill_unknown:line 4"]
    assert asked(db, "SELECT label, viscosity_cst, dry_mass_g, filled_mass_g FROM builds ORDER BY built_on, label") == [
        ("rear-a/1", 7000.0, 9.52, 11.02),
        ("rear-a/2", 10000.0, None, None),
        ("rear-b/1", 7000.0, 9.48, 10.99),
    ]
    # The weighing is on the basis of rear-b's build, so that the two can be compared.
    assert asked(db, "SELECT weighed_as, first_mass_g, last_mass_g, loss_g FROM losses") == [
        ("not said", 10.99, 10.97, 0.02)
    ]
    assert asked(db, "SELECT label, runs FROM runs ORDER BY label") == [
        ("2026-05-03/1", 4.0),
        ("2026-05-03/2", 3.0),
        ("2026-05-10/1", 4.0),
        ("2026-05-10/2", 1.5),
    ]
    assert asked(db, "SELECT line, made FROM imported_notes ORDER BY line") == [
        (2, "build and run"),
        (3, "run"),
        (4, "build and run"),
        (5, "build and run"),
        (6, "weighing"),
    ]
    assert asked(db, "SELECT line, reason, column_name FROM note_rejects") == [(7, "grip_unknown", "grip")]


def test_the_same_file_twice_adds_nothing(bevelbook: Run, db: Path, notes: Run) -> None:
    path = notes(SIX)
    bevelbook("--db", db, "import", path)
    before = asked(
        db, "SELECT (SELECT count(*) FROM builds), (SELECT count(*) FROM runs), (SELECT count(*) FROM diffs)"
    )
    again = bevelbook("--db", db, "import", path, "--json").json
    assert (again["added"], again["known"], again["made"]) == (0, 5, {})
    assert before == asked(
        db, "SELECT (SELECT count(*) FROM builds), (SELECT count(*) FROM runs), (SELECT count(*) FROM diffs)"
    )
    assert asked(db, "SELECT count(*) FROM note_files") == asked(db, "SELECT count(*) FROM note_bytes") == [(1,)]


def test_the_same_rows_in_another_dress_are_known(bevelbook: Run, db: Path, notes: Run) -> None:
    bevelbook("--db", db, "import", notes("date,diff,dry_mass_g,oil_mass_g\n2026-05-03,a,9.52,1.5\n"))
    other = notes("grip;oil mass [mg];dry;unit;date\n;1500;9,52;a;3.5.2026\n", "other.csv")
    assert bevelbook("--db", db, "import", other, "--json").json["known"] == 1


def test_a_longer_edition_of_a_sheet_adds_the_new_rows_only(bevelbook: Run, db: Path, notes: Run) -> None:
    bevelbook("--db", db, "import", notes(SIX))
    longer = notes(SIX + "2026-05-13,rear-b,,,,7000,30,low,2\n", "longer.csv")
    report = bevelbook("--db", db, "import", longer, "--json").json
    assert (report["added"], report["known"], report["made"]) == (1, 5, {"runs": 1})
    assert asked(
        db,
        "SELECT builds.label FROM run_diffs JOIN builds ON builds.id = build JOIN runs ON runs.id = run "
        "WHERE run_on = '2026-05-13'",
    ) == [("rear-b/1",)]


def test_two_equal_rows_in_one_file_are_both_kept(bevelbook: Run, db: Path, notes: Run) -> None:
    text = "date,diff,dry_mass_g,oil_mass_g\n" + "2026-05-03,a,9.52,1.5\n" * 3
    report = bevelbook("--db", db, "import", notes(text), "--json").json
    assert report["made"] == {"builds": 3}
    assert report["warnings"] == ["duplicate_row:line 3", "duplicate_row:line 4"]
    assert bevelbook("--db", db, "import", notes(text), "--json").json["added"] == 0


def test_rows_are_placed_by_day_not_by_line(bevelbook: Run, db: Path, notes: Run) -> None:
    text = "date,diff,dry_mass_g,oil_mass_g,runs\n2026-05-10,a,9.6,1.5,\n2026-05-04,a,,,3\n2026-05-03,a,9.5,1.5,\n"
    bevelbook("--db", db, "import", notes(text))
    found = asked(db, "SELECT b.label, b.built_on FROM run_diffs JOIN builds b ON b.id = build")
    assert found == [("a/1", "2026-05-03")]


def test_a_row_is_placed_on_the_build_that_the_database_holds(bevelbook: Run, db: Path, notes: Run) -> None:
    bevelbook("--db", db, "record", "diff", "label=rear-a")
    bevelbook("--db", db, "record", "fluid", "label=house 7k")
    bevelbook(
        *("--db", db, "record", "build", "diff=rear-a", "built_on=2026-05-01", "fluid=house 7k"),
        *("viscosity=7000", "dry_mass=9.5", "oil_mass=1.5", "mass_basis=closed"),
    )
    text = "date,diff,total_mass_g,fluid,viscosity_cst,runs\n2026-05-02,rear-a,,house 7k,7000,3\n"
    text += "2026-05-03,rear-a,18.4,,,\n"
    report = bevelbook("--db", db, "import", notes(text), "--json").json
    assert report["made"] == {"weighings": 1, "runs": 1}
    assert asked(db, "SELECT mass_basis FROM weighings") == [("closed",)]
    assert asked(db, "SELECT count(*) FROM builds") == [(1,)]


def test_a_diff_without_a_build_gets_one_with_everything_unknown(bevelbook: Run, db: Path, notes: Run) -> None:
    report = bevelbook("--db", db, "import", notes("date,diff,total_mass_g\n2026-05-03,a,18.4\n"), "--json").json
    assert report["made"] == {"builds": 1, "weighings": 1}
    assert report["warnings"] == ["fill_unknown:line 2"]


def test_an_oil_named_otherwise_makes_a_build(bevelbook: Run, db: Path, notes: Run) -> None:
    text = "date,diff,fluid\n2026-05-03,a,house 7k\n2026-05-04,a,house 7k\n2026-05-05,a,house 10k\n"
    report = bevelbook("--db", db, "import", notes(text), "--json").json
    assert report["made"] == {"builds": 2, "runs": 1}
    assert asked(db, "SELECT runs FROM runs") == [(0.0,)]


def test_what_has_no_column_stays_readable_beside_the_row(bevelbook: Run, db: Path, notes: Run) -> None:
    text = "date,diff,dry_mass_g,oil_mass_g,position,weather,\n2026-05-03,a,9.5,1.5,rear,sunny,?!\n"
    report = bevelbook("--db", db, "import", notes(text), "--json").json
    assert report["warnings"] == ["unknown_column:weather", "blank_header_column:7"]
    assert json.loads(asked(db, "SELECT cells FROM note_extras")[0][0]) == {
        "weather": "sunny",
        "column 7": "?!",
        "position": "rear",
    }


def test_words_are_found_by_the_search(bevelbook: Run, db: Path, notes: Run) -> None:
    bevelbook("--db", db, "import", notes("date,diff,result_note\n2026-05-03,a,slow leak at the lid\n"))
    found = asked(
        db, "SELECT note FROM runs WHERE rowid IN (SELECT rowid FROM runs_search WHERE runs_search MATCH 'leak')"
    )
    assert found == [("slow leak at the lid",)]


def test_rejected_rows_can_be_corrected_and_imported(bevelbook: Run, db: Path, notes: Run, tmp_path: Path) -> None:
    report = bevelbook("--db", db, "import", notes(SIX), "--json").json
    rejects = Path(report["rejects_file"])
    assert rejects == tmp_path / "notes.rejected.csv"
    text = rejects.read_text(encoding="utf-8-sig")
    assert text.splitlines()[0].endswith("runs,line,reason,column")
    rejects.write_text(text.replace("grippy,3", "high,3"), encoding="utf-8-sig")
    mended = bevelbook("--db", db, "import", rejects, "--json")
    assert (mended.code, mended.json["added"], mended.json["warnings"]) == (0, 1, ["read_as_sheet:notes.csv"])


def test_a_file_of_rejects_that_someone_edits_is_not_overwritten(bevelbook: Run, db: Path, notes: Run) -> None:
    first = Path(bevelbook("--db", db, "import", notes(SIX), "--json").json["rejects_file"])
    assert bevelbook("--db", db, "import", notes(SIX), "--json").json["rejects_file"] == str(first)
    first.write_text("half mended", encoding="utf-8")
    assert bevelbook("--db", db, "import", notes(SIX), "--json").json["rejects_file"].endswith("rejected-2.csv")
    assert first.read_text(encoding="utf-8") == "half mended"


@pytest.mark.parametrize("there", [True, False])
def test_a_dry_run_writes_nothing(bevelbook: Run, db: Path, notes: Run, tmp_path: Path, there: bool) -> None:
    path = notes(SIX)
    if not there:
        db.unlink()
    before = {one.name: one.read_bytes() for one in tmp_path.iterdir()}
    done = bevelbook("--db", db, "import", path, "--dry-run")
    assert done.code == 1
    assert "nothing was written" in done.out
    assert {one.name: one.read_bytes() for one in tmp_path.iterdir()} == before


def test_a_dry_run_knows_what_the_database_holds(bevelbook: Run, db: Path, notes: Run) -> None:
    bevelbook("--db", db, "import", notes(SIX))
    report = bevelbook("--db", db, "import", notes(SIX), "--dry-run", "--json").json
    assert (report["added"], report["known"]) == (0, 5)


def test_the_report_for_people_says_what_settles_it(bevelbook: Run, db: Path, notes: Run) -> None:
    text = "date,diff,viscosity_cst\n03/02/2024,a,500\n2024-02-03,b,100.000\n"
    done = bevelbook("--db", db, "import", notes(text))
    assert "--date-order dmy, mdy or ymd" in done.out
    assert "--decimal . or ," in done.out
    assert "Write it as 2024-02-03 (day first) or 2024-03-02 (month first), or say the order" in done.out


def test_a_heading_can_be_mapped_and_its_line_named(bevelbook: Run, db: Path, notes: Run) -> None:
    text = "log of 2024,,\nTag,Kiste,Leer (mg)\n2024-02-14,a,21300\n"
    refused = bevelbook("--db", db, "import", notes(text), "--json")
    assert (refused.code, refused.json["file_reason"]) == (2, "no_heading")
    maps = ["--map", "Tag=date", "--map", "Kiste=diff", "--map", "Leer (mg)=dry mass"]
    report = bevelbook("--db", db, "import", notes(text), "--header-line", 2, *maps, "--json")
    assert (report.code, report.json["accepted"]) == (0, 1)
    assert asked(db, "SELECT dry_mass_g FROM builds") == [(21.3,)]


def test_a_wrong_map_names_near_misses(bevelbook: Run, db: Path, notes: Run) -> None:
    done = bevelbook("--db", db, "import", notes(SIX), "--map", "x=dry_mas_g")
    assert done.code == 2
    assert "Did you mean dry_mass_g" in done.err


def test_a_missing_column_is_named_with_what_settles_it(bevelbook: Run, db: Path, notes: Run) -> None:
    done = bevelbook("--db", db, "import", notes("date,builder,box\n2024-02-14,ana,a\n"))
    assert done.code == 2
    assert "--map box=diff" in done.out
    assert asked(db, "SELECT count(*) FROM note_files") == [(0,)]


def test_values_outside_the_sane_range_are_taken_when_asked(bevelbook: Run, db: Path, notes: Run) -> None:
    path = notes("date,diff,dry_mass_g,oil_mass_g\n2024-02-14,a,250,1.5\n2024-02-14,b,-1,1.5\n")
    assert bevelbook("--db", db, "import", path, "--json").json["accepted"] == 0
    report = bevelbook("--db", db, "import", path, "--allow-out-of-range", "--json").json
    assert (report["accepted"], report["rejected"]) == (1, 1)
    assert "implausible:line 2" in report["warnings"]


def test_a_constant_surplus_asks_whether_the_lid_lay_on_the_scale(bevelbook: Run, db: Path, notes: Run) -> None:
    rows = "".join(f"2024-02-{day:02},a,21.{day:02},1.40,{21 + day / 100 + 1.4 + 0.12:.2f}\n" for day in range(10, 20))
    report = bevelbook("--db", db, "import", notes("date,diff,dry_mass_g,oil_mass_g,total_mass_g\n" + rows), "--json")
    assert any(one.startswith("lid_on_scale:about 0.12 g") for one in report.json["warnings"])


def test_past_twenty_of_a_kind_findings_are_only_counted(bevelbook: Run, db: Path, notes: Run) -> None:
    rows = "".join(f"2024-02-14,a{number},21.3\n" for number in range(30))
    warnings = bevelbook("--db", db, "import", notes("date,diff,dry_mass_g\n" + rows), "--json").json["warnings"]
    assert len(warnings) == 21
    assert warnings[-1] == "fill_unknown:and 10 more"


def test_an_empty_sheet_is_offered(bevelbook: Run, db: Path, notes: Run) -> None:
    sheet = bevelbook("import", "--template").out
    assert sheet.strip().split(",") == list(NAMES)
    report = bevelbook("--db", db, "import", notes(sheet), "--json").json
    assert (report["outcome"], report["warnings"]) == ("accepted", ["no_rows"])


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (["nowhere.csv"], "no_file"),
        (["."], "is_folder"),
        (["notes.csv", "--profile", "nowhere.yaml"], "no_file"),
        (["notes.csv", "--encoding", "klingon"], "unknown_encoding"),
        (["notes.csv", "--delimiter", "ab"], "profile_value"),
        (["notes.csv", "--map", "x"], "bad_map"),
        (["--again", "nowhere.csv"], "unknown_note_file"),
    ],
)
def test_wrong_use_is_reported_in_one_message(
    bevelbook: Run, db: Path, notes: Run, words: list[str], code: str
) -> None:
    notes(SIX)
    done = bevelbook("--db", db, "import", *words, "--json")
    assert (done.code, done.json["code"]) == (2, code)


def test_a_missing_database_is_refused(bevelbook: Run, tmp_path: Path, notes: Run) -> None:
    done = bevelbook("--db", tmp_path / "none.db", "import", notes(SIX), "--json")
    assert (done.code, done.json["code"]) == (2, "no_database")


@pytest.mark.parametrize(
    ("data", "reason"),
    [
        (b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR", "not_a_table"),
        (b"PK\x03\x04 not a workbook", "workbook_damaged"),
        (b"just a letter to a friend\n", "no_heading"),
        (b"date,diff\n2024-02-14,\x81\n", "encoding_unknown"),
    ],
)
def test_a_file_that_is_no_table_is_rejected_whole(
    bevelbook: Run, db: Path, notes: Run, data: bytes, reason: str
) -> None:
    done = bevelbook("--db", db, "import", notes(data), "--json")
    assert (done.code, done.json["outcome"], done.json["file_reason"]) == (2, "rejected", reason)


def test_text_behind_a_closing_quote_loses_its_row_only(bevelbook: Run, db: Path, notes: Run) -> None:
    text = 'date,diff,runs,result_note\n2024-02-14,a,1,"bad"x\n2024-02-15,a,2,"two\nlines"\n2024-02-16,a,3,ok\n'
    rows = bevelbook("--db", db, "import", notes(text), "--json", "--rows").json["rows"]
    assert [(row["line"], row["status"]) for row in rows] == [(2, "rejected"), (3, "accepted"), (5, "accepted")]
    assert rows[0]["reason"] == "malformed_quotes"


def test_a_second_heading_of_another_order_rejects_the_file(bevelbook: Run, db: Path, notes: Run) -> None:
    text = "date,diff,runs\n2024-02-14,a,1\ndiff,date,runs\na,2024-02-15,2\n"
    done = bevelbook("--db", db, "import", notes(text), "--json")
    assert (done.json["file_reason"], "line 3" in done.json["message"]) == ("header_changed", True)


def test_a_footer_is_skipped_and_the_same_text_inside_the_table_is_not(bevelbook: Run, db: Path, notes: Run) -> None:
    text = "date,diff,runs\n2024-02-14,a,1\nwritten by ana\n2024-02-15,a,1\nthe end\n"
    rows = bevelbook("--db", db, "import", notes(text), "--json", "--rows").json["rows"]
    assert [(row["line"], row["reason"]) for row in rows if row["status"] != "accepted"] == [
        (3, "too_few_fields"),
        (5, "footer"),
    ]


def test_the_report_for_people_is_short(bevelbook: Run, db: Path, notes: Run) -> None:
    rows = "".join(f"2024-02-14,a{number},21.3\n" for number in range(30)) + "2024-02-14,b,x\n" * 9
    lines = bevelbook("--db", db, "import", notes("date,diff,dry_mass_g\n" + rows)).out.splitlines()
    assert len(lines) < 16
    assert "    and 4 more with number_unparseable" in lines
    assert any(line.endswith("(lines 2, 3, 4, 5, 6 and 25 more)") for line in lines)


def test_a_progress_bar_comes_on_a_terminal_past_one_second(monkeypatch: pytest.MonkeyPatch) -> None:
    import io
    import sys
    import time

    from bevelbook.cli import import_

    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    clock = iter([0.0, 0.5, 1.5, 1.6, 1.7])
    monkeypatch.setattr(time, "monotonic", lambda: next(clock))
    monkeypatch.setattr(sys, "stderr", Terminal())
    with import_._bar() as tell:
        assert tell is not None
        tell("reading", 10, 100)
        assert sys.stderr.getvalue() == ""  # type: ignore[attr-defined]
        tell("reading", 50, 100)
        tell("writing", 10, 100)
    assert "Reading" in sys.stderr.getvalue()  # type: ignore[attr-defined]
    assert "Writing" in sys.stderr.getvalue()  # type: ignore[attr-defined]


def test_no_progress_bar_where_nobody_looks() -> None:
    from bevelbook.cli import import_

    with import_._bar() as tell:
        assert tell is None
