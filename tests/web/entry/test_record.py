"""The form of any kind of record: it opens, stores what is typed once, and comes back with what stopped it."""

from __future__ import annotations

import asyncio
import re
from contextlib import closing
from datetime import date, timedelta
from html import unescape

import pytest
from web.entry.conftest import PairedSite, words

from bevelbook.records import BY_NAME, KINDS
from bevelbook.records.joins import NOT_IN_A_FORM
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.entry.own_pages import OWN_PAGES

WORKED = {
    "car": {"name": "red", "drive": "4WD"},
    "person": {"name": "bo"},
    "venue": {"name": "Mill Road", "surface": "carpet"},
    "event": {"name": "spring race", "venue": "Brickfield", "first_on": "2027-04-10", "air_low_c": "12", "grip": "low"},
    "event_car": {"event": "spring race", "car": "red", "runs": "6"},
    "scale": {"name": "bench", "step_g": "0,01"},
    "scale_reading": {"scale": "pocket", "thing": "a coin", "place": "1", "mass_g": "8.5", "read_on": "2026-05-01"},
    "seal": {"label": "lid ring", "inside_diameter_mm": "28", "section_mm": "1"},
    "diff": {"label": "centre-a", "usual_position": "centre"},
    "fluid": {"label": "house 20k", "viscosity_cst": "20000", "viscosity_source": "its label"},
    "bottle": {"fluid": "10,000", "lot": "third"},
    "fluid_comparison": {"thicker": "10,000", "thinner": "7,000, second", "ratio": "1.4"},
    "stock_part": {"label": "shaft ring", "part": "seal", "least": "4"},
    "stock_change": {"stock_part": "shaft ring", "what": "counted", "pieces": "6", "changed_on": "2026-05-03"},
    "kit_part": {"kit": "rebuild kit", "stock_part": "shaft ring", "pieces": "2"},
    "bottle_check": {"bottle": "10,000, third", "checked_on": "2026-05-03", "mass_g": "41.2"},
    "idea": {"text": "a softer spring", "venue": "Brickfield"},
    "build": {"diff": "front-a", "dry_mass_g": "12,40", "oil_mass_g": "1.85", "built_on": "2026-05-02"},
    "blend_part": {"build": "rear-a/2", "fluid": "7,000", "viscosity_cst": "7000", "mass_g": "0.9"},
    "seal_fitting": {"build": "rear-a/2", "place": "joint", "condition": "new"},
    "build_part": {"build": "rear-a/2", "part": "outdrive", "place": "lid side", "condition": "new"},
    "build_shim": {"build": "rear-a/2", "place": "behind lid-side gear", "thickness_mm": "0,1"},
    "weighing": {"build": "rear-a", "mass_g": "22.37"},
    "opening": {"build": "rear-b", "reason": "routine", "oil": "grey"},
    "run": {"run_on": "2026-05-03", "venue": "Brickfield", "rear": "rear-a", "rear_temp_c": "38", "call": "keep"},
    "run_diff": {"run": "2026-04-13/8", "build": "front-a", "position": "front", "diff_temp_c": "31"},
    "car_diff": {"car": "red", "position": "rear", "diff": "rear-a"},
    "car_value": {"car": "red", "what": "springs", "value": "soft"},
    "put_by": {"code": "oil_lost", "subject_table": "diffs", "subject_id": "x", "words": "lost", "reason": "known"},
    "limit": {"kind": "runs between openings", "value": "20"},
    "job_time": {"job": "rebuild", "minutes": "40"},
}
"""What a person types for a record of each kind."""


def test_every_kind_that_is_written_by_hand_has_a_worked_example() -> None:
    by_form = {kind.name for kind in KINDS if kind.own and kind.from_file is None}
    assert set(WORKED) == by_form - NOT_IN_A_FORM


def test_the_form_of_every_kind_opens_from_a_page_and_stores_its_record_once(paired_site: PairedSite) -> None:
    addresses = re.findall(r'<li><a href="(/team/-/enter/[^"]+)"', paired_site.page("/team/-/enter/record"))
    kinds = [kind.name for kind in KINDS if kind.own and kind.name not in NOT_IN_A_FORM]
    own = [
        OWN_PAGES.get(name, f"record/{name}") for name in kinds if name in OWN_PAGES or BY_NAME[name].from_file is None
    ]
    assert addresses == [f"/team/-/enter/{page}" for page in own]
    for name, typed in WORKED.items():
        address, count = f"/team/-/enter/record/{name}", f"SELECT count(*) FROM {BY_NAME[name].table}"
        ((before,),) = paired_site.rows(count)
        form = {"key": new_id(), "form.version": version_in(paired_site.page(address)), **typed}
        for again in ("", "?again=yes"):
            answer = paired_site.post(address, form)
            assert answer.status_code == 303, (name, words(answer.text)[:500])
            assert answer.headers["location"] == f"/team/-/enter/stored/{form['key']}{again}"
            assert paired_site.rows(count) == [(before + 1,)], name
    page = words(paired_site.page(answer.headers["location"]))
    assert "This form is stored already; sending it again added nothing." in page


