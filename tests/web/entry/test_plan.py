"""A plan kept from its page: the bench works from it, proposes its oil, and ticks what is done."""

from __future__ import annotations

import html
import json
import re
from contextlib import closing
from datetime import date, timedelta

from entered import EnteredSite
from web.entry.conftest import words

from bevelbook.records import BY_NAME
from bevelbook.store.ids import new_id, now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

TODAY = date.today()
BENCH = "/team/-/enter/bench"
KEEP = "/team/-/enter/plan/spring~20race"


def write(site: EnteredSite, kind: str, **values: object) -> str:
    """A record of another person; its id."""
    path = site.team.path
    with closing(open_for_writing(path)) as connection, transaction(connection, path, asked="a test", by="bo"):
        return Writer(connection, "bo", now_utc).insert(BY_NAME[kind], values)


def a_race(site: EnteredSite) -> str:
    first = TODAY + timedelta(days=5)
    return write(site, "event", name="spring race", venue=site.team.ids["hall"], first_on=first.isoformat())


def list_on_bench(page: str) -> list[str]:
    """The lines of the plan on the bench, in their order."""
    (listed,) = re.findall(r'<ul class="ways-on planned">(.*?)</ul>', page, re.DOTALL)
    return [words(one) for one in re.findall(r"<li.*?</li>", listed, re.DOTALL)]


def test_a_plan_is_kept_and_is_the_list_of_the_bench_in_its_order(paired_site: EnteredSite) -> None:
    event = a_race(paired_site)
    assert "Begin with" in paired_site.page(BENCH), "as ever, without a plan"
    page = paired_site.page(KEEP)
    assert f'href="/team/-/enter/record/event/{event}"' in page, "to its forecast first"
    write(paired_site, "event", name="old race", first_on=(TODAY - timedelta(days=9)).isoformat())
    of_days_over = words(paired_site.page("/team/-/enter/plan/old~20race"))
    assert ["is the list on the bench" in one for one in (words(page), of_days_over)] == [True, False]
    shown = words(paired_site.send(KEEP, {"key": new_id()}))
    assert "Stored:" in shown
    assert "Since the plan of" in shown
    kept = paired_site.rows(
        "SELECT d.label, l.act FROM plan_lines l JOIN diffs d ON d.id = l.diff ORDER BY l.place, l.id"
    )
    assert kept == [("front-a", "weigh it"), ("rear-a", "leave it"), ("rear-b", "leave it")]
    bench = paired_site.page(BENCH)
    (line,) = list_on_bench(bench)
    assert line.startswith("front-a spare rear weigh it")
    assert "Leave rear-a, rear-b" in words(bench)
    assert "Plan for spring race , in 5 days" in words(bench)
    assert "spring race in 5 days: 1 to do" in words(paired_site.page("/"))
    write(paired_site, "weighing", build=paired_site.team.ids["front-a/1"], weighed_on=TODAY.isoformat(), mass_g=22.4)
    (line,) = list_on_bench(paired_site.page(BENCH))
    assert line.startswith("front-a spare rear done : front-a/1 weighed on")
    assert "spring race in 5 days: all done" in words(paired_site.page("/"))


def kept_by_hand(site: EnteredSite, *acts: tuple[str, str, str]) -> None:
    """A plan of today with the acts for diffs, in their order, each with 1.80 g of the oil of that name."""
    ids = site.team.ids
    lines = [
        {"diff": ids[diff], "oils": [{"words": f"{oil}, 1.80 g", "fluid": ids[oil], "oil_mass_g": 1.8}]}
        for diff, _, oil in acts
    ]
    plan = write(site, "plan", made_at=now_utc(), said=json.dumps({"cars": [], "spares": lines}))
    for place, (diff, act, oil) in enumerate(acts, start=1):
        build = ids[f"{diff}/2"]
        write(site, "plan_line", plan=plan, place=place, diff=ids[diff], build=build, act=act, oil=f"{oil}, 1.80 g")


