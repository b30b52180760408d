"""Columns of temperatures by place: that of the row's own diff is its temperature, others are kept beside the row.
Invented data."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.notes.headings import column_called

Command = Callable[..., Any]
HEADING = (
    "date,diff,oil mass,runs,position,car,diff temp,front diff temp (C),diff temp centre (C),Rear Diff Temp (F),note"
)
FILLED = "2026-05-03,K-01,1.5,,,,,,,,"


@pytest.fixture
def bring(bevelbook: Command, db: Path, tmp_path: Path) -> Callable[..., Any]:
    """Import rows under the heading."""

    def run(*rows: str, name: str = "sheet.csv", options: tuple[str, ...] = ()) -> Any:
        path = tmp_path / name
        path.write_text("\n".join([HEADING, *rows]) + "\n", encoding="utf-8")
        return bevelbook("--db", db, "import", path, "--json", "--temp-unit", "C", *options)

    return run


def rows(db: Path, sql: str) -> list[tuple[Any, ...]]:
    with closing(sqlite3.connect(db)) as connection:
        return connection.execute(sql).fetchall()


def measured(db: Path) -> list[tuple[Any, ...]]:
    return rows(db, "SELECT diff_temp_c, temp_place FROM run_diffs ORDER BY note_file, note_line")


def beside(db: Path) -> dict[int, Any]:
    return {line: json.loads(cells) for line, cells in rows(db, "SELECT line, cells FROM note_extras")}


def findings(done: Any) -> list[str]:
    return [one for one in done.json["warnings"] if "place" in one]


@pytest.mark.parametrize(
    ("heading", "column"),
    [
        ("Front diff temp", "front_diff_temp_c"),
        ("diff temp front", "front_diff_temp_c"),
        ("Temp front diff", "front_diff_temp_c"),
        ("center diff temperature", "centre_diff_temp_c"),
        ("centre diff temp c", "centre_diff_temp_c"),
        ("rear diff temp", "rear_diff_temp_c"),
        ("diff temperature rear", "rear_diff_temp_c"),
    ],
)
def test_what_people_write_above_them(heading: str, column: str) -> None:
    assert column_called(heading) == column


def test_the_position_of_the_row_says_which_one_is_its_own(bring: Command, db: Path) -> None:
    done = bring(FILLED, "2026-05-10,K-01,,2,rear,,,44,,118.4,", "2026-05-11,K-01,,2,front,,,44,,,")
    assert (done.code, done.json["rejected"], findings(done)) == (0, 0, ["other_place:line 3"])
    assert measured(db) == [(48.0, "rear"), (44.0, "front")]
    assert beside(db) == {3: {"front_diff_temp_c": 44.0}}
    shown = "SELECT diff_temp_c, front_diff_temp_c, rear_diff_temp_c FROM imported_notes WHERE line > 2 ORDER BY line"
    assert rows(db, shown) == [(None, None, 48.0), (None, 44.0, None)]


def test_the_usual_position_of_the_diff_says_it(bring: Command, bevelbook: Command, db: Path) -> None:
    bring(FILLED)
    assert bevelbook("--db", db, "record", "diff", "K-01", "usual_position=front").code == 0
    done = bring("2026-05-10,K-01,,2,,,,44,,,", "2026-05-11,K-01,,2,centre,,,44,46,,", name="next.csv")
    assert (done.code, findings(done)) == (0, ["other_place:line 3"])
    assert sorted(measured(db)) == [(44.0, "front"), (46.0, "centre")]


@pytest.mark.parametrize("car", ["", "blue"])
def test_the_records_of_the_car_say_it(bring: Command, bevelbook: Command, db: Path, car: str) -> None:
    bring(FILLED)
    for words in (("car", "name=blue"), ("car-diff", "car=blue", "rear=K-01", "from_on=2026-05-05")):
        assert bevelbook("--db", db, "record", *words).code == 0
    row = f",K-01,,2,,{car},,,,118.4,"
    done = bring(f"2026-05-04{row}", f"2026-05-05{row}", f"2026-05-06{row}", name="next.csv")
    assert (done.code, findings(done)) == (0, ["place_unknown:line 2", "place_unknown:line 3"])
    assert measured(db) == [(None, None), (None, None), (48.0, "rear")]
    assert beside(db) == {line: {"rear_diff_temp_c": 48.0} for line in (2, 3)}


def test_a_usual_position_that_the_car_contradicts_says_nothing(bring: Command, bevelbook: Command, db: Path) -> None:
    bring(FILLED, FILLED.replace("K-01", "K-02"))
    for words in (
        ("diff", "K-01", "usual_position=rear"),
        ("car", "name=blue"),
        ("car-diff", "car=blue", "rear=K-02", "front=K-01", "from_on=2026-05-05"),
        ("car", "name=red"),
        ("car-diff", "car=red", "rear=spool", "from_on=2026-05-05"),
    ):
        assert bevelbook("--db", db, "record", *words).code == 0
    done = bring("2026-05-10,K-01,,2,,blue,,,,118.4,", "2026-05-11,K-01,,2,,red,,,,118.4,", name="next.csv")
    assert findings(done) == ["place_unknown:line 2", "place_unknown:line 3"]
    assert measured(db) == [(None, None)] * 2


def test_a_car_that_is_new_is_not_the_one_in_which_the_diff_was(bring: Command, bevelbook: Command, db: Path) -> None:
    bring(FILLED)
    for words in (("car", "name=blue"), ("car-diff", "car=blue", "rear=K-01", "from_on=2026-05-05")):
        assert bevelbook("--db", db, "record", *words).code == 0
    done = bring("2026-05-10,K-01,,2,,blue,50,,,118.4,", "2026-05-10,K-01,,2,,green,50,,,118.4,", name="next.csv")
    assert [one["line"] for one in done.json["rejects"]] == [2]
    assert findings(done) == ["place_unknown:line 3"]
    assert measured(db) == [(50.0, None)]


def test_what_was_unknown_is_settled_by_a_record_and_reading_again(
    bring: Command, bevelbook: Command, db: Path
) -> None:
    text = (FILLED, "2026-05-10,K-01,,2,,,,,,118.4,calm")
    assert findings(bring(*text)) == ["place_unknown:line 3"]
    ids = rows(db, "SELECT id FROM run_diffs")
    assert bring(*text).json["added"] == 0
    assert beside(db) == {3: {"rear_diff_temp_c": 48.0}}
    assert bevelbook("--db", db, "record", "diff", "K-01", "usual_position=rear").code == 0
    assert bring(*text).json["added"] == 0
    assert measured(db) == [(None, None)]
    assert bevelbook("--db", db, "import", "--again", "sheet.csv", "--yes").code == 0
    assert (measured(db), beside(db), rows(db, "SELECT id FROM run_diffs")) == ([(48.0, "rear")], {}, ids)


def test_a_temperature_that_differs_from_that_of_its_place_is_rejected_in_words(
    bring: Command, bevelbook: Command, db: Path
) -> None:
    text = (
        FILLED,
        "2026-05-10,K-01,,2,rear,,48,,,118.4,",
        "2026-05-11,K-01,,2,rear,,50,,,118.4,",
        "2026-05-12,K-01,,2,,,50,,,118.4,",
    )
    done = bring(*text)
    (left,) = done.json["rejects"]
    assert (left["line"], left["reason"], left["column"]) == (4, "temps_disagree", "rear_diff_temp_c")
    assert left["words"].startswith("K-01 was at the rear: 48 °C there, and 50 °C in the column of its own. Correct")
    assert (done.json["read"], done.json["accepted"], findings(done)) == (4, 3, ["place_unknown:line 5"])
    assert measured(db) == [(48.0, None), (50.0, None)]
    assert beside(db) == {3: {"rear_diff_temp_c": 48.0}, 5: {"rear_diff_temp_c": 48.0}}
    assert bevelbook("--db", db, "record", "diff", "K-01", "usual_position=rear").code == 0
    again = bevelbook("--db", db, "import", "--again", "sheet.csv", "--yes", "--json")
    assert [one["line"] for one in again.json["rejects"]] == [4, 5]


def test_a_row_that_is_changed_later_keeps_its_temperature(bring: Command, db: Path) -> None:
    bring(FILLED, "2026-05-10,K-01,,2,rear,,,44,,118.4,calm")
    ids = rows(db, "SELECT id FROM run_diffs")
    done = bring(FILLED, "2026-05-10,K-01,,2,rear,,,44,,122,calm on entry", options=("--take-changes",))
    (changed,) = done.json["looks_changed"]
    assert [one["column"] for one in changed["differences"]] == ["result_note", "rear_diff_temp_c"]
    assert (measured(db), rows(db, "SELECT id FROM run_diffs")) == ([(50.0, "rear")], ids)
    assert [*beside(db).values()] == [{"front_diff_temp_c": 44.0}]


def test_a_row_that_is_placed_again_keeps_its_temperature(bring: Command, db: Path) -> None:
    bring("2026-05-10,K-01,,2,rear,,,44,,118.4,")
    assert (rows(db, "SELECT count(*) FROM builds"), measured(db)) == ([(1,)], [(48.0, "rear")])
    bring(FILLED, name="older.csv")
    assert rows(db, "SELECT built_on FROM builds") == [("2026-05-03",)]
    assert measured(db) == [(48.0, "rear")]
    assert beside(db) == {2: {"front_diff_temp_c": 44.0}}


def test_what_a_file_brought_is_taken_back_and_comes_again(bring: Command, bevelbook: Command, db: Path) -> None:
    text = (FILLED, "2026-05-10,K-01,,2,rear,,,44,,118.4,")
    bring(*text)
    ids = rows(db, "SELECT id FROM run_diffs")
    assert bevelbook("--db", db, "take-back", "--yes").code == 0
    assert (measured(db), beside(db)) == ([], {})
    assert bring(*text).json["added"] == 2
    assert (measured(db), rows(db, "SELECT id FROM run_diffs")) == ([(48.0, "rear")], ids)
    assert beside(db) == {3: {"front_diff_temp_c": 44.0}}


def test_a_file_without_these_columns_is_read_as_before(bevelbook: Command, db: Path, tmp_path: Path) -> None:
    path = tmp_path / "plain.csv"
    path.write_text("date,diff,oil_mass_g,diff_temp_c,position\n2026-05-10,K-01,1.5,48,rear\n")
    assert bevelbook("--db", db, "import", path, "--json").json["warnings"] == []
    assert measured(db) == [(48.0, None)]
