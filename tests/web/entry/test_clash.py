"""A clash on the pages, and settled by a touch. All data are constructed."""

from __future__ import annotations

import re

import pytest
from clashing import changed, copy_of, merged
from web.entry.conftest import PairedSite, words

from bevelbook.store.ids import new_id


@pytest.fixture
def build(paired_site: PairedSite) -> str:
    """The id of a build with two dry masses: ana's is shown."""
    db = paired_site.team.path
    (row_id, label) = paired_site.rows("SELECT id, label FROM builds WHERE label = 'rear-a/1'")[0]
    assert label == "rear-a/1"
    other = copy_of(db, "bo")
    changed(other, "bo", "build", row_id, dry_mass_g=46.31)
    changed(db, "ana", "build", row_id, dry_mass_g=46.13, hand_feel="notchy")
    merged(db, other)
    return str(row_id)


def test_home_record_and_clashes_say_it_and_lead_to_where_it_is_settled(paired_site: PairedSite, build: str) -> None:
    home = paired_site.page("/team/-/home")
    assert '<a href="/team/-/clashes">1 clash: changed in two places, say which holds</a>' in home
    page = paired_site.page("/team/-/clashes")
    said = words(page)
    assert "build rear-a/1 dry mass" in said
    assert "dry mass, hand feel" not in said
    assert re.search(r"1 dry mass 46\.13 g; hand feel notchy shown ana, \d+ [A-Z][a-z]{2}", said), said
    assert "2 dry mass 46.31 g; as before hand feel " in said
    assert f'href="/team/-/enter/clash/build/{build}">Say which holds</a>' in page
    assert "Clash : build rear-a/1" in words(paired_site.page(f"/team/-/build/{build}"))
    assert "Clash : build rear-a/1" in words(paired_site.page("/team/-/diff/rear-a"))
    reader = paired_site.paired_with(None)
    assert 'bevelbook --db team.db merge --settle "build rear-a/1" N --seen' in words(reader.page("/team/-/clashes"))
    assert "enter/clash" not in reader.page("/team/-/clashes")


def test_a_version_is_touched_then_what_will_hold_is_said_then_it_is_stored_and_taken_back(
    paired_site: PairedSite, build: str
) -> None:
    address = f"/team/-/enter/clash/build/{build}"
    page = paired_site.page(address)
    way = re.search(rf'href="({re.escape(address)}\?which=2&amp;seen=([0-9a-f]{{4}}))"', page)
    assert way is not None, page
    confirm = paired_site.page(way.group(1).replace("&amp;", "&"))
    assert "build rear-a/1: dry mass 46.31 g; as before hand feel " in words(confirm)
    assert "This holds" in words(confirm)
    assert paired_site.rows("SELECT dry_mass_g FROM builds WHERE id = ?", build) == [(46.13,)], "nothing yet"
    form = {"key": new_id(), "which": "2", "seen": way.group(2)}
    stored = paired_site.send(address, form)
    assert "build rear-a/1 settled: dry mass 46.31 g;" in words(stored)
    assert paired_site.rows("SELECT dry_mass_g FROM builds WHERE id = ?", build) == [(46.31,)]
    assert "No record is changed in two places." in words(paired_site.page("/team/-/clashes"))
    assert "1 clash" not in paired_site.page("/team/-/home")
    assert "it was settled meanwhile" in words(paired_site.page(address))
    late = paired_site.post(address, {**form, "key": new_id()})
    assert late.status_code == 400
    assert "it was settled meanwhile" in words(late.text)


def test_a_clash_that_has_changed_since_it_was_looked_at_is_not_settled(paired_site: PairedSite, build: str) -> None:
    address = f"/team/-/enter/clash/build/{build}"
    answer = paired_site.post(address, {"key": new_id(), "which": "2", "seen": "0000"})
    assert answer.status_code == 400
    assert "has changed since it was looked at. Now it is: 1 dry mass 46.13 g" in words(answer.text)
    assert "This holds" not in answer.text
    assert "This holds" not in paired_site.page(f"{address}?which=2&seen=0000"), "the versions are shown again"
    seen = paired_site.page(address).partition("seen=")[2][:4]
    for odd in ("0", "3", "x", "9" * 50):
        refused = paired_site.post(address, {"key": new_id(), "which": odd, "seen": seen})
        assert refused.status_code == 400
        assert "no version" in words(refused.text)
    assert paired_site.get("/team/-/enter/clash/nothing/x").status_code == 404
    assert "settled meanwhile" in words(paired_site.page("/team/-/enter/clash/build/x"))


def test_nobody_settles_who_is_not_paired(paired_site: PairedSite, build: str) -> None:
    reader = paired_site.paired_with(None)
    assert reader.get(f"/team/-/enter/clash/build/{build}").status_code in (303, 403)


def test_the_table_of_clashes_names_its_records_and_leads_to_the_page(paired_site: PairedSite, build: str) -> None:
    page = paired_site.page("/team/clashes")
    assert 'href="/team/-/clashes"' in page
    assert f'<a href="/team/builds/{build}">rear-a/1</a>' in page or f'<a href="/team/-/build/{build}">' in page
    assert "dry mass, hand feel" in words(page)
    assert "dry_mass_g" not in words(page).partition("Filter and sort")[0]


def test_of_three_what_nobody_disputes_is_kept_by_a_touch(paired_site: PairedSite, build: str) -> None:
    db = paired_site.team.path
    other = copy_of(db, "cy")
    changed(other, "cy", "build", build, note="ticks when warm")
    changed(db, "ana", "build", build, hand_feel="smooth")
    merged(db, other)
    address = f"/team/-/enter/clash/build/{build}"
    page = paired_site.page(address)
    ways = re.findall(r'href="([^"]*which=(\d)[^"]*others&amp;seen=[0-9a-f]{4})"', page)
    assert len(ways) == 2, page
    assert "dry mass 46.31 g (bo), and what the others changed" in words(page)
    assert "may hold with what the others changed: dry mass 46.31 g (bo), with" in words(
        paired_site.page("/team/-/clashes")
    )
    way = ways[-1][0]
    confirm = paired_site.page(way.replace("&amp;", "&"))
    holds = words(confirm)
    assert "This holds" in holds, holds
    seen = way[-4:]
    number = re.search(r"which=(\d)", way)
    assert number is not None
    stored = paired_site.send(address, {"key": new_id(), "which": f"{number[1]}+others", "seen": seen})
    assert "build rear-a/1 settled" in words(stored)
    ((note, feel),) = paired_site.rows("SELECT note, hand_feel FROM builds WHERE id = ?", build)
    assert (note, feel) == ("ticks when warm", "smooth")
