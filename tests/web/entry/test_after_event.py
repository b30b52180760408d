"""An event on its page, and the one screen of taps after it. The team is constructed."""

from __future__ import annotations

from entered import EnteredSite
from web.entry.conftest import words

from bevelbook.records import BY_NAME
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

DAY = "2026-05-16"


def with_event(site: EnteredSite) -> dict[str, str]:
    """An event of one day with three runs of the diff rear-b: one has all, the others lack something."""
    path, ids = site.team.path, dict(site.team.ids)
    connection = open_for_writing(path)
    with transaction(connection, path, asked="a test", by="ana"):
        writer = Writer(connection, "ana", now_utc)

        def add(kind: str, **values: object) -> str:
            return writer.insert(BY_NAME[kind], values)

        forecast = {"air_low_c": 18.0, "air_high_c": 24.0, "grip": "medium", "runs_per_car": 6.0}
        ids["event"] = add("event", name="spring race", venue=ids["hall"], first_on=DAY, **forecast)
        ids["car"] = add("car", name="blue")
        add("event_car", event=ids["event"], car=ids["car"])
        measured = {"air_temp_c": 20.0, "track_temp_c": 22.0}
        for number, values in enumerate(({**measured, "call": "keep"}, measured, {"track_temp_c": 22.0}), 1):
            run = add("run", label=f"{DAY}/{number}", run_on=DAY, event=ids["event"], venue=ids["hall"], **values)
            temp = None if number == 2 else 40.0
            add("run_diff", run=run, build=ids["rear-b/2"], position="rear", diff_temp_c=temp)
            ids[f"run {number}"] = run
        ids["other"] = add("run", label=f"{DAY}/4", run_on=DAY, venue=ids["hall"])
    connection.close()
    return ids


def test_the_page_of_an_event_says_where_when_what_is_expected_and_what_ran(paired_site: EnteredSite) -> None:
    ids = with_event(paired_site)
    page = paired_site.page(f"/team/-/event/{ids['event']}")
    said = words(page)
    for part in ("Tannery Hall , 16 May 2026", "Expected: air 18 to 24 °C, medium grip", "blue , 6 runs planned"):
        assert part in said
    assert "16 May 2026 , 3 runs" in said
    assert f"/team/-/day/{DAY}" in page
    assert f"/team/-/enter/after-event/{ids['event']}" in page
    assert f"/team/-/event/{ids['event']}" in paired_site.page(f"/team/-/day/{DAY}")
    assert f"/team/-/event/{ids['event']}" in paired_site.page(f"/team/-/run/{ids['run 1']}")
    found = paired_site.page("/team/-/search?q=spring")
    assert f"/team/-/event/{ids['event']}" in found


def test_each_thing_that_is_missing_after_an_event_takes_one_tap_or_a_number(paired_site: EnteredSite) -> None:
    ids = with_event(paired_site)
    address = f"/team/-/enter/after-event/{ids['event']}"
    page = paired_site.page(address)
    said = words(page)
    assert "2 runs without a call" in said
    assert "2 runs without a temperature" in said
    assert "diff not read: rear; it has cooled" in said
    assert "1 diff not weighed since Weigh rear-b/2 3 runs" in said
    assert f'href="/team/-/day/{DAY}.html"' in page
    assert f"{DAY}/4" not in page
    for number, call in ((2, "change"), (3, "undecided")):
        paired_site.send(address, {"key": new_id(), "run": ids[f"run {number}"], "call": call})
    paired_site.send(address, {"key": new_id(), "run": ids["run 2"], "not-measured": "yes"})
    after = words(paired_site.send(address, {"key": new_id(), "run": ids["run 3"], "air_temp_c": "19.5"}))
    assert "without a call" not in after
    assert "without a temperature" not in after
    calls = paired_site.rows("SELECT call, air_temp_c FROM runs WHERE event = ? ORDER BY label", ids["event"])
    assert calls == [("keep", 20.0), ("change", 20.0), ("undecided", 19.5)]
    paired_site.send("/team/-/enter/weigh", {"key": new_id(), "build": "rear-b", "mass_g": "14.21", "weighed_on": DAY})
    assert "Nothing is missing of it." in words(paired_site.page(address))


def test_what_cannot_be_stored_is_said_and_another_call_is_not_written_over(paired_site: EnteredSite) -> None:
    ids = with_event(paired_site)
    address = f"/team/-/enter/after-event/{ids['event']}"
    for typed, said in (
        ({"run": ids["run 1"], "call": "change"}, f"Run {DAY}/1 has the call keep by now"),
        ({"run": ids["other"], "call": "change"}, "Nothing of that run is missing any more"),
        ({"run": ids["run 3"]}, "No temperature is typed"),
        ({"run": ids["run 3"], "air_temp_c": "hot"}, "hot"),
        ({"run": ids["run 3"], "call": "perhaps"}, "perhaps"),
    ):
        answer = paired_site.post(address, {"key": new_id(), **typed})
        assert answer.status_code == 400
        assert said in words(answer.text)
    assert paired_site.rows("SELECT call FROM runs WHERE event = ? ORDER BY label", ids["event"]) == [
        ("keep",),
        (None,),
        (None,),
    ]
