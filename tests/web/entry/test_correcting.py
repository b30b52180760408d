"""A stored record corrected or removed, also while somebody else does the same."""

from __future__ import annotations

import re
from html import unescape

from web.entry.conftest import PairedSite, words

from bevelbook.store.ids import new_id


def drawn(site: PairedSite, address: str) -> dict[str, str]:
    """The form of a stored record as a browser has it: what is hidden in it, and the text of each field."""
    page = site.page(address).partition('<form method="post" class="entry-form"')[2].partition("</form>")[0]
    found = dict(re.findall(r'<input type="hidden" name="([^"]+)" value="([^"]*)">', page))
    form = {unescape(name): unescape(text) for name, text in found.items()}
    was = {name.removeprefix("was."): text for name, text in form.items() if name.startswith("was.")}
    return {**form, **was}


def build_page(site: PairedSite, label: str = "rear-b/2") -> str:
    return f"/team/-/enter/record/build/{site.team.ids[label]}"


def another_phone(site: PairedSite) -> PairedSite:
    return site.paired_with(site.entry.phones.add("green phone", "bo").phone)


def test_only_what_was_changed_is_written(paired_site: PairedSite) -> None:
    address = build_page(paired_site)
    form = drawn(paired_site, address)
    page = words(paired_site.send(address, {**form, "dry_mass_g": "12,39", "note": "one\r\ntwo"}))
    assert "Stored: changed build rear-b/2: dry mass 12.39 g, was 12.38 g" in page
    assert paired_site.rows("SELECT dry_mass_g, note, fluid IS NULL FROM builds WHERE label = 'rear-b/2'") == [
        (12.39, "one\ntwo", 0)
    ]
    changed = paired_site.rows("SELECT entered FROM builds WHERE label = 'rear-b/2'")[0][0]
    assert set(re.findall(r'"(\w+)":', changed)) == {"dry_mass_g", "note"}


def test_the_page_of_a_row_leads_a_paired_phone_to_its_correction(paired_site: PairedSite) -> None:
    weighing = paired_site.team.ids["weighing rear-a/2"]
    row, form = f"/team/weighings/{weighing}", f"/team/-/enter/record/weighing/{weighing}"
    assert f'<a href="{form}">correct it</a>' in paired_site.page(row)
    assert 'value="22.38"' in paired_site.page(form)
    assert form not in paired_site.paired_with(None).page(row)


def test_a_long_note_is_sent_once_and_stays_as_it_is(paired_site: PairedSite) -> None:
    address, note = build_page(paired_site), "SELECT note FROM builds WHERE label = 'rear-b/2'"
    long = "é<b>\n" * 20_000
    paired_site.send(address, {**drawn(paired_site, address), "note": long.replace("\n", "\r\n")})
    assert paired_site.rows(note) == [(long.strip(),)]
    form = drawn(paired_site, address)
    assert len(form["was.note"]) < 100
    paired_site.send(address, {**form, "note": long, "dry_mass_g": "12.39"})
    assert paired_site.rows(note) == [(long.strip(),)]
    paired_site.send(address, {**drawn(paired_site, address), "note": "short again"})
    assert paired_site.rows(note) == [("short again",)]


def test_a_build_is_not_made_like_itself(paired_site: PairedSite) -> None:
    address = build_page(paired_site)
    before = paired_site.rows("SELECT like FROM builds WHERE label = 'rear-b/2'")
    page = words(paired_site.post(address, {**drawn(paired_site, address), "like": "rear-b/2"}).text)
    assert "is said to be like itself. Name the build before it" in page
    assert paired_site.rows("SELECT like FROM builds WHERE label = 'rear-b/2'") == before


def test_a_slip_over_a_filled_mass_is_asked_about_and_taken_as_the_oil_alone_only_then(paired_site: PairedSite) -> None:
    """12.38 + 1.20 = 13.58 by hand."""
    address, held = build_page(paired_site), "SELECT filled_mass_g FROM builds WHERE label = 'rear-b/2'"
    first = {"dry_mass_g": "12.38", "oil_mass_g": "", "target_oil_mass_g": "1.86", "filled_mass_g": "14.24"}
    paired_site.send(address, {**drawn(paired_site, address), **first})
    form = {**drawn(paired_site, address), "filled_mass_g": "1.2"}
    answer = paired_site.post(address, form)
    assert answer.status_code == 400
    said = "the oil alone, with the scale zeroed on the diff: that makes 13.58 g, where 14.24 g stood. Is that right?"
    assert f"Filled mass of 1.2 g is {said}" in words(answer.text)
    assert 'href="#field-filled_mass_g"' in answer.text, "the other way is to change it"
    assert paired_site.rows(held) == [(14.24,)]
    paired_site.send(address, {**form, "sure": "filled_mass_g=1.2"})
    assert paired_site.rows(held) == [(13.58,)]


