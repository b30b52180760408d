"""A form that was sent: stored once, taken back, refused without a pairing."""

from __future__ import annotations

from pathlib import Path

from browser_team import make_team, site_over
from web.entry.conftest import PairedSite, words

from bevelbook.plugin.registry import Registry
from bevelbook.store.ids import new_id

IDEA = "/team/-/enter/idea"


def test_what_a_form_stores_is_said_and_can_be_taken_back(paired_site: PairedSite) -> None:
    page = paired_site.send(IDEA, {"key": new_id(), "text": "thicker in front", "venue": "Tannery Hall"})
    assert "Stored: added idea" in words(page)
    assert paired_site.rows("SELECT text, updated_by FROM ideas WHERE text = 'thicker in front'") == [
        ("thicker in front", "ana")
    ]
    entry = paired_site.rows("SELECT id FROM entries ORDER BY rowid DESC LIMIT 1")[0][0]
    answer = paired_site.post("/team/-/enter/take-back", {"entry": entry})
    assert answer.status_code == 200, words(answer.text)
    assert not paired_site.rows("SELECT 1 FROM ideas WHERE text = 'thicker in front'")
    assert "Stored:" not in words(paired_site.page(IDEA))


def test_a_form_sent_twice_is_stored_once(paired_site: PairedSite) -> None:
    form = {"key": new_id(), "text": "a softer spring"}
    paired_site.send(IDEA, form)
    paired_site.send(IDEA, form)
    assert paired_site.rows("SELECT count(*) FROM ideas WHERE text = 'a softer spring'") == [(1,)]


def test_what_cannot_be_stored_comes_back_with_what_was_typed(paired_site: PairedSite) -> None:
    answer = paired_site.post(IDEA, {"key": new_id(), "text": "dry <b>bold</b>", "venue": "nowhere at all"})
    assert answer.status_code == 400
    assert "dry &lt;b&gt;bold&lt;/b&gt;" in answer.text
    assert "nowhere at all" in answer.text


def test_no_page_that_writes_answers_under_serve(tmp_path: Path, registry: Registry) -> None:
    with site_over(make_team(tmp_path / "team.db").path, registry) as site:
        assert site.get(IDEA).status_code == 404
