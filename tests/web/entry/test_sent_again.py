"""A form that was gone back to after it was stored, and sent again with other texts: nothing typed is lost."""

from __future__ import annotations

import re
from html import unescape

import pytest
from web.entry.conftest import PairedSite, words

import bevelbook.web.entry.sent_again as sent_again
from bevelbook.store.ids import new_id

IDEA = "/team/-/enter/idea"
RUN = "/team/-/enter/run"


def hidden(page: str) -> dict[str, str]:
    form = page.partition('class="entry-form')[2].partition("</form>")[0]
    found = re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', form)
    return {unescape(name): unescape(text) for name, text in found if name != "csrftoken"}


def temperatures(site: PairedSite) -> list[tuple[float]]:
    return site.rows("SELECT diff_temp_c FROM run_diffs WHERE diff_temp_c > 54 AND diff_temp_c < 58 ORDER BY rowid")


def noted(site: PairedSite) -> dict[str, str]:
    """A run of 55 °C that is stored, as the form that a browser goes back to."""
    form = hidden(site.page(RUN)) | {"rear": "rear-a", "rear_temp_c": "55"}
    answer = site.post(RUN, form)
    assert answer.status_code == 303, words(answer.text)
    return form


def test_a_run_gone_back_to_and_changed_is_asked_about_and_corrected(paired_site: PairedSite) -> None:
    form = noted(paired_site)
    assert paired_site.post(RUN, form).status_code == 303, "the same again is known"
    answer = paired_site.post(RUN, form | {"rear_temp_c": "56"})
    assert answer.status_code == 400
    assert "This form is stored already, as run" in words(answer.text)
    assert re.search(r"stored is [\w ]*temp\w* 55, and now you typed [\w ]*temp\w* 56", words(answer.text))
    assert temperatures(paired_site) == [(55.0,)]
    asked = hidden(answer.text) | {"rear": "rear-a", "rear_temp_c": "56", "again": "correct"}
    for _ in range(2):
        assert paired_site.post(RUN, asked).status_code == 303
        assert temperatures(paired_site) == [(56.0,)]


def test_a_run_gone_back_to_can_be_another_run(paired_site: PairedSite) -> None:
    form = noted(paired_site)
    answer = paired_site.post(RUN, form | {"rear_temp_c": "56"})
    asked = hidden(answer.text) | {"rear": "rear-a", "rear_temp_c": "56", "again": "another"}
    for _ in range(2):
        assert paired_site.post(RUN, asked).status_code == 303
        assert temperatures(paired_site) == [(55.0,), (56.0,)]


@pytest.mark.parametrize("is_restarted", [False, True], ids=["the same server", "after a restart"])
def test_any_record_gone_back_to_is_asked_about(paired_site: PairedSite, is_restarted: bool) -> None:
    form = {"key": new_id(), "text": "a softer spring"}
    paired_site.send(IDEA, form)
    if is_restarted:
        sent_again._SENT.clear()
    assert paired_site.post(IDEA, form).status_code == 303
    answer = paired_site.post(IDEA, form | {"text": "a harder spring"})
    assert answer.status_code == 400
    assert "a softer spring" in words(answer.text)
    assert "a harder spring" in words(answer.text)
    assert "Leave it as it is stored" in words(answer.text)
    asked = hidden(answer.text) | {"text": "a harder spring"}
    paired_site.send(IDEA, asked | {"again": "another"})
    paired_site.send(IDEA, asked | {"text": "a middling spring", "again": "correct", "key.next": new_id()})
    assert paired_site.rows("SELECT text FROM ideas WHERE text LIKE '%spring' ORDER BY rowid") == [
        ("a middling spring",),
        ("a harder spring",),
    ]


def test_a_correction_gone_back_to_and_changed_shows_both(paired_site: PairedSite) -> None:
    address = f"/team/-/enter/record/build/{paired_site.team.ids['rear-b/2']}"
    form = hidden(paired_site.page(address))
    form |= {name.removeprefix("was."): text for name, text in form.items() if name.startswith("was.")}
    paired_site.send(address, form | {"note": "one"})
    assert paired_site.post(address, form | {"note": "one"}).status_code == 303
    answer = paired_site.post(address, form | {"note": "two"})
    assert answer.status_code == 400
    assert "wrote one" in words(answer.text)
    assert "you typed two" in words(answer.text)
    paired_site.send(address, form | hidden(answer.text) | {"note": "two", "was.note": "one"})
    assert paired_site.rows("SELECT note FROM builds WHERE label = 'rear-b/2'") == [("two",)]


@pytest.mark.parametrize("is_restarted", [False, True], ids=["the same server", "after a restart"])
def test_another_name_or_an_emptied_field_is_asked_about_too(paired_site: PairedSite, is_restarted: bool) -> None:
    form = hidden(paired_site.page(RUN)) | {
        "rear": "rear-a",
        "rear_temp_c": "55",
        "venue": "Tannery Hall",
        "note": "loose",
        "driver": "",
    }
    paired_site.send(RUN, form)
    if is_restarted:
        sent_again._SENT.clear()
    assert paired_site.post(RUN, form).status_code == 303, "the same again is known"
    for changed, said in (
        ({"venue": "Brickfield"}, "now you typed venue Brickfield"),
        ({"rear": "rear-b"}, "now you typed rear rear-b"),
        ({"note": ""}, "now you typed note empty"),
        ({"venue": ""}, "now you typed venue empty"),
    ):
        answer = paired_site.post(RUN, form | changed)
        assert answer.status_code == 400, changed
        assert said in words(answer.text)
    assert len(temperatures(paired_site)) == 1
