"""A run noted in the pits: what is carried over, what alone makes a run, questions, and corrections.

All people, venues and figures are invented.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from html import unescape
from typing import Any

from browser_team import HOSTILE
from web.entry.conftest import PairedSite, words

from bevelbook.display.days import day_in_words
from bevelbook.records import BY_NAME
from bevelbook.store.ids import now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

RUN = "/team/-/enter/run"
TODAY = date.today().isoformat()
PAST = (date.today() - timedelta(days=3)).isoformat()


def unseen(page: str) -> dict[str, str]:
    """What the form of a page sends without being touched: hidden inputs, texts, and chosen buttons."""
    found: dict[str, Any] = {}
    form = page.partition('class="entry-form')[2].partition("</form>")[0]
    for tag in re.findall(r"<input [^>]*>", form):
        name, kind, value = (re.search(rf'{of}="([^"]*)"', tag) for of in ("name", "type", "value"))
        if name is None or (kind and kind[1] in ("radio", "checkbox") and " checked" not in tag):
            continue
        found[name[1]] = unescape(value[1]) if value else ""
    found.pop("csrftoken", None)
    return found


def noted(site: PairedSite, typed: Mapping[str, str | Sequence[str]], query: str = "") -> str:
    """The page that follows a run noted with a fresh form."""
    return site.send(RUN, {**unseen(site.page(RUN + query)), **typed})


def refused(site: PairedSite, form: Mapping[str, Any], path: str = RUN) -> str:
    answer = site.post(path, form)
    assert answer.status_code == 400, (answer.status_code, answer.headers.get("location"))
    return str(answer.text)


def written(site: PairedSite, kind: str, **values: object) -> str:
    """A record of another person, written meanwhile."""
    connection = open_for_writing(site.team.path)
    try:
        with transaction(connection, site.team.path, asked="a test", by="bo"):
            return Writer(connection, "bo", now_utc).insert(BY_NAME[kind], values)
    finally:
        connection.close()


def with_car(site: PairedSite) -> str:
    car = written(site, "car", name="blue")
    for place, diff in (("rear", "rear-b"), ("front", "front-a")):
        written(site, "car_diff", car=car, position=place, diff=site.team.ids[diff], from_on="2026-05-01")
    return car


def last_run(site: PairedSite, *columns: str) -> tuple[Any, ...]:
    return site.rows(f"SELECT {', '.join(columns)} FROM runs ORDER BY created_at DESC, id LIMIT 1")[0]


def test_a_temperature_alone_makes_a_run_of_the_diff_in_the_car(paired_site: PairedSite) -> None:
    with_car(paired_site)
    page = noted(paired_site, {"rear_temp_c": "38,5", "after": "2"})
    assert f"Stored: added run {TODAY}/1" in words(page)
    assert "Next run" in words(page)
    assert paired_site.rows(
        "SELECT x.position, b.label, x.diff_temp_c, x.after_run_s FROM run_diffs x JOIN runs r ON r.id = x.run "
        "JOIN builds b ON b.id = x.build WHERE r.run_on = ? ORDER BY x.position",
        TODAY,
    ) == [("front", "front-a/1", None, None), ("rear", "rear-b/2", 38.5, 120.0)]
    empty = ("grip", "call", "changed", "happened", "note", "balance_entry", "best_five_s", "tyres", "track_temp_c")
    assert last_run(paired_site, *empty) == (None,) * len(empty)


def test_six_runs_of_a_day_carry_over_what_is_of_the_day_with_its_origin_and_count_the_tyres(
    paired_site: PairedSite,
) -> None:
    with_car(paired_site)
    first = {"venue": "Tannery Hall", "event": "club race", "driver": "ana", "tyres": "soft", "tyre_runs": "0"}
    noted(paired_site, {**first, "rear_temp_c": "36", "track_temp_c": "31", "best_lap_s": "15.2"})
    for number in range(2, 7):
        page = paired_site.page(RUN)
        tyres = f"tyres soft, {number - 1} {'run' if number == 2 else 'runs'} on them"
        assert f"today; Tannery Hall; club race; track 31 °C, just now; ana; {tyres} change" in words(page)
        assert page.index('name="best_lap_s"') < page.index('name="best_five_s"')
        typed = {"rear_temp_c": f"{36 + number}"} if number % 2 else {"note": "planted", "grip": "high"}
        paired_site.send(RUN, {**unseen(page), **typed})
    runs = paired_site.rows(
        "SELECT r.label, v.name, e.name, p.name, r.tyres, r.tyre_runs, r.track_temp_c, r.air_temp_c, r.best_lap_s "
        "FROM runs r JOIN events e ON e.id = r.event "
        "JOIN venues v ON v.id = r.venue JOIN people p ON p.id = r.driver WHERE r.run_on = ? ORDER BY 1",
        TODAY,
    )
    assert [run[1:5] for run in runs] == [("Tannery Hall", "club race", "ana", "soft")] * 6
    assert [run[5] for run in runs] == [0.0, 1.0, 2.0, 3.0, 4.0, 5.0]
    assert [run[6:] for run in runs] == [(31.0, None, 15.2), *[(31.0, None, None)] * 5]
    (entered,) = paired_site.rows(
        "SELECT entered ->> 'venue', entered ->> 'tyre_runs', entered ->> 'track_temp_c', entered ->> 'grip' "
        "FROM runs WHERE label = ?",
        f"{TODAY}/6",
    )
    assert entered == (f"as in run {TODAY}/5", f"as in run {TODAY}/5", f"as in run {TODAY}/1", "high")


def test_what_is_carried_over_can_be_changed_or_left_out(paired_site: PairedSite) -> None:
    with_car(paired_site)
    noted(paired_site, {"venue": "Tannery Hall", "tyres": "soft", "tyre_runs": "3", "rear_temp_c": "36"})
    page = noted(paired_site, {"venue": "-", "tyres": "hard", "note": "other set"})
    assert last_run(paired_site, "venue", "tyres", "tyre_runs") == (None, "hard", None)
    noted(paired_site, {"changed.tick": ["tyres"], "changed.words": "new ones", "note": "better"})
    assert last_run(paired_site, "tyres", "tyre_runs", "changed") == (None, None, "tyres: new ones")
    assert "Stored: added run" in words(page)


def test_a_value_of_another_day_is_only_offered_and_one_tap_confirms_it(paired_site: PairedSite) -> None:
    page = paired_site.page(RUN)
    assert "Still as" in words(page)
    assert "Tannery Hall" not in words(page.partition("Still as")[0].partition("<form")[2].partition("<details")[0])
    noted(paired_site, {"rear_temp_c": "36", "still.venue": "Tannery Hall"})
    assert paired_site.rows(
        "SELECT v.name, r.entered ->> 'venue', r.driver FROM runs r JOIN venues v ON v.id = r.venue WHERE r.run_on = ?",
        TODAY,
    ) == [("Tannery Hall", "Tannery Hall", None)]


def test_without_a_car_the_diffs_are_those_of_the_run_before(paired_site: PairedSite) -> None:
    assert "rear rear-b/2 10,000 cSt as before" in words(paired_site.page(RUN))
    noted(paired_site, {"rear_temp_c": "36"})
    assert paired_site.rows(
        "SELECT b.label, x.entered ->> 'build' = 'as in run 2026-04-13/8', x.entered ->> 'diff_temp_c' "
        "FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build WHERE r.run_on = ?",
        TODAY,
    ) == [("rear-b/2", 1, "36")]


def test_all_that_is_asked_of_a_run_is_stored_and_nothing_is_not_the_same_as_not_said(paired_site: PairedSite) -> None:
    with_car(paired_site)
    noted(
        paired_site,
        {
            "rear_temp_c": "38",
            "front_temp_c": "35",
            "after.typed": "1,5",
            "best_five_s": "15,61",
            "balance_entry": "-1",
            "balance_exit": "2",
            "grip": "medium",
            "grip_trend": "rising",
            "changed.tick": ["nothing"],
            "happened.tick": ["hit", "traction roll"],
            "happened.words": "at the hairpin",
            "call": "keep",
            "note": "loose on power\nin the last minute",
        },
    )
    columns = ("best_five_s", "balance_entry", "balance_middle", "balance_exit", "grip", "grip_trend")
    assert last_run(paired_site, *columns) == (15.61, -1, None, 2, "medium", "rising")
    assert last_run(paired_site, "changed", "happened", "call", "note") == (
        "nothing",
        "hit, traction roll: at the hairpin",
        "keep",
        "loose on power\nin the last minute",
    )
    read = paired_site.rows("SELECT diff_temp_c, after_run_s FROM run_diffs WHERE diff_temp_c IN (38, 35) ORDER BY 1")
    assert read == [(35.0, 90.0), (38.0, 90.0)]


def test_what_cannot_be_stored_comes_back_with_what_was_typed_and_says_why(paired_site: PairedSite) -> None:
    with_car(paired_site)
    form = {**unseen(paired_site.page(RUN)), "rear_temp_c": "36", "note": "kept <b>words</b>"}
    for typed, why in (
        ({"venue.typed": "Tanery Hal"}, "Tannery Hall"),
        ({"rear_temp_c": "warm"}, "warm"),
        ({"changed.tick": ["nothing", "oil"]}, "“nothing” is chosen, and something else is there too"),
        ({"rear_temp_c": "", "note": "", "after": "2"}, "minutes after the run, but no temperature"),
        ({"after.typed": "soon"}, "soon"),
        ({"rear_temp_c": "", "note": ""}, "Nothing is typed yet"),
        ({"run_on": PAST}, "now: look at it, then store it"),
        ({"form.version": "older"}, "This page is from before an update; what you typed is here"),
    ):
        page = refused(paired_site, {**form, **typed})
        assert why in words(page), typed
        assert "kept &lt;b&gt;words&lt;/b&gt;" in page or "note" in typed
        assert "which this page no longer has" not in page
    assert not paired_site.rows("SELECT 1 FROM runs WHERE run_on = ?", TODAY)
    page = refused(paired_site, {**form, "changed.tick": ["nothing", "oil"], "after": "3", "balance_exit": "-2"})
    again = unseen(page)
    assert (again["after"], again["balance_exit"], again["rear_temp_c"]) == ("3", "-2", "36")


def test_an_odd_temperature_is_asked_about_once(paired_site: PairedSite) -> None:
    with_car(paired_site)
    form = {**unseen(paired_site.page(RUN)), "rear_temp_c": "136"}
    page = refused(paired_site, form)
    assert "Yes, that is right" in words(page)
    paired_site.send(RUN, {**unseen(page), "rear_temp_c": "136", "sure": "rear_temp_c=136"})
    assert paired_site.rows("SELECT 1 FROM run_diffs WHERE diff_temp_c = 136")


def test_a_form_sent_twice_and_one_gone_back_to_store_one_run(paired_site: PairedSite) -> None:
    form = {**unseen(paired_site.page(RUN)), "rear_temp_c": "36"}
    paired_site.send(RUN, form)
    assert "stored already" in words(paired_site.send(RUN, form))
    assert paired_site.rows("SELECT count(*) FROM runs WHERE run_on = ?", TODAY) == [(1,)]


def test_a_run_stored_meanwhile_is_said_before_another_is_stored(paired_site: PairedSite) -> None:
    car = with_car(paired_site)
    form = {**unseen(paired_site.page(RUN + "?car=blue")), "rear_temp_c": "36"}
    other = written(paired_site, "run", label=f"{TODAY}/1", run_on=TODAY, car=car, call="keep")
    build = paired_site.rows("SELECT id FROM builds ORDER BY id LIMIT 1")[0][0]
    written(paired_site, "run_diff", run=other, build=build, position="rear", diff_temp_c=39.5)
    before = datetime.now()
    page = refused(paired_site, form)
    clock = "|".join({f"{at:%H:%M}" for at in (before - timedelta(seconds=60), before, datetime.now())})
    said = (
        rf"Run {TODAY}/1 of blue was noted by bo at ({clock}): rear temp 39\.5 °C, call keep\. Is this another run, or"
    )
    assert re.search(said, words(page)), words(page)
    paired_site.send(RUN, {**unseen(page), "rear_temp_c": "36"})
    assert paired_site.rows("SELECT count(*) FROM runs WHERE run_on = ?", TODAY) == [(2,)]


def test_another_car_draws_the_form_again_for_its_diffs_and_keeps_what_was_typed(paired_site: PairedSite) -> None:
    with_car(paired_site)
    red = written(paired_site, "car", name="red")
    written(
        paired_site, "car_diff", car=red, position="rear", diff=paired_site.team.ids["rear-a"], from_on="2026-05-01"
    )
    form = {**unseen(paired_site.page(RUN + "?car=blue")), "rear_temp_c": "36", "car": "red"}
    page = refused(paired_site, form)
    assert "This is for red now: look at its diffs, then store it" in words(page)
    assert "rear rear-a/2" in words(page)
    again = unseen(page)
    assert (again["car"], again["rear_temp_c"]) == ("red", "36")
    paired_site.send(RUN, again)
    assert paired_site.rows(
        "SELECT b.label FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build WHERE r.car = ?",
        red,
    ) == [("rear-a/2",)]


def days_ago(site: PairedSite, kind: str, **values: object) -> str:
    """A record written three days ago."""
    connection = open_for_writing(site.team.path)
    try:
        with transaction(connection, site.team.path, asked="a test", by="bo"):
            return Writer(connection, "bo", lambda: f"{PAST}T12:00:00.000Z").insert(BY_NAME[kind], values)
    finally:
        connection.close()


def test_whether_a_run_was_before_a_swap_of_its_day_is_asked_and_answered_by_a_button(paired_site: PairedSite) -> None:
    car = written(paired_site, "car", name="blue")
    for diff, day in (("rear-b", "2026-05-01"), ("rear-a", PAST)):
        days_ago(paired_site, "car_diff", car=car, position="rear", diff=paired_site.team.ids[diff], from_on=day)
    page = paired_site.page(f"{RUN}?run_on={PAST}&car=blue")
    page = refused(paired_site, {**unseen(page), "run_on": PAST, "note": "planted"})
    assert "It was before the swap (rear rear-b)" in words(page)
    button = re.search(r'name="answer.car" value="before-swap"', page)
    assert button is not None
    paired_site.send(RUN, {**unseen(page), "run_on": PAST, "note": "planted", "answer.car": "before-swap"})
    assert paired_site.rows(
        "SELECT b.label FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build WHERE r.car = ?",
        car,
    ) == [("rear-b/2",)]


def test_a_diff_that_is_apart_is_asked_about_and_may_have_been_closed_again(paired_site: PairedSite) -> None:
    with_car(paired_site)
    written(paired_site, "opening", build=paired_site.team.ids["rear-b/2"], opened_on=PAST)
    form = {**unseen(paired_site.page(RUN)), "rear_temp_c": "36"}
    assert "opened on" in words(paired_site.page(RUN))
    page = refused(paired_site, form)
    assert "It was closed again" in words(page)
    assert 'href="#field-rear"' in page
    assert 'id="field-rear"' in page
    paired_site.send(RUN, {**unseen(page), "rear_temp_c": "36", "answer.rear": "closed-again", "answer.fluid": "7,000"})
    assert paired_site.rows(
        "SELECT b.label, f.label FROM run_diffs x JOIN builds b ON b.id = x.build JOIN fluids f ON f.id = b.fluid "
        "WHERE x.diff_temp_c = 36"
    ) == [("rear-b/3", "7,000")]


def test_a_diff_opened_that_day_may_have_run_before_and_another_diff_may_be_named(paired_site: PairedSite) -> None:
    with_car(paired_site)
    written(paired_site, "opening", build=paired_site.team.ids["rear-b/2"], opened_on=TODAY)
    form = {**unseen(paired_site.page(RUN)), "rear_temp_c": "36"}
    page = refused(paired_site, form)
    assert "The run was before it was opened, on rear-b/2" in words(page)
    paired_site.send(RUN, {**unseen(page), "answer.rear": "before-opening"})
    page = refused(paired_site, {**unseen(paired_site.page(RUN)), "rear_temp_c": "37"})
    paired_site.send(RUN, {**unseen(page), "rear.typed": "rear-a"})
    assert paired_site.rows(
        "SELECT b.label FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.diff_temp_c IN (36, 37) "
        "ORDER BY x.diff_temp_c"
    ) == [("rear-b/2",), ("rear-a/2",)]


def test_of_two_builds_in_a_day_a_button_says_which_one_ran(paired_site: PairedSite) -> None:
    with_car(paired_site)
    for number in (3, 4):
        written(paired_site, "build", label=f"rear-b/{number}", diff=paired_site.team.ids["rear-b"], built_on=TODAY)
    page = refused(paired_site, {**unseen(paired_site.page(RUN)), "rear_temp_c": "36"})
    assert "The run is of rear-b/3" in words(page)
    paired_site.send(RUN, {**unseen(page), "answer.rear": "1"})
    assert paired_site.rows(
        "SELECT b.label FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.diff_temp_c = 36"
    ) == [("rear-b/3",)]


def test_times_that_leave_the_build_of_a_rebuilt_diff_open_are_asked_about(paired_site: PairedSite) -> None:
    car = with_car(paired_site)
    run = written(paired_site, "run", label=f"{TODAY}/1", run_on=TODAY, car=car)
    written(paired_site, "run_diff", run=run, build=paired_site.team.ids["rear-b/2"], position="rear")
    written(paired_site, "build", label="rear-b/3", diff=paired_site.team.ids["rear-b"], built_on=TODAY)
    page = refused(paired_site, {**unseen(paired_site.page(RUN)), "rear_temp_c": "36", "started_at": "10:00"})
    assert "the times of its runs leave open whether this run was before that" in words(page)
    paired_site.send(RUN, {**unseen(page), "answer.rear": "2"})
    assert paired_site.rows(
        "SELECT b.label FROM run_diffs x JOIN builds b ON b.id = x.build WHERE x.diff_temp_c = 36"
    ) == [("rear-b/3",)]


def stored_run(site: PairedSite) -> str:
    with_car(site)
    noted(site, {"rear_temp_c": "36", "after": "2", "call": "keep", "changed.tick": ["oil"], "note": "planted"})
    return str(last_run(site, "id")[0])


def test_a_run_is_corrected_on_the_same_page_with_its_values_in_it(paired_site: PairedSite) -> None:
    run = stored_run(paired_site)
    page = paired_site.page(f"{RUN}/{run}")
    form = unseen(page)
    assert "rear: rear-b/2, 36 °C after 2 min" in words(page)
    assert (form["rear_temp_c"], form["after"], form["call"], form["changed.tick"]) == ("36", "2", "keep", "oil")
    assert "planted</textarea>" in page
    assert "nothing had to be changed" in words(paired_site.send(f"{RUN}/{run}", {**form, "note": "planted"}))
    assert f"changed run {TODAY}/1" in words(
        paired_site.send(f"{RUN}/{run}", {**form, "note": "planted", "rear_temp_c": "38", "after": "", "call": ""})
    )
    assert last_run(paired_site, "call", "note", "changed") == (None, "planted", "oil")
    assert paired_site.rows("SELECT diff_temp_c, after_run_s FROM run_diffs WHERE diff_temp_c = 38") == [(38.0, None)]


def test_what_another_person_changed_meanwhile_is_shown_beside_what_was_typed(paired_site: PairedSite) -> None:
    run = stored_run(paired_site)
    form = {**unseen(paired_site.page(f"{RUN}/{run}")), "note": "planted"}
    connection = open_for_writing(paired_site.team.path)
    with transaction(connection, paired_site.team.path, asked="a test", by="bo"):
        writer = Writer(connection, "bo", now_utc)
        writer.update(BY_NAME["run"], run, {"grip": "low"})
        (row,) = connection.execute("SELECT id FROM run_diffs WHERE run = ? AND position = 'rear'", (run,)).fetchone()
        writer.update(BY_NAME["run_diff"], row, {"diff_temp_c": 40.0})
    connection.close()
    page = refused(paired_site, {**form, "rear_temp_c": "38", "call": "change"}, f"{RUN}/{run}")
    assert re.search(r"bo wrote 40 at \d\d:\d\d; you typed 38 . Which is right\?", words(page))
    paired_site.send(f"{RUN}/{run}", {**unseen(page), "note": "planted", "was.rear_temp_c": "40"})
    assert last_run(paired_site, "grip", "call") == ("low", "change")
    assert paired_site.rows("SELECT diff_temp_c FROM run_diffs WHERE id = ?", row) == [(38.0,)]


def test_a_run_removed_meanwhile_keeps_what_was_typed_and_says_who_removed_it(paired_site: PairedSite) -> None:
    run = stored_run(paired_site)
    form = {**unseen(paired_site.page(f"{RUN}/{run}")), "note": "more words"}
    connection = open_for_writing(paired_site.team.path)
    with transaction(connection, paired_site.team.path, asked="a test", by="bo"):
        connection.execute("DELETE FROM run_diffs WHERE run = ?", (run,))
        Writer(connection, "bo", now_utc).remove(BY_NAME["run"], run)
    connection.close()
    page = refused(paired_site, form, f"{RUN}/{run}")
    assert f"run {TODAY}/1 was removed meanwhile by bo" in words(page).replace("Run", "run")
    assert "more words</textarea>" in page


def test_laps_are_taken_in_minutes_and_one_that_is_none_is_said_beside_its_input(paired_site: PairedSite) -> None:
    """60 s a minute."""
    page = paired_site.page(RUN)
    assert re.search(r'<input [^>]*name="best_lap_s"[^>]* data-minutes', page)
    assert not re.search(r'<input [^>]*name="rear_temp_c"[^>]* data-minutes', page)
    form = {**unseen(page), "best_lap_s": "1:14.9", "lap_times": "1:14.9 1:75", "rear_temp_c": "38"}
    again = refused(paired_site, form)
    assert "Lap 2: not minutes and seconds" in words(again)
    paired_site.send(RUN, {**form, "lap_times": "1:14.9, 1:15.0"})
    assert last_run(paired_site, "best_lap_s", "lap_times") == (74.9, "74.9 75")


def test_a_run_with_laps_as_they_were_once_taken_is_still_changed_in_another_field(paired_site: PairedSite) -> None:
    run = stored_run(paired_site)
    old = "1:14.9 dnf"
    connection = open_for_writing(paired_site.team.path)
    with transaction(connection, paired_site.team.path, asked="a test", by="bo"):
        Writer(connection, "bo", now_utc).update(BY_NAME["run"], run, {"lap_times": old})
    connection.close()
    form = {**unseen(paired_site.page(f"{RUN}/{run}")), "lap_times": old, "note": "more words"}
    paired_site.send(f"{RUN}/{run}", form)
    assert last_run(paired_site, "note", "lap_times") == ("more words", old)


def test_hostile_words_are_shown_as_text_on_the_form_and_where_they_are_carried_over(paired_site: PairedSite) -> None:
    with_car(paired_site)
    evil = HOSTILE[:300]
    name = evil[:190].strip()
    names = ("tyres", "note", "changed.words", "happened.words", "rear_temp_taken")
    form = {**unseen(paired_site.page(RUN)), "rear_temp_c": "36", "event": name, **dict.fromkeys(names, evil)}
    for wrong in (
        {"after.typed": evil},
        {"venue.typed": evil},
        {"grip": evil},
        {"car": evil},
        {"carried.all": evil},
        {"lap_times": evil},
    ):
        assert "<script>document" not in refused(paired_site, {**form, **wrong})
    page = paired_site.send(RUN, form)
    for shown in (page, paired_site.page(RUN), paired_site.page(f"{RUN}/{last_run(paired_site, 'id')[0]}")):
        assert "<script>document" not in shown
    assert last_run(paired_site, "note") == (evil.strip(),)
    assert paired_site.rows("SELECT name FROM events") == [(name,)]
    for wrong in ("\x00", "x" * 100_001, "\ud800"):
        answer = paired_site.post(
            RUN, {**unseen(paired_site.page(RUN)), "note": wrong.encode("utf-8", "surrogatepass")}
        )
        assert answer.status_code in (303, 400), wrong[:10]


def test_the_next_run_of_a_past_day_keeps_that_day_in_sight_until_it_is_made_today(paired_site: PairedSite) -> None:
    page = noted(paired_site, {"rear_temp_c": "38"}, f"?run_on={PAST}")
    following = re.search(r'href="(/team/-/enter/run[^"]*)"[^>]*><span>Next run', page)
    assert following
    page = paired_site.page(unescape(following[1]))
    assert f"{day_in_words(PAST)}, not today" in words(page)
    assert "autofocus" not in page, "the page stays at its top, where the day is"
    assert '<details class="more carried">' in page
    form = {**unseen(page), "rear_temp_c": "39", "day.today": "yes"}
    page = paired_site.post(RUN, form).text
    assert "not today" not in page
    assert 'value="39"' in page
    paired_site.send(RUN, {**unseen(page), "rear_temp_c": "39"})
    assert last_run(paired_site, "run_on") == (TODAY,)


def test_nothing_beside_something_is_settled_by_one_button(paired_site: PairedSite) -> None:
    with_car(paired_site)
    form = {**unseen(paired_site.page(RUN)), "rear_temp_c": "38", "changed.tick": "nothing", "changed.words": "oil"}
    page = refused(paired_site, form)
    for text in ("nothing", "oil"):
        assert f'<button class="other" name="settled.changed" value="{text}">Only “{text}”</button>' in page
    paired_site.send(RUN, {**unseen(page), "changed.tick": "nothing", "settled.changed": "oil"})
    assert last_run(paired_site, "changed") == ("oil",)


def test_a_row_of_temperatures_has_one_button_for_a_sign(paired_site: PairedSite) -> None:
    with_car(paired_site)
    page = paired_site.page(RUN)
    assert page.count("data-signed-row") == 1
    row = page.partition("data-signed-row")[2].partition("</fieldset>")[0]
    assert 'name="rear_temp_c"' in row
    assert 'name="front_temp_c"' in row


def test_the_page_has_at_hand_what_the_form_begins_with_for_each_car(paired_site: PairedSite) -> None:
    page = paired_site.page("/team/-/enter/run")
    cars = re.findall(r'<template data-car="([^"]+)">(.*?)</template>', page, re.S)
    shown = re.findall(r'name="car" value="([^"]+)" checked', page)
    every = {name for (name,) in paired_site.rows("SELECT name FROM cars")}
    assert {*shown, *(name for name, _ in cars)} == every
    for _, parts in cars:
        assert {"head", "carried", "still", "temperatures", "laps", "already", "other-temperatures"} == {
            *re.findall(r'data-part="([^"]+)"', parts)
        }
        assert re.findall(r'name="carried\.car" value="([^"]+)"', parts)


def test_a_weighing_and_an_idea_are_on_the_page_of_the_run_with_ids_of_their_own(paired_site: PairedSite) -> None:
    page = paired_site.page("/team/-/enter/run")
    ids = re.findall(r'\sid="([^"]+)"', re.sub(r"<template.*?</template>", "", page, flags=re.S))
    assert len(ids) == len({*ids})
    for below in ("weigh", "idea"):
        assert re.search(rf'<form method="post" action="/team/-/enter/{below}"[^>]* data-waits=', page)


def test_a_number_says_the_ranges_outside_which_it_is_asked_about_or_refused(paired_site: PairedSite) -> None:
    page = paired_site.page("/team/-/enter/run")
    temperature = BY_NAME["run_diff"].field("diff_temp_c")
    assert temperature.plausible is not None
    low, high = temperature.plausible
    said = re.search(r'<input id="field-rear_temp_c"[^>]*>', page)
    assert said is not None
    assert f'data-plausible="{low:g} {high:g}"' in said[0]
    assert f'data-bounds="{temperature.minimum:g} {temperature.maximum:g}"' in said[0]
    typed = {**unseen(page), "rear_temp_c": f"{high + 1.0:g}"}
    called = re.search(r'data-called="([^"]+)"', said[0])
    asked = words(paired_site.post("/team/-/enter/run", typed).text)
    assert (
        called is not None and f"{called[1]} of {high + 1.0:g} °C is outside {low:g} to {high:g} °C. Is that" in asked
    )


def test_a_temperature_in_fahrenheit_is_said_with_the_digits_of_the_shelf(paired_site: PairedSite) -> None:
    """(101 - 32) / 1.8 = 38.3333 and (88 - 32) / 1.8 = 31.1111 by hand."""
    page = noted(paired_site, {"rear_temp_c": "101 °F", "track_temp_c": "88 °F"})
    assert "38.3 °C" in page
    next_one = words(paired_site.page("/team/-/enter/run"))
    assert "track 31.1 °C" in next_one
    for text in (page, next_one):
        assert not re.search(r"38\.33|31\.11 ", text), text


def test_the_event_of_the_day_is_proposed_and_of_several_one_is_asked_for(paired_site: PairedSite) -> None:
    with_car(paired_site)
    written(paired_site, "event", name="cup", first_on=TODAY, venue=paired_site.team.ids["hall"])
    asked = "SELECT e.name, r.entered ->> 'event' FROM runs r LEFT JOIN events e ON e.id = r.event ORDER BY r.id DESC"
    alone = paired_site.page(RUN)
    assert "today; Tannery Hall; cup, by the day change" in words(alone)
    written(paired_site, "event", name="juniors", first_on=TODAY, venue=paired_site.team.ids["hall"])
    page = paired_site.page(RUN)
    assert "Which event is it?" in page
    assert page.count('type="radio" autocomplete="off" name="still.event"') == 2
    paired_site.send(RUN, {**unseen(page), "rear_temp_c": "36", "still.event": "juniors"})
    assert paired_site.rows(asked)[0] == ("juniors", "juniors")
    page = paired_site.page(RUN)
    assert "Tannery Hall; juniors; " in words(page) or "juniors change" in words(page)
    assert "Which event is it?" not in page
    paired_site.send(RUN, {**unseen(page), "rear_temp_c": "36", "event.typed": "practice"})
    assert paired_site.rows(asked)[0] == ("practice", "practice")


def test_the_one_event_of_the_day_is_taken_without_a_tap_and_says_so(paired_site: PairedSite) -> None:
    with_car(paired_site)
    written(paired_site, "event", name="cup", first_on=TODAY, venue=paired_site.team.ids["hall"])
    noted(paired_site, {"rear_temp_c": "36"})
    asked = "SELECT e.name, v.name, r.entered ->> 'event' FROM runs r JOIN events e ON e.id = r.event JOIN venues v"
    assert paired_site.rows(f"{asked} ON v.id = r.venue") == [("cup", "Tannery Hall", "the event of that day")]
