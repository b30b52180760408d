"""The pages of the bench screens: each draws, and takes whatever text is typed in any of its fields."""

from __future__ import annotations

import re

import pytest
from browser_team import HOSTILE
from web.entry.conftest import PairedSite, words

from bevelbook.store.ids import new_id

KEYS = (
    "weigh-closed-before",
    "look-where-wet",
    "open",
    "note-what-is-found",
    "lay-out-and-count",
    "seals",
    "shims",
    "weigh-dry",
    "weigh-closed-after",
)
TEXT = f"{HOSTILE[:160]}\x00"


@pytest.fixture
def screens(paired_site: PairedSite) -> str:
    """The address of the job of a rebuild of rear-a."""
    typed = {"key": new_id(), "diff": "rear-a", "kind": "rebuild", "way": "step by step"}
    answer = paired_site.post("/team/-/enter/bench", typed)
    assert answer.status_code == 303, words(answer.text)
    return str(answer.headers["location"]).partition("?")[0].rpartition("/")[0]


def test_every_screen_draws_and_hostile_text_in_any_field_comes_back_as_text(
    paired_site: PairedSite, screens: str
) -> None:
    for key in KEYS:
        page = paired_site.page(f"{screens}/{key}")
        assert page.count("<h1") == 1, key
        form = page[page.index('class="entry-form"') :].partition("</form>")[0]
        unseen = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form))
        names = set(re.findall(r'<(?:input|textarea|select|button)[^>]* name="([^"]+)"', form)) - unseen.keys()
        answer = paired_site.post(f"{screens}/{key}", {**unseen, **dict.fromkeys(names, TEXT)})
        assert answer.status_code == 400, (key, answer.status_code, words(answer.text)[:500])
        assert "&lt;script&gt;document" in answer.text, key
        assert "<script>document" not in answer.text, key
        assert "<img src=x" not in answer.text, key
    assert paired_site.rows("SELECT count(*) FROM builds") == [(5,)]


def test_a_mass_without_its_point_is_asked_about_and_kept(paired_site: PairedSite, screens: str) -> None:
    answer = paired_site.post(f"{screens}/weigh-closed-before", {"key": new_id(), "mass_g": "2238"})
    assert answer.status_code == 400
    assert 'value="2238"' in answer.text
    assert "Is that right?" in words(answer.text)
    assert paired_site.rows("SELECT count(*) FROM weighings WHERE mass_g > 1000") == [(0,)]