def test_a_form_sent_twice_at_once_is_stored_once(paired_site: PairedSite) -> None:
    form = {"csrftoken": paired_site.token, "key": new_id(), "build": "rear-a", "mass_g": "22.37"}

    async def both() -> list[int]:
        await paired_site.datasette.invoke_startup()
        client, cookies = paired_site.datasette.client, paired_site.cookies
        sent = (client.post("/team/-/enter/weigh", data=form, cookies=cookies) for _ in range(2))
        return [answer.status_code for answer in await asyncio.gather(*sent)]

    assert asyncio.run(both()) == [303, 303]
    assert paired_site.rows("SELECT count(*) FROM weighings WHERE mass_g = 22.37") == [(1,)]


def test_a_number_takes_a_comma_or_a_point_and_its_unit(paired_site: PairedSite) -> None:
    form = {
        "key": new_id(),
        "diff": "front-a",
        "dry_mass_g": "12,41",
        "oil_mass_g": "1.85",
        "filled_mass_g": "14260 mg",
    }
    assert paired_site.post("/team/-/enter/record/build", form).status_code == 303
    stored = "SELECT dry_mass_g, oil_mass_g, filled_mass_g FROM builds WHERE label = 'front-a/2'"
    assert paired_site.rows(stored) == [(12.41, 1.85, 14.26)]


STOPPED = (
    ("scale", {"name": "s", "step_g": "about five"}, "step_g", "about five"),
    ("bottle", {"fluid": "7,000", "density_g_cm3": "7"}, "density_g_cm3", "7 is too high: at most"),
    ("bottle", {"fluid": "7,00"}, "fluid", "There is no fluid named"),
    ("weighing", {"build": "rear-x", "mass_g": "22.3"}, "build", "There is no diff named"),
    ("venue", {"name": "v", "surface": "tarmac"}, "surface", "Not one of the words"),
    ("bottle", {"fluid": "7,000", "opened_on": "2026-02-31"}, "opened_on", "2026-02-31"),
    ("seal_fitting", {"build": "rear-a/2"}, "place", "Still needed"),
    ("person", {"name": "a\x00b"}, "name", "control character"),
)
"""What cannot be stored, by kind: what was typed, the field at fault, and what is said beside it."""


def test_what_stops_a_form_is_said_beside_its_field_and_named_at_the_top(paired_site: PairedSite) -> None:
    for kind, typed, field, said in STOPPED:
        answer = paired_site.post(f"/team/-/enter/record/{kind}", {"key": new_id(), **typed})
        assert answer.status_code == 400, kind
        page = unescape(answer.text)
        assert f'href="#field-{field}"' in page
        assert f'id="field-{field}"' in page
        beside = re.search(rf'id="about-{field}"><span class="fault">(.*?)</span>', page)
        assert beside is not None, (kind, field)
        assert said in beside[1]
        for text in typed.values():
            assert text.replace("\x00", "\ufffd") in page.replace("\x00", "\ufffd"), (kind, text)


def version_in(page: str) -> str:
    found = re.search(r'name="form\.version" value="(\w+)"', page)
    assert found is not None
    return found[1]


def test_a_form_means_today_whatever_day_the_last_entry_was_of(paired_site: PairedSite) -> None:
    past = (date.today() - timedelta(days=6)).isoformat()
    paired_site.send("/team/-/enter/idea", {"key": new_id(), "text": "thicker", "noted_on": past})
    page = paired_site.page("/team/-/enter/weigh?build=front-a")
    assert '<span class="quiet">today</span>' in page
    assert "not today" not in page
    paired_site.send("/team/-/enter/weigh", {"key": new_id(), "build": "front-a", "mass_g": "22.37"})
    paired_site.send("/team/-/enter/run", {"key": new_id(), "front": "front-a", "front_temp_c": "54"})
    today = date.today().isoformat()
    assert paired_site.rows("SELECT weighed_on FROM weighings WHERE mass_g = 22.37") == [(today,)]
    assert paired_site.rows("SELECT run_on FROM runs ORDER BY created_at DESC, id LIMIT 1") == [(today,)]


def test_a_day_that_was_chosen_is_said_above_the_form_and_one_tap_makes_it_today(paired_site: PairedSite) -> None:
    page = paired_site.page("/team/-/enter/weigh?build=front-a&weighed_on=2026-05-03")
    assert "3 May 2026, not today" in words(page)
    form = {"key": new_id(), "build": "front-a", "mass_g": "22.37", "weighed_on": "2026-05-03", "day.today": "yes"}
    page = paired_site.post("/team/-/enter/weigh?weighed_on=2026-05-03", form).text
    assert "not today" not in page
    assert 'value="22.37"' in page
    assert 'value="2026-05-03"' not in page
    assert paired_site.rows("SELECT 1 FROM weighings WHERE mass_g = 22.37") == []


