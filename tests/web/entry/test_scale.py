"""The address at which a page hears the scale, and the mark of the fields that it belongs to."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from printing_scale import PrintingScale, listened_to, wait_for

from bevelbook.scale_port.listening import ScaleListening
from bevelbook.web.host.datasette_state import state_of

from .conftest import PairedSite

ADDRESS = "/team/-/enter/scale"


@pytest.fixture
def scale(tmp_path: Path) -> PrintingScale:
    return PrintingScale(tmp_path / "scale")


@pytest.fixture
def listening(paired_site: PairedSite, scale: PrintingScale) -> Iterator[ScaleListening]:
    with listened_to(scale) as made:
        state_of(paired_site.datasette).scale = made
        yield made


def test_without_a_scale_there_is_no_address_and_no_script(paired_site: PairedSite) -> None:
    assert paired_site.get(ADDRESS).status_code == 404
    assert "scale.js" not in paired_site.page("/team/-/enter/weigh")


def test_a_phone_hears_the_last_reading(
    paired_site: PairedSite, scale: PrintingScale, listening: ScaleListening
) -> None:
    scale.prints("ST,NT,+00062.35  g")
    wait_for(listening, lambda said: said.reading is not None)
    answer = paired_site.get(ADDRESS)
    heard = answer.json()
    assert heard["reading"].pop("age_s") < 10
    assert heard == {
        "number": listening.said.number,
        "trouble": "",
        "reading": {"mass_g": 62.35, "digits": "62.35", "is_steady": True, "weighed_as": "net"},
        "line": None,
    }
    assert answer.headers["cache-control"] == "no-store"


def test_a_line_that_is_not_taken_is_shown_as_it_came(
    paired_site: PairedSite, scale: PrintingScale, listening: ScaleListening
) -> None:
    scale.prints("<b>62.35 g 14.20 g")
    wait_for(listening, lambda said: said.line is not None)
    heard = paired_site.get(ADDRESS).json()
    assert heard["reading"] is None
    assert heard["line"]["text"] == "<b>62.35 g 14.20 g"
    assert paired_site.get(f"{ADDRESS}?known=0").json() == heard  # other than known: at once


@pytest.mark.parametrize("known", ["-1", "x", "9" * 5000])
def test_an_odd_number_is_refused_at_once(paired_site: PairedSite, listening: ScaleListening, known: str) -> None:
    assert paired_site.get(f"{ADDRESS}?known=").json()["number"] == listening.said.number
    answer = paired_site.get(f"{ADDRESS}?known={known}")
    assert (answer.status_code, f"known={known[:80]}" in answer.text) == (400, True)


def test_only_a_paired_phone_hears_it(paired_site: PairedSite, listening: ScaleListening) -> None:
    assert paired_site.paired_with(None).get(ADDRESS).status_code == 403
    assert paired_site.post(ADDRESS).status_code == 404


def test_every_field_for_a_mass_has_the_mark_and_no_other(paired_site: PairedSite, listening: ScaleListening) -> None:
    page = paired_site.page("/team/-/enter/weigh")
    assert 'data-address="/team/-/enter/scale"' in page
    assert _marked(page) == {"mass_g", "sister_mass_g"}
    build = _marked(paired_site.page("/team/-/enter/record/build"))
    assert {"dry_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g"} <= build
    assert not {one for one in build if not one.endswith("_g")}


def _marked(page: str) -> set[str]:
    """The names of the inputs with the mark of a mass."""
    return {one.partition('"')[0] for one in page.split('name="')[1:] if 'data-mass="g"' in one.partition(">")[0]}
