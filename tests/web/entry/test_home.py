"""The first page under entry: what can be written for a paired phone, pairing for any other device."""

from __future__ import annotations

import re
from contextlib import closing
from html import unescape
from http import HTTPStatus
from pathlib import Path

import pytest
from browser_team import Site, make_team, site_over
from entered import EnteredSite

from bevelbook.facts.renew import renew_touched
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.ids import new_id
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer

READING = ("diff/rear-a", "build/rear-a~2F2", "venue/Brickfield", "fluid/7,000", "day/2026-03-11", "run/2026-03-11~2F1")


def ways(page: str) -> dict[str, str]:
    """The addresses of the block of what can be written, by their words."""
    _, _, block = page.partition('<nav class="to-write"')
    links = re.findall(r'<a href="([^"]+)">([^<]+)', block.partition("</nav>")[0])
    return {words: address for address, words in links}


def test_a_paired_phone_is_offered_what_can_be_written_before_the_shelf(paired_site: EnteredSite) -> None:
    page = paired_site.page("/")
    assert list(ways(page))[:4] == ["Note a run", "Weigh a diff", "Bench", "Oil for the afternoon"]
    assert ways(page)["Note a run"] == "/team/-/enter/run"
    assert page.index('class="to-write"') < page.index("<h1>Shelf")
    assert "Pair this phone" not in page
    assert '<a href="/team/-/enter/weigh?build=rear-a">weigh it</a>' in page
    assert "Read-only" not in page


def test_what_was_stored_last_is_the_first_line_with_its_way_back(paired_site: EnteredSite) -> None:
    paired_site.send("/team/-/enter/idea", {"key": new_id(), "text": "thicker in front"})
    page = paired_site.page("/")
    assert page.index("Stored: added idea") < page.index('class="to-write"')
    assert "Take it back" in page


def test_a_device_that_is_not_paired_is_led_to_pairing(paired_site: EnteredSite) -> None:
    page = paired_site.paired_with(None).page("/")
    assert '<a href="/team/-/enter/pair">Pair this phone to write</a>' in page
    assert page.count("/-/enter/") == 1


@pytest.mark.parametrize("path", READING)
def test_pages_for_reading_lead_to_what_may_be_written_only_from_a_paired_phone(
    paired_site: EnteredSite, path: str
) -> None:
    assert '<p class="to-write no-print"><span>Write:</span>' in paired_site.page(f"/team/-/{path}")
    assert "/-/enter/" not in paired_site.paired_with(None).page(f"/team/-/{path}")


def test_every_form_that_is_offered_is_there(paired_site: EnteredSite) -> None:
    pages = ("", *(f"team/-/{path}" for path in READING))
    found = {
        address for path in pages for address in re.findall(r'"([^"]*/-/enter/[^"]+)"', paired_site.page(f"/{path}"))
    }
    assert len(found) > len(READING)
    missing = [one for one in sorted(found) if paired_site.get(unescape(one)).status_code != HTTPStatus.OK]
    assert missing == []


def test_a_diff_that_is_apart_is_not_offered_to_be_opened(paired_site: EnteredSite) -> None:
    apart, closed = (paired_site.page(f"/team/-/diff/{label}") for label in ("front-a", "rear-a"))
    assert ">open it</a>" in closed
    form = {"key": new_id(), "build": "front-a", "opened_on": "2026-06-01", "reason": "routine"}
    assert paired_site.post("/team/-/enter/opening", form).status_code == HTTPStatus.SEE_OTHER
    assert ">open it</a>" in apart
    assert ">open it</a>" not in paired_site.page("/team/-/diff/front-a")


def test_nothing_of_it_is_there_where_nobody_may_write(tmp_path: Path, registry: Registry) -> None:
    def without(site: Site) -> list[str]:
        return [path for path in ("/", *(f"/team/-/{one}" for one in READING)) if "enter" in site.page(path)]

    with site_over(make_team(tmp_path / "team.db").path, registry) as site:
        assert without(site) == []


def test_a_diff_that_was_never_built_has_no_comma_before_where_it_is(paired_site: EnteredSite) -> None:
    path = paired_site.team.path
    with closing(open_for_writing(path)) as connection, transaction(connection, path, by="ana"):
        writer = Writer(connection, "ana")
        writer.insert(BY_NAME["diff"], {"label": "front-z", "usual_position": "front"})
        renew_touched(connection)
    page = paired_site.page("/")
    beside = re.findall(r'class="more quiet">\s*(.*?)</p>', page)
    assert "front" in beside, beside
    assert not [one for one in beside if one.startswith(",")]