@pytest.mark.parametrize("page", ["weigh", "opening", "idea", "comparison", "swap?car=blue", "record/build"])
def test_every_form_says_the_day_that_it_stores(paired_site: PairedSite, page: str) -> None:
    connection = open_for_writing(paired_site.team.path)
    with closing(connection), transaction(connection, paired_site.team.path, asked="a test", by="bo"):
        Writer(connection, "bo", now_utc).insert(BY_NAME["car"], {"name": "blue"})
    assert '<span class="quiet">today</span> <span class="change">change</span>' in paired_site.page(
        f"/team/-/enter/{page}"
    )


def test_a_stored_weighing_leads_to_its_diff_and_to_the_bench_with_it(paired_site: PairedSite) -> None:
    page = paired_site.send("/team/-/enter/weigh", {"key": new_id(), "build": "front-a", "mass_g": "22.37"})
    links = re.findall(r'<a href="([^"]+)"[^>]*><span>(See front-a|To the bench with front-a)</span>', page)
    assert [label for _, label in links] == ["See front-a", "To the bench with front-a"]
    for address, _ in links:
        assert "front-a" in words(paired_site.page(unescape(address)))


def test_a_correction_from_a_list_leads_back_to_it(paired_site: PairedSite) -> None:
    run, note = paired_site.rows("SELECT id, note FROM runs ORDER BY run_on, id LIMIT 1")[0]
    form = {"key": new_id(), "note": "looser", "was.note": note or ""}
    page = paired_site.send(f"/team/-/enter/run/{run}?back=to-finish", form)
    assert 'href="/team/-/enter/to-finish"><span>Back to To finish</span>' in page
    page = paired_site.send(f"/team/-/enter/run/{run}", {"key": new_id(), "note": "tighter", "was.note": "looser"})
    assert "Back to To finish" not in page


def test_a_name_that_no_diff_has_is_met_with_names_of_diffs(paired_site: PairedSite) -> None:
    answer = paired_site.post("/team/-/enter/weigh", {"key": new_id(), "build": "front-aa", "mass_g": "22.37"})
    assert 'There is no diff named "front-aa". Did you mean front-a' in words(answer.text)
    assert "front-a/" not in words(answer.text).partition("Did you mean")[2].partition("?")[0]


def test_a_name_that_two_builds_have_is_met_with_both(paired_site: PairedSite) -> None:
    form = {"key": new_id(), "form.version": version_in(paired_site.page("/team/-/enter/record/build"))}
    answer = paired_site.post("/team/-/enter/record/build", {**form, **WORKED["build"], "label": "rear-a/2"})
    assert "There is a build named" in words(answer.text)
    answer = paired_site.post(
        "/team/-/enter/record/build", {**form, **WORKED["build"], "label": "rear-a/2", "another": "yes"}
    )
    assert answer.status_code == 303, words(answer.text)[:500]
    form = {"key": new_id(), "form.version": version_in(paired_site.page("/team/-/enter/record/seal_fitting"))}
    answer = paired_site.post("/team/-/enter/record/seal_fitting", {**form, **WORKED["seal_fitting"]})
    assert "2 builds have that name" in words(answer.text)
    offered = re.findall(r'value="(rear-a/2 of [^"]+)"', answer.text)
    assert len(offered) >= 2
    answer = paired_site.post(
        "/team/-/enter/record/seal_fitting", {**form, **WORKED["seal_fitting"], "build": offered[0]}
    )
    assert answer.status_code == 303, words(answer.text)[:500]


def test_a_join_is_not_written_field_by_field(paired_site: PairedSite) -> None:
    assert paired_site.get("/team/-/enter/record/join").status_code == 404


def test_a_page_that_is_not_there_does_not_call_a_phone_read_only(paired_site: PairedSite) -> None:
    answer = paired_site.get("/team/-/enter/no-such-page")
    assert answer.status_code == 404
    assert "Read-only" not in answer.text


@pytest.mark.parametrize(("kind", "field"), [("person", "name"), ("event_car", "event"), ("idea", "text")])
def test_dots_alone_are_said_beside_their_field_and_store_nothing(
    paired_site: PairedSite, kind: str, field: str
) -> None:
    count = f"SELECT count(*) FROM {BY_NAME[kind].table}"
    before = paired_site.rows(count)
    answer = paired_site.post(f"/team/-/enter/record/{kind}", {"key": new_id(), **WORKED[kind], field: "..."})
    assert answer.status_code == 400
    assert "Dots stand for what you write there" in words(answer.text)
    assert paired_site.rows(count) == before
