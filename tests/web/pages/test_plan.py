"""The page of a plan: what to do with each diff as the data say it, car by car; a constructed team."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from browser_team import Site, site_over
from constructed import Add, adding
from datasette.utils import tilde_encode

from bevelbook.planning.plan import make_plan
from bevelbook.plugin.registry import Registry
from bevelbook.store.ids import now_utc
from bevelbook.store.opening import new_database, open_for_writing, transaction
from bevelbook.store.writing import Writer

TODAY = date.today()


def day(off: int) -> str:
    return (TODAY + timedelta(days=off)).isoformat()


def _team(add: Add) -> None:
    """Two cars with three and two diffs and a spool, a spare; one fresh, one that lost oil, one never weighed."""
    hall = add("venue", name="Tannery Hall")
    oil = add("fluid", label="7,000", viscosity_cst=7000.0)
    scale = add("scale", name="pocket", step_g=0.01)
    cars = {name: add("car", name=name) for name in ("blue", "red")}
    for car, position, label, closed in (
        ("blue", "front", "front-a", 22.40),
        ("blue", "centre", "centre-a", 22.40),
        ("blue", "rear", "<b>rear-a</b>", 22.00),
        ("red", "front", "front-b", None),
        ("", "rear", "rear-c", None),
    ):
        diff = add("diff", label=label, usual_position=position)
        build = add(
            "build", label=f"{label}/1", diff=diff, built_on=day(-9), fluid=oil, oil_mass_g=1.86, closed_mass_g=22.40
        )
        if car:
            add("car_diff", car=cars[car], position=position, diff=diff, from_on=day(-8))
        if closed:
            add("weighing", build=build, weighed_on=day(-1), mass_g=closed, mass_basis="closed", scale=scale)
    add("car_diff", car=cars["red"], position="rear", instead="spool", from_on=day(-8))
    event = add("event", name="spring race", venue=hall, first_on=day(5), last_on=day(6), runs_per_car=6.0)
    for car in cars.values():
        add("event_car", event=event, car=car)
    add("event", name="no day, no place")


@pytest.fixture(scope="module")
def path(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("plan") / "team.db"
    with closing(new_database(made)) as connection, transaction(connection, made):
        _team(adding(Writer(connection, "ana", now_utc)))
    return made


@pytest.fixture(scope="module")
def site(path: Path, registry: Registry) -> Iterator[Site]:
    with site_over(path, registry) as made:
        yield made


def shown(page: str) -> list[tuple[str, str, str]]:
    """Of each line its place, diff and act, as the page shows them."""
    cells = r'<p class="place">([^<]*)</p>\s*<p class="name"><a[^>]*>([^<]*)</a></p>\s*<p class="act">(.*?)</p>'
    found = re.findall(cells, page, re.DOTALL)
    return [(place, html.unescape(diff), re.sub(r"<[^>]+>", "", act).strip()) for place, diff, act in found]


def said(path: Path, registry: Registry, event: str | None) -> list[tuple[str, str, str]]:
    """The same as the data say it."""
    with closing(open_for_writing(path)) as connection:
        found = connection.execute("SELECT id FROM events WHERE name = ?", (event,)).fetchone()
        data: dict[str, Any] = make_plan(connection, registry, found[0] if found else None, TODAY).as_dict()
    lines = [line for car in data["cars"] for line in car["lines"]] + data["spares"]
    return [(line["position"] or "", line["label"], line["act"]) for line in lines]


@pytest.mark.parametrize("event", ["spring race", None, "no day, no place"])
def test_each_diff_has_the_act_that_the_data_say_for_it(
    site: Site, path: Path, registry: Registry, event: str | None
) -> None:
    page = site.page(f"/team/-/plan/{tilde_encode(event)}" if event else "/team/-/plan")
    assert shown(page) == said(path, registry, event)
    acts = {diff: act for _, diff, act in shown(page)}
    assert set(acts) == {"front-a", "centre-a", "<b>rear-a</b>", "front-b", "rear-c"}
    assert acts["front-a"] == "leave it", "weighed full yesterday"
    assert acts["<b>rear-a</b>"] != "leave it", "0.40 g of 1.86 g are gone"
    assert "<b>rear-a</b>" not in page


def test_a_plan_names_its_event_its_cars_and_the_places_without_a_diff(site: Site) -> None:
    page = site.page("/team/-/plan/spring~20race")
    assert "<h1>Plan for spring race</h1>" in page
    assert "spring race</a>, in 5 days" in page
    assert re.findall(r'<section class="of-car" id="(.*?)">\s*<h2>(.*?)</h2>', page) == [
        ("car-1", "blue, 6 runs planned"),
        ("car-2", "red, 6 runs planned"),
        ("spare", "Spare"),
    ]
    assert re.search(r'<li class="gap"><p class="place">rear</p>\s*<p class="gap-words">Spool', page)
    assert '<input type="checkbox"' in page.partition('id="to-pack"')[2], "boxes to tick on paper"


def test_who_may_not_write_is_led_to_no_form(site: Site) -> None:
    page = site.page("/team/-/plan/spring~20race")
    assert "/enter/" not in page
    assert "Keep this plan" not in page


def test_an_event_that_is_not_there_and_an_odd_argument_are_said(site: Site) -> None:
    assert "spring race" in site.page("/team/-/plan/sprin~20race", status=404)
    assert "is not known here" in site.page("/team/-/plan?car=blue", status=400)
    site.page("/team/-/plan/spring~20race/more", status=404)


def test_the_first_page_leads_to_the_plan_of_the_next_event(site: Site) -> None:
    assert re.search(r'href="/team/-/plan/[0-9a-f-]+">spring race in 5 days: its plan</a>', site.page("/"))


def test_an_empty_book_has_a_plan_of_nothing(tmp_path: Path, registry: Registry) -> None:
    new_database(tmp_path / "team.db").close()
    with site_over(tmp_path / "team.db", registry) as empty:
        assert "No diff is recorded yet." in empty.page("/team/-/plan")
        assert "race" not in empty.page("/").partition("<main")[2].partition("<section")[0]