def send(site: EnteredSite, address: str, **typed: str) -> str:
    """Where the form of a screen leads, sent with what was drawn in it but for what is typed."""
    page = site.page(address)
    form = page[page.index('class="entry-form"') :].partition("</form>")[0]
    drawn = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form))
    drawn |= dict(re.findall(r'<input id="field-[^"]+" name="([^"]+)" value="([^"]*)"', form))
    drawn |= dict(re.findall(r'name="([^"]+)" value="([^"]*)"(?: autocomplete="off")? checked', form))
    answer = site.post(address, {**{name: html.unescape(text) for name, text in drawn.items()}, **typed})
    assert answer.status_code == 303, words(answer.text)
    return str(answer.headers["location"]).partition("?")[0]


def test_a_line_of_the_plan_begins_the_right_kind_of_job_with_its_oil(paired_site: EnteredSite) -> None:
    """The build before has 10,000 and 1.86 g; the plan says 7,000 and 1.80 g."""
    site = paired_site
    kept_by_hand(site, ("rear-b", "change the oil", "seven"), ("rear-a", "rebuild", "seven"))
    bench = site.page(BENCH)
    assert [one.split()[0] for one in list_on_bench(bench)] == ["rear-b", "rear-a"], "as in the plan"
    way = "/team/-/enter/bench?diff=rear-b&kind=oil+change"
    assert f'href="{html.escape(way)}"' in bench
    page = site.page(way)
    assert "The plan says change the oil with seven, 1.80 g" in words(page)
    assert re.search(r'value="oil change" autocomplete="off" checked', page)
    job = "/".join(send(site, way, way="step by step").split("/")[:6])
    assert "on the bench: go on" in list_on_bench(site.page(BENCH))[0]
    send(site, f"{job}/open")
    send(site, f"{job}/weigh-dry", dry_mass_g="12.38")
    assert site.rows(
        "SELECT f.label, b.target_oil_mass_g FROM builds b JOIN fluids f ON f.id = b.fluid WHERE b.label = 'rear-b/3'"
    ) == [("10,000", 1.86)]
    assert "on the bench: go on" in list_on_bench(site.page(BENCH))[0], "half built is not done"
    pour = words(site.page(f"{job}/fill"))
    assert "The plan says seven, 1.80 g." in pour
    assert "Stop at 14.18 g" in pour
    send(site, f"{job}/fill", reading="14.18")
    stored = (
        "SELECT f.label, b.target_oil_mass_g, b.bottle, b.filled_mass_g FROM builds b JOIN fluids f ON f.id = b.fluid "
    )
    assert site.rows(f"{stored} WHERE b.label = 'rear-b/3'") == [("7,000", 1.8, None, 14.18)]


def test_made_the_same_again_it_has_the_oil_of_the_plan(paired_site: EnteredSite) -> None:
    site = paired_site
    kept_by_hand(site, ("rear-a", "rebuild", "seven"))
    job = "/".join(send(site, f"{BENCH}?diff=rear-a&kind=rebuild", way="same again", like="rear-a/2").split("/")[:6])
    listed = f"{job}/as_usual"
    page = words(site.page(listed))
    assert "Oil the plan says seven, 1.80 g" in page
    send(site, listed)
    stored = "SELECT f.label, b.target_oil_mass_g, b.bottle FROM builds b JOIN fluids f ON f.id = b.fluid "
    assert site.rows(f"{stored} WHERE b.label = 'rear-a/3'") == [("7,000", 1.8, None)]
    assert "the plan says" not in words(site.page(listed)), "once chosen, it is proposed no more"


def test_the_same_form_twice_keeps_one_plan(paired_site: EnteredSite) -> None:
    a_race(paired_site)
    key = new_id()
    for _ in range(2):
        paired_site.send(KEEP, {"key": key})
    assert paired_site.rows("SELECT count(*) FROM plans") == [(1,)]
