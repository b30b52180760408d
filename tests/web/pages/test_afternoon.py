"""The page of the oil for the afternoon: a diff, a number and a button."""

from __future__ import annotations

import html
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_team import Site, content_of, site_over
from constructed import Team, adding

from bevelbook.plugin.registry import Registry
from bevelbook.store.ids import now_utc
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

ADDRESS = "/team/-/afternoon"


@pytest.fixture
def site(db: Path, registry: Registry) -> Iterator[Site]:
    """Two diffs of a car with 7,000 cSt that ran at 24 °C in the air and 28 °C on the track."""
    connection = open_for_writing(db)
    with transaction(connection, db, asked="a test", by="ana"):
        add = adding(Writer(connection, "ana", now_utc))
        oil = add("fluid", label="club 7k", medium="oil", viscosity_cst=7000.0, viscosity_source="printed on it")
        add("fluid", label="club 10k", medium="oil", viscosity_cst=10000.0, viscosity_source="printed on it")
        car = add("car", name="blue")
        for label, place in (("rear-a", "rear"), ("front-a", "front")):
            team = Team(add, label)
            run = add("run", label=f"run {place}", run_on="2026-03-02", grip="low", air_temp_c=24.0, track_temp_c=28.0)
            add("run_diff", run=run, build=team.build(fluid=oil), position=place)
            add("car_diff", car=car, position=place, diff=team.diff, from_on="2026-03-01")
    connection.close()
    with site_over(db, registry) as made:
        yield made


def shown(site: Site, address: str, status: int = 200) -> str:
    page = re.sub(r"(?s)<(header|footer)\b.*?</\1>", "", site.page(address, status=status))
    return " ".join(html.unescape(re.sub(r"<[^>]*>", " ", page)).split())


def chosen(site: Site, name: str) -> str:
    """The address that the button of this name leads to."""
    page = html.unescape(site.page(ADDRESS))
    (address,) = re.findall(rf'<li><a href="([^"]+)">{name}<', page)
    return str(address)


def test_twelve_hotter_is_one_number_and_one_button(site: Site, db: Path) -> None:
    """7000 × exp(1757.1 × (1/297.15 - 1/309.15)) = 8806: the worked example of that calculator, from the air."""
    before = content_of(db)
    first = chosen(site, "rear-a")
    assert "Last run 2 Mar" in shown(site, first)
    words = shown(site, f"{first}&degrees=36&of=air")
    assert "8,806 cSt feels at 36 °C as 7,000 cSt at 24 °C did" in words
    assert "Leave it: 10,000 is 14 % too thick" in words
    assert "Track taken as 40 °C: 28 °C in run run rear" in words
    assert "if that is 3 °C off (our own figure)" in words
    assert content_of(db) == before


@pytest.mark.parametrize("degrees", ["12", "+12", "12,0 °C"])
def test_hotter_by_so_much_needs_no_temperature(site: Site, degrees: str) -> None:
    words = shown(site, f"{chosen(site, 'rear-a')}&degrees={degrees.replace('+', '%2B')}&of=hotter")
    assert "12 °C hotter" in words
    assert "feels at 36 °C as 7,000 cSt at 24 °C did" in words


def test_a_car_is_answered_for_each_of_its_diffs(site: Site) -> None:
    words = shown(site, f"{chosen(site, 'blue: front-a, rear-a')}&degrees=40&of=track")
    assert words.index("front-a 40 °C on the track") < words.index("rear-a 40 °C on the track")
    assert words.count("feels at 40 °C as 7,000 cSt at 28 °C did") == 2


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ("&degrees=warm&of=track", "Not a number"),
        ("&degrees=400&of=track", "100"),
        ("&of=track", "Type the degrees first."),
        ("&degrees=<b>&of=air", "Not a number"),
    ],
)
def test_what_cannot_be_read_stays_in_the_form_with_why(site: Site, more: str, said: str) -> None:
    page = site.page(f"{chosen(site, 'rear-a')}{more}", status=400 if "degrees" in more else 200)
    assert said in page
    assert "<b>" not in page
    assert "feels at" not in page


def test_nobody_is_asked_which_diff_where_it_is_not_known(site: Site) -> None:
    asked = shown(site, f"{ADDRESS}?for=nothing", status=400)
    assert "for=nothing. For which diff?" in asked


def test_a_diff_alone_in_a_car_is_offered_once_and_a_grip_that_no_run_says_is_a_choice(
    db: Path, registry: Registry
) -> None:
    connection = open_for_writing(db)
    with transaction(connection, db, asked="a test", by="ana"):
        add = adding(Writer(connection, "ana", now_utc))
        oil = add("fluid", label="club 7k", medium="oil", viscosity_cst=7000.0, viscosity_source="printed on it")
        team = Team(add, "rear-b")
        run = add("run", label="run one", run_on="2026-03-02", air_temp_c=24.0, track_temp_c=28.0)
        add("run_diff", run=run, build=team.build(fluid=oil), position="rear")
        add("car_diff", car=add("car", name="blue"), position="rear", diff=team.diff, from_on="2026-03-01")
        add("build", diff=add("diff", label="front-b"), label="front-b/1", built_on="2026-03-01")
    connection.close()
    with site_over(db, registry) as site:
        assert shown(site, ADDRESS).count("rear-b") == 1
        address = chosen(site, "blue: rear-b")
        assert 'name="grip" value="low"' in site.page(address)
        lacking, given = (shown(site, f"{address}&degrees=40&of=track{more}") for more in ("", "&grip=low"))
        assert "Grip is missing" in lacking
        assert "missing" not in given
        assert 'value="low" checked' in site.page(f"{address}&degrees=40&of=track&grip=low")
