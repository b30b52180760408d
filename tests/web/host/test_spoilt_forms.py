"""Forms as no page draws them: each is answered in words, and the database stays sound. More by hand: trials."""

from __future__ import annotations

import asyncio
from collections.abc import Iterator
from pathlib import Path

import pytest
from browser_team import make_team
from trials.web_requests import Drawing, Sites, chance_of, faults_of, forms_of, named_in, unsound

from bevelbook.plugin.registry import Registry

FORMS = 10


@pytest.fixture
def sites(tmp_path: Path, registry: Registry) -> Iterator[Sites]:
    made = Sites(tmp_path, make_team(tmp_path / "made.db", "a note").path, registry)
    made.open()
    yield made
    made.close()


def test_no_form_is_a_fault_of_the_server(sites: Sites) -> None:
    async def ask() -> list[object]:
        for datasette in sites.made.values():
            await datasette.invoke_startup()
        forms = await forms_of(sites, most_pages=10)
        assert len({form.address for form in forms}) > 6
        drawing = Drawing(sites.made["enter"], ("fill-target",), named_in(sites.demo), forms)
        found: list[object] = []
        for number in range(FORMS):
            sites.pair()
            asked = drawing.form(chance_of(4, number), sites.token)
            faults = [one for one in faults_of(asked, await sites.answer(asked), sites.close_to()) if " s" not in one]
            found += [(number, asked, faults)] if faults else []
        return found

    assert asyncio.run(ask()) == []
    assert unsound(sites.path("enter"), sites.registry) == []
