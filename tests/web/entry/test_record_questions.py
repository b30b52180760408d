"""What only a person knows comes back as buttons of the form, and is asked once."""

from __future__ import annotations

import re
from html import unescape

from web.entry.conftest import PairedSite, words

from bevelbook.store.ids import new_id

WEIGH = "/team/-/enter/weigh"


def buttons(page: str) -> dict[str, tuple[str, str]]:
    """The buttons that send something: by their words, the field and its text."""
    found = re.findall(r'<button class="other" name="([^"]*)" value="([^"]*)">([^<]*)</button>', page)
    return {unescape(text): (unescape(name), unescape(value)) for name, value, text in found}


def asked(site: PairedSite, address: str, form: dict[str, str]) -> dict[str, tuple[str, str]]:
    """The buttons of a form that came back with a question, with every typed text in it."""
    answer = site.post(address, form)
    assert answer.status_code == 400, words(answer.text)[:500]
    for text in form.values():
        assert f'"{text}"' in unescape(answer.text), text
    return buttons(answer.text)


def test_a_value_outside_the_sane_range_is_asked_about_once(paired_site: PairedSite) -> None:
    form = {"key": new_id(), "build": "rear-a", "mass_g": "170", "mass_basis": "closed"}
    answer = paired_site.post(WEIGH, form)
    assert "Mass of 170 g is outside 5 to 150 g. Is that right?" in words(answer.text)
    name, value = buttons(answer.text)["Yes, that is right"]
    assert 'href="#field-mass_g"' in answer.text
    assert paired_site.post(WEIGH, {**form, "mass_g": "171", name: value}).status_code == 400, (
        "another value asks again"
    )
    paired_site.send(WEIGH, {**form, name: value})
    assert paired_site.rows("SELECT count(*) FROM weighings WHERE mass_g = 170") == [(1,)]


def test_a_doubtful_comma_is_asked_about(paired_site: PairedSite) -> None:
    bottle, form = "/team/-/enter/record/bottle", {"key": new_id(), "fluid": "500,000", "density_g_cm3": "1,012"}
    name, value = asked(paired_site, bottle, form)["Yes, that is right"]
    paired_site.send(bottle, {**form, name: value})
    assert paired_site.rows("SELECT density_g_cm3 FROM bottles WHERE density_g_cm3 IS NOT NULL") == [(1.012,)]


def test_what_was_on_the_scale_is_asked_where_the_reading_does_not_say_it(paired_site: PairedSite) -> None:
    form = {"key": new_id(), "build": "rear-a", "mass_g": "30.1"}
    found = asked(paired_site, WEIGH, form)
    name, value = found["closed with bearings and crown gear"]
    paired_site.send(WEIGH, {**form, name: value})
    assert paired_site.rows("SELECT mass_basis FROM weighings WHERE mass_g = 30.1") == [
        ("closed with bearings and crown gear",)
    ]


def test_two_diffs_off_by_the_same_amount_are_asked_about(paired_site: PairedSite) -> None:
    paired_site.send(WEIGH, {"key": new_id(), "build": "rear-b", "mass_g": "22.80", "mass_basis": "closed"})
    form = {"key": new_id(), "build": "rear-a", "mass_g": "22.80", "mass_basis": "closed"}
    answer = paired_site.post(WEIGH, form)
    assert answer.status_code == 400
    assert "a lid or a tray may be on the scale" in words(answer.text)
    assert 'href="#field-mass_g">Weigh both again' in answer.text
    name, value = buttons(answer.text)["Keep the reading"]
    paired_site.send(WEIGH, {**form, name: value})
    assert paired_site.rows("SELECT count(*) FROM weighings WHERE mass_g = 22.8") == [(2,)]


def test_a_weighing_of_a_diff_that_is_apart_can_be_the_dry_mass_of_its_next_build(paired_site: PairedSite) -> None:
    paired_site.send("/team/-/enter/opening", {"key": new_id(), "build": "rear-a", "opened_on": "2026-04-20"})
    form = {"key": new_id(), "build": "rear-a", "mass_g": "12.41", "weighed_on": "2026-04-25"}
    name, value = asked(paired_site, WEIGH, form)["It is the dry mass of the next build (this writes that build)"]
    page = words(paired_site.send(WEIGH, {**form, name: value}))
    assert "Stored: added build rear-a/3" in page
    assert paired_site.rows("SELECT dry_mass_g FROM builds WHERE label = 'rear-a/3'") == [(12.41,)]


