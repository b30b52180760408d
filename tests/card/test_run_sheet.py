"""The run sheet: the eight things of a run in their order, and the diffs of each car printed in."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome
from constructed import Add, Team

from bevelbook.card.html import run_sheet_page
from bevelbook.card.run_sheet import LONGEST_LIST, blank_run_sheet, run_sheet_of
from bevelbook.card.sheet_text import run_sheet_lines
from bevelbook.records import BY_NAME
from bevelbook.reference import caution_in_words
from bevelbook.web.pages.sheet import all_fields_page_of, run_sheet_page_of

Run = Callable[..., Outcome]


def test_it_has_the_eight_things_of_a_run_in_their_order() -> None:
    """Diff temperature and minutes after are one of the eight; the words to circle are those of the record."""
    (sheet,) = blank_run_sheet().sheets
    assert [column.key for column in sheet.columns] == [
        *("temperature", "minutes", "lap", "balance", "grip", "changed", "happened", "call", "note")
    ]
    run, run_diff = BY_NAME["run"], BY_NAME["run_diff"]
    lines = [line for column in sheet.columns for line in column.lines]
    for line in lines:
        place, _, name = line.field.rpartition(".")
        assert name in {field.name for field in (run_diff if place else run).fields}
    by_field = {line.field: line for line in lines}
    for name in ("grip", "grip_trend", "call"):
        assert by_field[name].choices == run.field(name).choices
    assert by_field["balance_exit"].choices == ("-2", "-1", "0", "+1", "+2")
    assert by_field["rear.diff_temp_c"].choices == by_field["note"].choices == ()


def test_the_diffs_of_a_car_are_printed_with_build_and_oil(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    blue, red = add("car", name="blue"), add("car", name="red")
    add("car", name="green")
    oil = add("fluid", label="quince 7k", viscosity_cst=7000.0)
    team.build(oil_mass_g=1.86, fluid=oil, built_on="2026-05-01")
    add("car_diff", car=blue, position="rear", diff=team.diff, from_on="2026-05-01")
    add("car_diff", car=blue, position="centre", instead="spool", from_on="2026-05-01")
    add("car_diff", car=red, position="front", instead="one-way", from_on="2026-05-01")
    sheet = run_sheet_of(connection)
    assert [one.car for one in sheet.sheets] == ["blue", "red"], "green has nothing written down"
    front, centre, rear = sheet.sheets[0].places
    assert (front.is_known, centre.instead, rear.diffs[0].words) == (False, "spool", "rear-a/1, quince 7k")
    temperature = next(column for column in sheet.sheets[0].columns if column.key == "temperature")
    assert [line.instead for line in temperature.lines] == ["", "spool", ""]
    assert [one.car for one in run_sheet_of(connection, red).sheets] == ["red"]
    text = "\n".join(run_sheet_lines(sheet))
    assert "rear    rear-a/1, quince 7k" in text
    assert "front   ________" in text


def test_without_a_set_the_diffs_of_the_shelf_are_there_to_circle(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    """At the place where each usually runs; one that is apart is not there, and too many leave a line to write on."""
    add("car", name="blue")
    team.build(oil_mass_g=1.86, viscosity_cst=7000.0)
    for number in (1, 2):
        diff = add("diff", label=f"front-{number}", usual_position="front")
        add("build", label=f"front-{number}/1", diff=diff, built_on="2026-05-01", viscosity_cst=5000.0)
    add("diff", label="front-apart", usual_position="front")
    (sheet,) = run_sheet_of(connection).sheets
    assert sheet.car == ""
    front, centre, rear = sheet.places
    assert [diff.words for diff in front.diffs] == ["front-1/1, 5,000 cSt", "front-2/1, 5,000 cSt"]
    assert (front.is_known, centre.diffs, rear.diffs) == (False, (), ()), "rear-a has no usual place"
    page = run_sheet_page(run_sheet_of(connection))
    assert '<span class="to-circle">front-1/1, 5,000 cSt</span>' in page
    for number in range(3, 3 + LONGEST_LIST // 10):
        diff = add("diff", label=f"front-{number}", usual_position="front")
        add("build", label=f"front-{number}/1", diff=diff, built_on="2026-05-01")
    assert run_sheet_of(connection).sheets[0].places[0].diffs == ()


def test_the_cautions_of_the_pits_are_in_full_on_both_sheets(connection: sqlite3.Connection) -> None:
    for page in (run_sheet_page_of(connection, ""), all_fields_page_of(connection)):
        for key in ("lipo", "hot-parts", "wheels-on-stand", "oil-on-floor"):
            assert caution_in_words(key) in page.fragment


def test_the_command_takes_a_car_and_the_kind_with_all_fields(bevelbook: Run, tmp_path: Path) -> None:
    bevelbook("new")
    bevelbook("record", "car", "name=blue")
    done = bevelbook("card", "--run-sheet", "--car", "blue", "--html", tmp_path / "sheet.html")
    assert (done.code, done.out.rpartition(": ")[2]) == (0, "1 sheet of paper, printed across.\n")
    assert "blue" in (tmp_path / "sheet.html").read_text(encoding="utf-8")
    assert bevelbook("card", "--run-sheet", "--json").json["runs"] == 6
    assert bevelbook("card", "--run-sheet", "--all-fields", "--json").json["groups"][0]["title"] == "The day"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--car", "bleu", "--run-sheet"], "Did you mean blue"),
        (["--car", "blue"], "goes with --run-sheet"),
        (["--all-fields"], "goes with --run-sheet"),
        (["--all-fields", "--run-sheet", "--car", "blue"], "leave --car out"),
    ],
)
def test_what_does_not_go_together_is_explained(bevelbook: Run, words: list[str], said: str) -> None:
    bevelbook("new")
    bevelbook("record", "car", "name=blue")
    done = bevelbook("card", *words)
    assert done.code == 2
    assert said in done.err


def test_a_database_that_cannot_be_read_leaves_the_sheet_blank_and_says_so(bevelbook: Run, tmp_path: Path) -> None:
    (tmp_path / "team.db").write_text("not a database", encoding="utf-8")
    done = bevelbook("--db", tmp_path / "team.db", "card", "--run-sheet")
    assert done.code == 0
    assert "The sheet is blank." in done.err