def test_a_field_can_be_emptied(paired_site: PairedSite) -> None:
    address = build_page(paired_site)
    form = drawn(paired_site, address)
    paired_site.send(address, {**form, "closed_mass_g": "", "builder": "", "hand_feel": ""})
    assert paired_site.rows("SELECT closed_mass_g, builder, hand_feel FROM builds WHERE label = 'rear-b/2'") == [
        (None, None, None)
    ]


def test_two_phones_that_change_other_fields_both_keep_theirs(paired_site: PairedSite) -> None:
    other, address = another_phone(paired_site), build_page(paired_site)
    mine, theirs = drawn(paired_site, address), drawn(other, address)
    other.send(address, {**theirs, "note": "theirs"})
    paired_site.send(address, {**mine, "dry_mass_g": "12.40"})
    assert paired_site.rows("SELECT dry_mass_g, note FROM builds WHERE label = 'rear-b/2'") == [(12.4, "theirs")]


def test_two_phones_that_change_one_field_are_asked_which_is_right(paired_site: PairedSite) -> None:
    other, address = another_phone(paired_site), build_page(paired_site)
    stored = "SELECT dry_mass_g, hand_feel, note FROM builds WHERE label = 'rear-b/2'"
    mine, theirs = drawn(paired_site, address), drawn(other, address)
    other.send(address, {**theirs, "dry_mass_g": "12.51", "note": "theirs"})
    form = {**mine, "dry_mass_g": "12.40", "hand_feel": "loose"}
    answer = paired_site.post(address, form)
    assert answer.status_code == 400
    assert re.search(r"Dry mass: bo wrote 12.51 at \d\d:\d\d; you typed 12.40 ?. Which is right\?", words(answer.text))
    assert 'name="take.dry_mass_g" value="12.51">12.51, as bo wrote<' in answer.text
    assert 'name="was.dry_mass_g" value="12.51">12.40, as I typed<' in answer.text
    assert paired_site.rows(stored) == [(12.51, "smooth", "theirs")], "nothing of it is stored until that is settled"
    paired_site.send(address, {**form, "was.dry_mass_g": "12.51"})
    assert paired_site.rows(stored) == [(12.4, "loose", "theirs")]
    other.send(address, {**drawn(other, address), "dry_mass_g": "12.42"})
    page = paired_site.send(address, {**mine, "key": new_id(), "dry_mass_g": "12.70", "take.dry_mass_g": "12.42"})
    assert "It is stored like that already" in words(page)
    assert paired_site.rows(stored) == [(12.42, "loose", "theirs")]


def test_a_record_removed_meanwhile_leaves_what_was_typed_on_the_page(paired_site: PairedSite) -> None:
    other = another_phone(paired_site)
    paired_site.send("/team/-/enter/idea", {"key": new_id(), "text": "softer"})
    ((idea,),) = paired_site.rows("SELECT id FROM ideas WHERE text = 'softer'")
    address = f"/team/-/enter/record/idea/{idea}"
    form = drawn(paired_site, address)
    other.send(address, {"key": new_id(), "remove": "yes", "why": "noted twice"})
    answer = paired_site.post(address, {**form, "text": "softer in front"})
    assert answer.status_code == 400
    assert re.search(r"Idea softer was removed meanwhile by bo at \d\d:\d\d", words(answer.text))
    assert "softer in front" in answer.text
    assert paired_site.rows("SELECT reason FROM entries WHERE asked LIKE '%remove%'") == [("noted twice",)]


