"""The last entry of a phone taken back, and brought back."""

from __future__ import annotations

from web.entry.conftest import PairedSite, words

from bevelbook.store.ids import new_id

TAKE_BACK = "/team/-/enter/take-back"


def last_entry(site: PairedSite) -> str:
    return str(site.rows("SELECT id FROM entries ORDER BY made_at DESC, id LIMIT 1")[0][0])


def test_what_was_taken_back_can_be_brought_back_and_taken_back_again(paired_site: PairedSite) -> None:
    count = "SELECT count(*) FROM weighings WHERE mass_g = 22.37"
    paired_site.send("/team/-/enter/weigh", {"key": new_id(), "build": "rear-a", "mass_g": "22.37"})
    for left, said, way_back in (
        (0, "Taken back", "Bring it back"),
        (1, "Brought back", "Take it back"),
        (0, "Taken back", "Bring it back"),
    ):
        answer = paired_site.post(TAKE_BACK, {"entry": last_entry(paired_site)})
        assert answer.status_code == 200, words(answer.text)
        assert said in words(answer.text)
        assert way_back in words(answer.text)
        assert 'class="next" href="/team/-/home"' in answer.text
        assert f'<button class="other" name="again" value="yes">{way_back}' in answer.text
        assert paired_site.rows(count) == [(left,)]
        assert f"{said}: " in words(paired_site.page("/team/-/enter/idea"))


def test_only_the_last_entry_of_this_phone_and_only_once(paired_site: PairedSite) -> None:
    other = paired_site.paired_with(paired_site.entry.phones.add("green phone", "bo").phone)
    paired_site.send("/team/-/enter/idea", {"key": new_id(), "text": "first"})
    first = last_entry(paired_site)
    paired_site.send("/team/-/enter/idea", {"key": new_id(), "text": "second"})
    second = last_entry(paired_site)
    for site, entry in ((paired_site, first), (other, second), (paired_site, new_id())):
        answer = site.post(TAKE_BACK, {"entry": entry})
        assert answer.status_code == 400
        assert "not the last entry of this phone" in words(answer.text)
    held = dict(paired_site.cookies)
    assert paired_site.post(TAKE_BACK, {"entry": second}).status_code == 200
    paired_site.cookies = held
    again = paired_site.post(TAKE_BACK, {"entry": second})
    assert again.status_code == 400
    assert "was taken back already" in words(again.text)
    assert paired_site.rows("SELECT text FROM ideas WHERE text IN ('first', 'second')") == [("first",)]


def test_an_old_form_sent_again_is_not_the_last_entry(paired_site: PairedSite) -> None:
    first = {"key": new_id(), "text": "first"}
    paired_site.send("/team/-/enter/idea", first)
    paired_site.send("/team/-/enter/idea", {"key": new_id(), "text": "second"})
    page = words(paired_site.send("/team/-/enter/idea", first))
    assert "This form is stored already; sending it again added nothing." in page
    assert "Stored: added idea second" in page
    assert "Added idea first" in page
    assert "Add another idea like it" in page


def test_what_others_have_built_on_is_not_taken_back(paired_site: PairedSite) -> None:
    other = paired_site.paired_with(paired_site.entry.phones.add("green phone", "bo").phone)
    paired_site.send("/team/-/enter/record/venue", {"key": new_id(), "name": "Mill Road"})
    entry = last_entry(paired_site)
    other.send("/team/-/enter/idea", {"key": new_id(), "text": "thicker there", "venue": "Mill Road"})
    answer = paired_site.post(TAKE_BACK, {"entry": entry})
    assert answer.status_code == 400
    assert "cannot be taken back: venue Mill Road is used by idea thicker there" in words(answer.text)
    assert paired_site.rows("SELECT count(*) FROM venues WHERE name = 'Mill Road'") == [(1,)]
