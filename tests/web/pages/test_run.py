"""What the page of a run asks of the database."""

from __future__ import annotations

import html
import re
import sqlite3
from pathlib import Path

import pytest
from browser_team import make_team, site_over
from constructed import Add, Team

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.pages.run import readings_of, run_page_of
from bevelbook.web.shared.remark_words import one_remark


def test_the_page_of_a_run_knows_what_was_where_and_what_changed_since_the_run_before(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    car, build = add("car", name="blue"), team.build(oil_mass_g=1.86, built_on="2026-05-01")
    add("car_diff", car=car, position="rear", diff=team.diff, from_on="2026-05-01")
    add("car_diff", car=car, position="front", instead="spool", from_on="2026-05-01")
    add("car_value", car=car, what="motor", value="13.5", from_on="2026-05-01")
    first = add("run", label="2026-05-10/1", run_on="2026-05-10", car=car)
    add("car_value", car=car, what="motor", value="17.5", from_on="2026-05-11")
    second = add("run", label="2026-05-12/1", run_on="2026-05-12", car=car, note="planted", best_lap_s=14.2)
    for run, temperature in ((first, None), (second, 38.0)):
        add("run_diff", run=run, build=build, position="rear", diff_temp_c=temperature, temp_taken="in the pits")
    found = run_page_of(connection, second)
    assert [
        (row["position"], row["build_label"], row["diff_temp_c"], row["temp_taken"]) for row in found.run.diffs
    ] == [("rear", "rear-a/1", 38.0, "in the pits")]
    assert found.instead == {"front": "spool"}
    assert [one.words for one in found.run.values] == ["motor: 17.5, was 13.5"]
    assert run_page_of(connection, first).run.values == ()


def test_a_run_without_car_or_diff_has_a_page(connection: sqlite3.Connection, add: Add) -> None:
    found = run_page_of(connection, add("run", label="2026-05-10/1", run_on="2026-05-10"))
    assert (found.run.diffs, found.instead, found.run.values, found.noted_in) == ((), {}, (), None)


READ = {
    "place": "rear",
    "place_from": "run",
    "diff_temp_c": 38.0,
    "temp_taken": None,
    "after_run_s": 120.0,
    "second_diff_temp_c": 35.0,
    "second_after_run_s": 300.0,
    "air_temp_c": 22.0,
}


def test_what_was_read_is_shown_and_the_end_of_the_run_beside_it() -> None:
    """22 + 16 (16/13)^(2/3) = 40.4."""
    assert list(readings_of(READ)) == [
        "rear: 38.0 °C, 2 min after the run",
        "rear, read again: 35 °C after 5 min",
        "rear, worked out for the end of the run: 40.4 °C (38.1 to 42.6 °C, 95 %)",
    ]


@pytest.mark.parametrize("empty", ["after_run_s", "second_diff_temp_c", "second_after_run_s", "air_temp_c"])
def test_nothing_is_worked_out_where_a_reading_its_time_or_the_air_is_missing(empty: str) -> None:
    assert not any("worked out" in line for line in readings_of({**READ, empty: None}))


def test_the_page_begins_with_its_call_laps_and_diffs_and_leads_to_its_day(tmp_path: Path, registry: Registry) -> None:
    team = make_team(tmp_path / "team.db")
    with site_over(team.path, registry) as site:
        page = site.page(f"/team/-/run/{team.ids['run 3']}")
    words = " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page.partition("<main")[2])).split())
    order = ("Run 2026-03-11/3 keep", "15.63 s best five", "rear: 7,000 (6,150 cSt)", "steady", "Temperatures and when")
    found = [words.find(one) for one in order]
    assert -1 not in found
    assert found == sorted(found)
    assert 'href="/team/-/day/2026-03-11"' in page
    assert f'href="/team/-/run/{team.ids["run 2"]}"' in page
    assert f'href="/team/-/run/{team.ids["run 4"]}"' in page


def test_what_happened_and_the_remark_each_say_which_they_are(tmp_path: Path, registry: Registry) -> None:
    path = make_team(tmp_path / "team.db").path
    writing = open_for_writing(path)
    with transaction(writing, path):
        run = {"label": "2026-06-01/1", "run_on": "2026-06-01", "happened": "roll-over", "note": "fine\nafter it"}
        row_id = Writer(writing, "ana").insert(BY_NAME["run"], run)
    writing.close()
    with site_over(path, registry) as site:
        shown = [site.page(f"/team/-/run/{row_id}"), site.page("/team/-/day/2026-06-01")]
    assert ["Happened: “roll-over”" in page for page in shown] == [True, True]
    assert ["Remark: “fine" in page for page in shown] == [True, True]
    assert "“fine\nafter it”" in shown[0]


def test_a_line_with_room_for_one_says_where_it_is_what_happened() -> None:
    assert str(one_remark({"happened": "<b>rolled</b>", "note": None}, 40)) == "Happened: “&lt;b&gt;rolled&lt;/b&gt;”"
    assert str(one_remark({"happened": "rolled", "note": "planted"}, 40)) == "“planted”"