def test_a_new_record_of_a_build_removed_meanwhile_says_so(paired_site: PairedSite) -> None:
    paired_site.send("/team/-/enter/record/venue", {"key": new_id(), "name": "Mill Road"})
    ((venue,),) = paired_site.rows("SELECT id FROM venues WHERE name = 'Mill Road'")
    form = {"key": new_id(), "text": "thicker there", "venue": "Mill Road"}
    another_phone(paired_site).send(
        f"/team/-/enter/record/venue/{venue}", {"key": new_id(), "remove": "yes", "why": "another name"}
    )
    answer = paired_site.post("/team/-/enter/idea", form)
    assert answer.status_code == 400
    assert re.search(r"Venue Mill Road was removed meanwhile by bo at \d\d:\d\d", words(answer.text))
    assert "thicker there" in answer.text


def test_what_others_use_is_not_removed_and_a_reason_is_needed(paired_site: PairedSite) -> None:
    address = f"/team/-/enter/record/venue/{paired_site.team.ids['hall']}"
    answer = paired_site.post(address, {"key": new_id(), "remove": "yes", "why": "gone"})
    assert answer.status_code == 400
    assert "venue Tannery Hall is used by" in words(answer.text).replace("Venue", "venue")
    answer = paired_site.post(address, {"key": new_id(), "remove": "yes", "why": " "})
    assert answer.status_code == 400
    assert "No reason was given" in words(answer.text)
    assert paired_site.rows("SELECT count(*) FROM venues WHERE name = 'Tannery Hall'") == [(1,)]


def test_a_form_of_an_older_version_of_the_page_comes_back_with_what_was_typed(paired_site: PairedSite) -> None:
    form = {"key": new_id(), "form.version": "0123456789ab", "text": "softer", "mood": "<b>hopeful</b>"}
    answer = paired_site.post("/team/-/enter/idea", form)
    assert answer.status_code == 400
    assert "This page is from before an update; what you typed is here" in words(answer.text)
    assert "Typed as mood, which this page no longer has: <b>hopeful</b>" in words(answer.text)
    form["form.version"] = drawn(paired_site, f"/team/-/enter/record/idea/{paired_site.team.ids['idea']}")[
        "form.version"
    ]
    paired_site.send("/team/-/enter/idea", form)


def test_a_correction_without_the_texts_it_was_drawn_with_is_shown_again(paired_site: PairedSite) -> None:
    for address in (build_page(paired_site), f"/team/-/enter/record/diff/{paired_site.team.ids['rear-b']}"):
        form = drawn(paired_site, address)
        bare = {name: text for name, text in form.items() if not name.startswith("was.")}
        answer = paired_site.post(address, {**bare, "note": "typed <b>words</b>"})
        assert answer.status_code == 400
        assert "this page is from before an update" in words(answer.text).lower()
        assert "typed &lt;b&gt;words&lt;/b&gt;" in answer.text
        assert paired_site.post(address, bare).status_code == 303, "nothing was changed in it"


def test_oil_far_from_its_target_is_said_where_it_is_stored(paired_site: PairedSite) -> None:
    """1.50 g against 1.90 g is 0.40 g, far more than 1 % of the oil and any scale in use; subtraction by hand."""
    address = build_page(paired_site)
    form = drawn(paired_site, address)
    masses = {"dry_mass_g": "12.40", "filled_mass_g": "13.90", "oil_mass_g": "", "target_oil_mass_g": "1.90"}
    page = words(paired_site.send(address, {**form, **masses}))
    assert "1.50 g of oil went in, and its target is 1.90 g: 0.40 g too little (0.02 g either way is fine" in page


def test_a_closed_mass_unlike_the_one_before_is_said_where_it_is_stored(paired_site: PairedSite) -> None:
    """22.35 - 14.27 = 8.08 and 23.37 - 14.29 = 9.08 by hand: 1.00 g, far more than other screws and any scale."""
    masses = {"dry_mass_g": "12.40", "oil_mass_g": "", "mass_basis": "open half", "parts_on_pan": ""}
    pages = []
    for label, filled, closed in (("rear-b/1", "14.27", "22.35"), ("rear-b/2", "14.29", "23.37")):
        address = build_page(paired_site, label)
        typed = {**masses, "filled_mass_g": filled, "closed_mass_g": closed}
        pages.append(words(paired_site.send(address, {**drawn(paired_site, address), **typed})))
    said = "is 9.08 g, and for rear-b/1 it was 8.08 g (22.35 g less 14.27 g): 1.00 g more for the same lid and screws"
    assert [said in page for page in pages] == [False, True]
