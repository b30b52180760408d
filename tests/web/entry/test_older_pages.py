"""Entries that come back from an older page: fields, choices and records that are there no more are named, and what
was typed is not lost. All people, venues and figures are invented."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest
from browser_team import Team
from entered import EnteredSite, entered_site
from entry_team import make_entry_team
from handing_over import as_noted, drawn_form, hand_over, typed_on
from web.entry.conftest import words

from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.taking_back.removal import removal_of, remove

RUN = "/team/-/enter/run"
WEIGH = "/team/-/enter/weigh"
IDEA = "/team/-/enter/idea"


@pytest.fixture
def site(tmp_path: Path, registry: Registry) -> Iterator[EnteredSite]:
    team = Team(make_entry_team(tmp_path / "team.db", was_written=True), {})
    with entered_site(team, registry, tmp_path / "settings") as made:
        yield made


def id_of(site: EnteredSite, kind: str, name: str) -> str:
    label = BY_NAME[kind].label
    return str(site.rows(f"SELECT id FROM {BY_NAME[kind].table} WHERE {label} = ?", name)[0][0])


def renamed(site: EnteredSite, kind: str, name: str, to: str) -> None:
    row_id = id_of(site, kind, name)
    with closing(open_for_writing(site.team.path)) as connection, transaction(connection, site.team.path, by="ben"):
        Writer(connection, "ben").update(BY_NAME[kind], row_id, {BY_NAME[kind].label: to})


def test_a_field_that_the_form_has_no_more_is_named_with_what_was_typed(site: EnteredSite) -> None:
    kept = typed_on(site, IDEA, {"text": "a wing", "wing_angle": "12"})
    for form in ({**kept, "form.version": "older"}, kept):
        waited = as_noted(form, 600)
        answer = hand_over(site, IDEA, waited)
        assert answer["done"] == "asks"
        assert "it has no wing angle any more, where you typed 12" in answer["words"]
        looked = site.post(IDEA, waited)
        assert looked.status_code == 400
        assert "Typed as wing_angle, which this page no longer has: 12" in words(looked.text)
    assert site.post(IDEA, {"text": "a wing, 12", **drawn_form(looked.text)}).status_code == 303
    assert site.rows("SELECT text FROM ideas") == [("a wing, 12",)]


def test_a_choice_that_is_none_any_more_is_named_beside_its_field(site: EnteredSite) -> None:
    kept = typed_on(site, RUN, {"car": "blue", "rear_temp_c": "38", "grip": "sticky", "form.version": "older"})
    waited = as_noted(kept, 600)
    answer = hand_over(site, RUN, waited)
    assert answer["done"] == "asks"
    assert "grip cannot be sticky any more" in answer["words"]
    looked = site.post(RUN, waited)
    assert "Typed as sticky, which this page no longer has" in words(looked.text)
    assert 'value="38"' in looked.text
    typed = {"car": "blue", "rear_temp_c": "38", "grip": "high"}
    assert site.post(RUN, {**drawn_form(looked.text), **typed}).status_code == 303


def test_a_diff_that_was_renamed_meanwhile_is_offered_by_its_new_name(site: EnteredSite) -> None:
    kept = typed_on(site, WEIGH, {"build": "rear-b", "mass_g": "22.30"})
    renamed(site, "diff", "rear-b", "spare rear")
    waited = as_noted(kept, 600)
    answer = hand_over(site, WEIGH, waited)
    assert answer["done"] == "asks"
    assert '"rear-b" is called "spare rear" now.' in answer["words"]
    looked = site.post(WEIGH, waited)
    assert 'value="spare rear"' in looked.text
    assert 'value="22.30"' in looked.text
    assert site.post(WEIGH, {"mass_g": "22.30", **drawn_form(looked.text), "build": "spare rear"}).status_code == 303


def test_a_diff_that_was_removed_meanwhile_is_named(site: EnteredSite) -> None:
    with closing(open_for_writing(site.team.path)) as connection:
        with transaction(connection, site.team.path, by="ben"):
            spare = Writer(connection, "ben").insert(BY_NAME["diff"], {"label": "rear-z"})
        kept = typed_on(site, RUN, {"car": "blue", "rear": "rear-z", "rear_temp_c": "38"})
        with transaction(connection, site.team.path, by="ben"):
            remove(connection, removal_of(connection, BY_NAME["diff"], spare), "ben")
    waited = as_noted(kept, 600)
    answer = hand_over(site, RUN, waited)
    assert answer["done"] == "asks"
    assert "Diff rear-z was removed meanwhile by ben" in answer["words"]
    assert 'value="rear-z"' in site.post(RUN, waited).text


def test_a_car_that_was_renamed_meanwhile_is_named(site: EnteredSite) -> None:
    kept = typed_on(site, RUN, {"car": "blue", "rear_temp_c": "38"})
    renamed(site, "car", "blue", "azure")
    waited = as_noted(kept, 600)
    answer = hand_over(site, RUN, waited)
    assert answer["done"] == "asks"
    assert '"blue" is called "azure" now. Choose the car' in answer["words"]
    looked = site.post(RUN, waited)
    assert answer["words"] in words(looked.text)
    settled = site.post(RUN, {"rear_temp_c": "38", **drawn_form(looked.text), "car": "azure"})
    assert settled.status_code == 303, words(settled.text)


def test_a_venue_that_was_renamed_meanwhile_is_named_where_it_is_carried_over(site: EnteredSite) -> None:
    site.send(RUN, {**drawn_form(site.page(RUN)), "car": "blue", "venue": "Lantern Hall", "rear_temp_c": "36"})
    kept = typed_on(site, RUN, {"car": "blue", "rear_temp_c": "38"})
    renamed(site, "venue", "Lantern Hall", "Candle Hall")
    first = site.rows("SELECT id FROM runs ORDER BY rowid DESC LIMIT 1")[0][0]
    with closing(open_for_writing(site.team.path)) as connection:
        connection.execute("UPDATE runs SET created_at = '2026-01-01T00:00:00.000Z' WHERE id = ?", (first,))
    answer = hand_over(site, RUN, as_noted(kept, 20))
    assert answer["done"] == "asks"
    assert "venue now Candle Hall" in answer["words"]
