"""The pages of the reference tables: every row with its status and source."""

from __future__ import annotations

import html
from collections.abc import Iterator

import pytest
from browser_team import Site, make_team, site_over

from bevelbook.plugin.registry import Registry
from bevelbook.reference import RULES_FIRST, citations, rows


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Site]:
    made = make_team(tmp_path_factory.mktemp("reference") / "team.db")
    with site_over(made.path, registry) as opened:
        yield opened


def test_every_reference_table_is_listed_and_opens_with_its_rows_and_sources(site: Site, registry: Registry) -> None:
    listed = site.get("/team/-/reference").text
    for name, one in registry.datasets().items():
        assert f"/team/-/reference/{name}" in listed
        page = html.unescape(site.page(f"/team/-/reference/{name}"))
        for row in rows(one.file, one.package):
            assert row["source"] in page
            source = citations(one.package)[row["source"]]
            for part in (source.publisher, source.title, source.year, source.seen):
                assert part in page


def test_the_table_of_cautions_ends_with_the_line_printed_under_every_caution(site: Site) -> None:
    assert RULES_FIRST in html.unescape(site.get("/team/-/reference/cautions").text)
    assert RULES_FIRST not in html.unescape(site.get("/team/-/reference/shim_rings").text)


def test_what_is_from_memory_is_said_to_be(site: Site) -> None:
    page = html.unescape(site.get("/team/-/reference/screw_breaking_torque").text)
    assert "from memory, unverified" in page


def test_an_unknown_reference_table_is_not_found(site: Site) -> None:
    assert site.get("/team/-/reference/nothing").status_code == 404


def test_the_calculators_page_leads_to_them(site: Site) -> None:
    assert "/team/-/reference" in site.get("/team/-/calculators").text