def test_a_diff_that_is_apart_can_have_been_closed_again_with_another_oil(paired_site: PairedSite) -> None:
    paired_site.send("/team/-/enter/opening", {"key": new_id(), "build": "front-a", "opened_on": "2026-04-20"})
    form = {"key": new_id(), "build": "front-a", "mass_g": "22.3", "weighed_on": "2026-04-25"}
    answer = paired_site.post(WEIGH, form)
    assert "was opened on 2026-04-20 and not built since" in words(answer.text)
    assert 'name="answer.fluid"' in answer.text
    assert 'href="#field-build"' in answer.text, "it may have been another diff"
    (closed_again,) = (sent for text, sent in buttons(answer.text).items() if text.startswith("It was closed again"))
    page = paired_site.send(WEIGH, {**form, closed_again[0]: closed_again[1], "answer.fluid": "10,000"})
    assert "Added build front-a/2: closed again" in words(page)
    assert paired_site.rows(
        "SELECT f.label FROM builds b JOIN fluids f ON f.id = b.fluid WHERE b.label = 'front-a/2'"
    ) == [("10,000",)]


def test_two_builds_of_a_day_are_told_apart_by_a_button(paired_site: PairedSite) -> None:
    build = "/team/-/enter/record/build"
    for fluid in ("7,000", "10,000"):
        paired_site.send(build, {"key": new_id(), "diff": "front-a", "built_on": "2026-05-02", "fluid": fluid})
    form = {"key": new_id(), "build": "front-a", "mass_g": "22.3", "weighed_on": "2026-05-02"}
    name, value = asked(paired_site, WEIGH, form)["The weighing is of front-a/2"]
    paired_site.send(WEIGH, {**form, name: value})
    assert paired_site.rows(
        "SELECT b.label FROM weighings w JOIN builds b ON b.id = w.build WHERE w.mass_g = 22.3"
    ) == [("front-a/2",)]


def test_an_equal_name_offers_that_record_and_another_one(paired_site: PairedSite) -> None:
    person = "/team/-/enter/record/person"
    form = {"key": new_id(), "name": "Ana"}
    answer = paired_site.post(person, form)
    assert answer.status_code == 400
    assert "Use that one: ana" in words(answer.text)
    assert f"/team/-/enter/record/person/{paired_site.team.ids['ana']}" in answer.text
    name, value = buttons(answer.text)["Store another one of that name"]
    paired_site.send(person, {**form, name: value})
    assert paired_site.rows("SELECT count(*) FROM people WHERE name = 'Ana'") == [(1,)]


def test_the_same_record_a_moment_later_is_stored_once_more_only_if_it_happened_twice(paired_site: PairedSite) -> None:
    form = {"build": "rear-a", "mass_g": "22.36"}
    paired_site.send(WEIGH, {"key": new_id(), **form})
    answer = paired_site.post(WEIGH, {"key": new_id(), **form})
    assert answer.status_code == 400
    name, value = buttons(answer.text)["Store it once more: it happened twice"]
    paired_site.send(WEIGH, {"key": new_id(), **form, name: value})
    assert paired_site.rows("SELECT count(*) FROM weighings WHERE mass_g = 22.36") == [(2,)]


def test_an_unknown_name_offers_those_that_are_spelt_alike_and_to_write_it_down(paired_site: PairedSite) -> None:
    answer = paired_site.post("/team/-/enter/idea", {"key": new_id(), "text": "a", "venue": "Tanery Hall"})
    page = unescape(answer.text)
    assert 'There is no venue named "Tanery Hall". Did you mean Tannery Hall?' in words(page)
    assert "/team/-/enter/record/venue?name=Tanery+Hall" in page
    assert page.index('value="Tannery Hall"') < page.index('value="Brickfield"')
    typed = "/team/-/enter/idea"
    paired_site.send(
        typed, {"key": new_id(), "text": "by its name", "venue.typed": "Brickfield", "venue": "Tannery Hall"}
    )
    assert paired_site.rows(
        "SELECT v.name FROM ideas i JOIN venues v ON v.id = i.venue WHERE i.text = 'by its name'"
    ) == [("Brickfield",)], "a typed name is meant before a button"


def test_a_question_that_begins_with_a_name_keeps_its_letters(paired_site: PairedSite) -> None:
    paired_site.send("/team/-/enter/opening", {"key": new_id(), "build": "rear-b", "reason": "routine"})
    answer = paired_site.post("/team/-/enter/weigh", {"key": new_id(), "build": "rear-b", "mass_g": "22.37"})
    assert answer.status_code == 400
    assert "rear-b was opened" in words(answer.text)
    assert "Rear-b" not in words(answer.text)
