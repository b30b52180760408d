"""Runs typed on a phone without the laptop, and handed over later: stored as if the laptop had been there.

All people, venues and figures are invented.
"""

from __future__ import annotations

import json
import os
import re
import sqlite3
import time
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from html import unescape
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest
from browser_team import Team
from entered import EnteredSite, entered_site
from entry_team import make_entry_team
from handing_over import AS_SCRIPT, as_noted, drawn_form, hand_over, typed_on
from web.entry.conftest import words

from bevelbook.facts.day_order import first_run_first, runs_of_day
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.reports.carried_to_run import WEATHER, WEATHER_HOLDS
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

RUN = "/team/-/enter/run"
WEIGH = "/team/-/enter/weigh"
HOUR = 3600.0
FIRST = {"car": "blue", "rear_temp_c": "38", "after": "2", "air_temp_c": "23.5", "track_temp_c": "30"}
SECOND = {
    "car": "blue",
    "rear_temp_c": "41",
    "changed.tick": ["tyres"],
    "changed.words": "",
    "tyres": "white, 35 shore",
    "tyre_runs": "0",
    "call": "keep",
}
THIRD = {"car": "blue", "rear_temp_c": "43", "front_temp_c": "37", "best_five_s": "18.1"}


@pytest.fixture(autouse=True)
def afternoon(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """It is between three and four in the afternoon on the wall, so that hours ago are of the same day."""
    offset_h = 15 - datetime.now(UTC).hour
    monkeypatch.setenv("TZ", f"PIT{-(offset_h if offset_h > -12 else offset_h + 24)}")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.fixture
def site(tmp_path: Path, registry: Registry) -> Iterator[EnteredSite]:
    with _site(tmp_path, registry, "phone") as made:
        yield made


@contextmanager
def _site(folder: Path, registry: Registry, name: str) -> Iterator[EnteredSite]:
    """The team, whose blue car ran yesterday as well."""
    (folder / name).mkdir()
    team = Team(make_entry_team(folder / name / "team.db", was_written=True), {})
    with entered_site(team, registry, folder / name / "settings") as site:
        ran(site, "blue", tyres="grey, 32 shore", tyre_runs=2.0)
        yield site


def add(site: EnteredSite, kind: str, *, ago_s: float = 0.0, **values: object) -> str:
    """A record that ben wrote some seconds ago."""
    with closing(open_for_writing(site.team.path)) as connection, transaction(connection, site.team.path, by="ben"):
        return Writer(connection, "ben", lambda: _ago(ago_s)).insert(BY_NAME[kind], values)


def ran(site: EnteredSite, car: str, *, days_ago: int = 1, **values: object) -> str:
    """A run of a car at the hall with ana, written down a day ago, or so many hours as days are not."""
    day = (datetime.now() - timedelta(days=days_ago)).date().isoformat()
    ids = {
        kind: site.rows(f"SELECT id FROM {BY_NAME[kind].table} WHERE name = ?", name)[0][0]
        for kind, name in (("car", car), ("venue", "Lantern Hall"))
    }
    driver = site.rows("SELECT id FROM people WHERE name = 'ana'")[0][0]
    ago_s = days_ago * 24 * HOUR or 6 * HOUR
    label = f"{day}/{car}"
    return add(site, "run", ago_s=ago_s, label=label, run_on=day, runs=1.0, driver=driver, **{**ids, **values})


def runs(site: EnteredSite) -> list[dict[str, Any]]:
    """The runs of today with what was where in them, without what no two databases share, in the order of storing."""
    with closing(sqlite3.connect(site.team.path)) as connection:
        connection.row_factory = sqlite3.Row
        today = datetime.now().date().isoformat()
        found = [
            dict(row) for row in connection.execute("SELECT * FROM runs WHERE run_on = ? ORDER BY rowid", (today,))
        ]
        for run in found:
            at = connection.execute("SELECT * FROM run_diffs WHERE run = ? ORDER BY position", (run["id"],))
            run["diffs"] = [_without_ids(dict(row)) for row in at]
            facts = connection.execute(
                "SELECT f.* FROM run_diff_facts f JOIN run_diffs d ON d.id = f.run_diff WHERE d.run = ? "
                "ORDER BY d.position",
                (run["id"],),
            )
            run["facts"] = [_without_ids(dict(row)) for row in facts]
            for name in ("venue", "car", "driver", "noted_by"):
                table = BY_NAME[BY_NAME["run"].field(name).target or ""].table
                named = connection.execute(f"SELECT name FROM {table} WHERE id = ?", (run[name],)).fetchone()
                run[name] = named and named[0]
            run["entered"] = json.loads(run["entered"] or "{}")
        return [_without_ids(run) for run in found]


_OF_ONE_DATABASE = ("id", "version", "parents", "created_at", "updated_at", "run", "build", "diff", "run_diff")


def _without_ids(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: value for name, value in row.items() if name not in _OF_ONE_DATABASE}


def stored_at(site: EnteredSite) -> list[datetime]:
    rows = site.rows("SELECT created_at FROM runs WHERE run_on = ? ORDER BY rowid", datetime.now().date().isoformat())
    return [datetime.fromisoformat(row[0].replace("Z", "+00:00")) for row in rows]


def kept_on_one_page(site: EnteredSite, *typed: Mapping[str, str | Sequence[str]]) -> list[dict[str, Any]]:
    """Runs typed one after the other on one page that stays open: each has the hidden fields of that page."""
    page = drawn_form(site.page(RUN))
    return [{**page, **one, "key": str(uuid4())} for one in typed]


def test_three_runs_of_a_car_are_stored_as_if_the_laptop_had_been_there(tmp_path: Path, registry: Registry) -> None:
    """Tyres changed in the second with new ones named, air typed in the first: a database beside has the same rows."""
    with _site(tmp_path, registry, "there") as there:
        for typed in (FIRST, SECOND, THIRD):
            there.send(RUN, {**drawn_form(there.page(RUN)), **typed})
        expected = runs(there)
    with _site(tmp_path, registry, "gone") as gone:
        kept = kept_on_one_page(gone, FIRST, SECOND, THIRD)
        keys = [one["key"] for one in kept]
        before = datetime.now(UTC)
        for place, (one, ago_s) in enumerate(zip(kept, (2.5 * HOUR, 1.5 * HOUR, 0.5 * HOUR), strict=True)):
            answer = hand_over(gone, RUN, as_noted(one, ago_s, after=keys[:place]))
            assert answer["done"] == "stored", answer["words"]
        assert [
            {name: (value, run[name]) for name, value in of_gone.items() if value != run[name]}
            for of_gone, run in zip(runs(gone), expected, strict=True)
        ] == [{}, {}, {}]
        assert [run["tyres"] for run in expected] == ["grey, 32 shore", "white, 35 shore", "white, 35 shore"]
        assert [run["air_temp_c"] for run in expected] == [23.5, 23.5, 23.5]
        for at, ago_s in zip(stored_at(gone), (2.5 * HOUR, 1.5 * HOUR, 0.5 * HOUR), strict=True):
            assert abs((before - timedelta(seconds=ago_s) - at).total_seconds()) < 60
        (asked,) = gone.rows("SELECT asked FROM entries WHERE id = ?", keys[1])[0]
        noted = (datetime.now() - timedelta(hours=1.5)).strftime("%H:")
        assert asked.startswith(f"from the browser: a new run, noted {noted}")
        assert asked.endswith(", waited on the phone 1 h 30 min")


def test_air_read_more_than_three_hours_before_a_run_was_noted_is_left_out_and_that_is_said(site: EnteredSite) -> None:
    ran(site, "blue", days_ago=0, air_temp_c=21.0)
    first, second, third = kept_on_one_page(site, FIRST, SECOND, THIRD)
    assert "air_temp_c" in first["carried.values"]
    assert hand_over(site, RUN, as_noted(first, 5 * HOUR))["done"] == "stored"
    fresh = hand_over(site, RUN, as_noted(second, 2.5 * HOUR, after=[first["key"]]))
    assert runs(site)[-1]["air_temp_c"] == 23.5, "noted two and a half hours after the reading"
    assert not any("not carried over: it was read" in line for line in fresh["more"])
    old = hand_over(site, RUN, as_noted(third, 1.5 * HOUR, after=[first["key"], second["key"]]))
    assert runs(site)[-1]["air_temp_c"] is None, "noted three and a half hours after it"
    said = "Air 23.5 °C is not carried over: it was read more than 3 h before this was noted."
    assert said in old["more"]
    assert fresh["left_out"] == []
    assert old["left_out"] == [said, said.replace("Air 23.5", "Track 30")]


def test_a_page_says_for_how_long_what_it_carries_over_holds(site: EnteredSite) -> None:
    """A phone goes by that without the laptop: the same limits, the age of each value, and the end of the day."""
    assert hand_over(site, RUN, as_noted(kept_on_one_page(site, FIRST)[0], 1800))["done"] == "stored"
    ageing = json.loads(unescape(site.page(RUN).partition('data-ageing="')[2].partition('"')[0]))
    assert ageing["holds_min"] == {name: WEATHER_HOLDS.total_seconds() / 60 for name in WEATHER}
    assert 8 * 60 < ageing["day_ends_min"] <= 9 * 60, "it is between three and four in the afternoon"
    air = ageing["values"]["air_temp_c"]
    assert (air["text"], air["days"]) == ("23.5", 0)
    assert 29 < air["minutes"] < 31


def test_without_a_car_the_page_says_to_choose_one(site: EnteredSite) -> None:
    for name in ("red", "white"):
        add(site, "car", name=name, ago_s=48 * HOUR)
    with closing(open_for_writing(site.team.path)) as connection:
        connection.execute("UPDATE runs SET car = NULL")
        connection.commit()
    page = words(site.page(RUN).partition("<template")[0])
    assert "Choose the car: then its diffs stand here." in page
    assert "No diff is known" not in page


def test_runs_of_two_cars_in_turn_take_over_what_the_phone_noted_before_them(site: EnteredSite) -> None:
    add(site, "car", name="red", ago_s=48 * HOUR)
    ran(site, "red", tyres="red ones", tyre_runs=3.0)
    of_blue, of_red = (drawn_form(site.page(f"{RUN}?car={name}")) for name in ("blue", "red"))
    typed: list[dict[str, Any]] = [
        {**of_blue, **FIRST},
        {**of_red, "car": "red", "note": "red, the first"},
        {**of_blue, **SECOND},
        {**of_red, "car": "red", "note": "red, the second", "tyres": "", "air_temp_c": "26"},
        {**of_blue, **THIRD},
    ]
    keys: list[str] = []
    for place, one in enumerate(typed):
        key = str(uuid4())
        answer = hand_over(site, RUN, as_noted({**one, "key": key}, 3000 - 600 * place, after=keys))
        assert answer["done"] == "stored", answer["words"]
        keys.append(key)
    found = [(run["car"], run["tyres"], run["tyre_runs"], run["air_temp_c"]) for run in runs(site)]
    assert found == [
        ("blue", "grey, 32 shore", 3.0, 23.5),
        ("red", "red ones", 4.0, 23.5),
        ("blue", "white, 35 shore", 0.0, 23.5),
        ("red", "red ones", 5.0, 26.0),
        ("blue", "white, 35 shore", 1.0, 26.0),
    ]


def test_a_run_that_another_phone_stored_meanwhile_is_asked_about_and_then_stored(site: EnteredSite) -> None:
    first, second = kept_on_one_page(site, FIRST, SECOND)
    assert hand_over(site, RUN, as_noted(first, 1800))["done"] == "stored"
    other = site.paired_with(site.entry.phones.add("other phone", "ben").phone)
    other.send(RUN, {**drawn_form(other.page(RUN)), "car": "blue", "note": "from the other phone"})
    waited = as_noted(second, 900, after=[first["key"]])
    answer = hand_over(site, RUN, waited)
    assert answer["done"] == "asks"
    today, at = datetime.now().date().isoformat(), r"(at 15:\d\d|at 16:\d\d)"
    said = rf"Run {today}/2 of blue was noted by ben {at}: note from the other phone\. Is this another run, or the same"
    assert re.match(said, answer["words"]), answer["words"]
    assert len(runs(site)) == 2
    looked = site.post(RUN, waited)
    assert answer["words"] in words(looked.text)
    (meanwhile,) = site.rows("SELECT id FROM runs WHERE note = 'from the other phone'")[0]
    assert f'<a href="/team/-/run/{meanwhile}" data-drops>The same run: drop mine</a>' in looked.text
    another = {"answer.run_meanwhile": "another"}
    assert 'name="answer.run_meanwhile" value="another"' in looked.text
    drawn = drawn_form(looked.text)
    assert site.post(RUN, {**SECOND, **drawn, **another}).status_code == 303
    assert [run["tyres"] for run in runs(site)][-1] == "white, 35 shore"
    assert abs((datetime.now(UTC) - stored_at(site)[-1]).total_seconds() - 900) < 60, "it keeps its time"
    assert hand_over(site, RUN, waited)["done"] == "known"
    with closing(sqlite3.connect(site.team.path)) as connection:
        in_turn = runs_of_day(connection, site.rows("SELECT id FROM cars")[0][0], today)
        by_id = dict(connection.execute("SELECT id, label FROM runs").fetchall())
        sql = f"SELECT label FROM runs r WHERE run_on = ? ORDER BY {first_run_first()}"
        in_lists = [row[0] for row in connection.execute(sql, (today,))]
    assert [by_id[run] for run in in_turn] == [f"{today}/1", f"{today}/3", f"{today}/2"], "as they were noted"
    assert in_lists == [by_id[run] for run in in_turn]


def test_a_diff_put_into_the_car_before_the_run_was_noted_is_asked_about_and_one_put_in_after_it_is_not(
    site: EnteredSite,
) -> None:
    kept, later = kept_on_one_page(site, FIRST, THIRD)
    car, rear_b = site.rows("SELECT id FROM cars")[0][0], site.rows("SELECT id FROM diffs WHERE label = 'rear-b'")[0][0]
    add(site, "car_diff", car=car, position="rear", diff=rear_b, from_on=datetime.now().date().isoformat())
    assert hand_over(site, RUN, as_noted(kept, 1800))["done"] == "stored"
    fitted = site.rows("SELECT b.label FROM run_diffs d JOIN builds b ON b.id = d.build "
                       "JOIN runs r ON r.id = d.run ORDER BY r.rowid DESC, d.position DESC LIMIT 1")  # fmt: skip
    assert fitted == [("rear-a/2",)], "it was still in when this was noted"
    with closing(open_for_writing(site.team.path)) as connection:
        connection.execute("UPDATE car_diffs SET created_at = ? WHERE diff = ?", (_ago(1200), rear_b))
    answer = hand_over(site, RUN, as_noted(later, 600, after=[kept["key"]]))
    assert answer["done"] == "asks"
    assert "rear now rear-b" in answer["words"]


def _ago(seconds: float) -> str:
    at = datetime.now(UTC) - timedelta(seconds=seconds)
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def test_a_run_of_yesterday_keeps_its_day(site: EnteredSite) -> None:
    (kept,) = kept_on_one_page(site, FIRST)
    answer = hand_over(site, RUN, as_noted(kept, 24 * HOUR))
    assert answer["done"] == "stored", answer["words"]
    yesterday = (datetime.now() - timedelta(days=1)).date().isoformat()
    assert site.rows("SELECT label FROM runs WHERE run_on = ? ORDER BY rowid", yesterday)[1:] == [(f"{yesterday}/1",)]
    (asked,) = site.rows("SELECT asked FROM entries WHERE id = ?", kept["key"])[0]
    assert f"noted {yesterday} 15:" in asked
    assert asked.endswith("waited on the phone 1 day")


def test_where_the_day_is_not_certain_the_page_asks_and_the_answer_is_the_day_of_the_run(site: EnteredSite) -> None:
    """The phone's clock was three days late and was put right while the run waited."""
    (kept,) = kept_on_one_page(site, FIRST)
    waited = {**as_noted(kept, HOUR), "waited.s": str(3 * 24 * HOUR + HOUR)}
    answer = hand_over(site, RUN, waited)
    assert answer["done"] == "asks"
    assert "Which day was it?" in answer["words"]
    looked = site.post(RUN, waited)
    three_days_ago = (datetime.now() - timedelta(days=3)).date().isoformat()
    assert looked.text.count('name="answer.noted"') == 2
    assert f'name="answer.noted" value="{three_days_ago}"' in looked.text
    settled = site.post(RUN, {**FIRST, **drawn_form(looked.text), "answer.noted": three_days_ago})
    assert settled.status_code in (303, 400), "another day may change what is carried over"
    if settled.status_code == 400:
        settled = site.post(RUN, {**FIRST, **drawn_form(settled.text)})
    assert settled.status_code == 303, words(settled.text)
    assert len(site.rows("SELECT 1 FROM runs WHERE run_on = ?", three_days_ago)) == 1


def test_the_same_weighing_twice_within_a_minute_is_stored_twice_where_it_waited(site: EnteredSite) -> None:
    typed = {"build": "rear-a", "mass_g": "22.30"}
    for ago_s in (700, 660):
        kept = typed_on(site, WEIGH, typed)
        answer = hand_over(site, WEIGH, as_noted(kept, ago_s))
        assert answer["done"] == "stored", answer["words"]
    assert len(site.rows("SELECT 1 FROM weighings WHERE mass_g = 22.3")) == 2
    at_once = typed_on(site, WEIGH, typed)
    assert hand_over(site, WEIGH, at_once)["done"] == "stored", "the others are from long ago"
    again = hand_over(site, WEIGH, typed_on(site, WEIGH, typed))
    assert again["done"] == "asks"
    assert "stored a moment ago" in again["words"]


def test_what_waited_is_of_the_person_who_held_the_phone_then(site: EnteredSite) -> None:
    first, second, third = kept_on_one_page(site, FIRST, SECOND, THIRD)
    assert site.phone is not None
    site.entry.phones.give_to(site.phone, "ben")
    assert hand_over(site, RUN, as_noted(first, 1800))["done"] == "stored"
    made = "SELECT made_by FROM entries WHERE id = ?"
    assert site.rows(made, first["key"]) == [("ana",)]
    assert runs(site)[0]["noted_by"] == "ana"
    at_once = hand_over(site, RUN, {**second, "waited.after": first["key"]})
    assert at_once["done"] == "stored", at_once["words"]
    assert site.rows(made, second["key"]) == [("ben",)], "who holds it now"
    nobody = {**third, "noted.by": "nobody known"}
    assert hand_over(site, RUN, as_noted(nobody, 60, after=[first["key"], second["key"]]))["done"] == "stored"
    assert site.rows(made, third["key"]) == [("ben",)]


def test_eight_sends_of_one_entry_at_a_time_store_it_once(site: EnteredSite) -> None:
    (kept,) = kept_on_one_page(site, FIRST)
    waited = {**as_noted(kept, 1800), "csrftoken": site.token}

    def send(_number: int) -> str:
        return str(site.post(RUN, waited, headers=AS_SCRIPT).json()["done"])

    with ThreadPoolExecutor(8) as pool:
        answers = sorted(pool.map(send, range(8)))
    assert answers == ["known"] * 7 + ["stored"]
    assert len(runs(site)) == 1


def test_the_tests_stand_in_the_afternoon() -> None:
    assert datetime.now().hour == 15, os.environ["TZ"]
