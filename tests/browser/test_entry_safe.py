"""Who may write from a browser, what becomes of hostile text, and two phones at one record."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from entry_phone import Book, TouchPhone

pytestmark = pytest.mark.browser

Phones = Callable[..., TouchPhone]
HOSTILE = "<script>document.title='owned'</script><img src=x onerror=\"document.title='owned'\"> {{7*7}} '; --"
OPEN_ALL = "document.querySelectorAll('main details').forEach((fold) => { fold.open = true; })"
SEND = """async ([address, fields]) => {
    const answer = await fetch(address, {method: "POST", body: new URLSearchParams(fields)});
    return [answer.status, await answer.text()];
}"""


def test_a_phone_that_is_not_paired_reads_and_writes_nothing(book: Book, phones: Phones) -> None:
    stranger = phones()
    stranger.to_home()
    assert "rear-a" in stranger.words()
    status, said = stranger.page.evaluate(SEND, [f"{book.address}/-/enter/idea", {"text": "from a stranger"}])
    assert status == 403
    assert "not paired" in said
    assert book.rows("SELECT text FROM ideas") == []


def test_a_form_without_the_token_of_its_page_is_refused(book: Book, phones: Phones) -> None:
    phone = phones().paired()
    for fields in ({"text": "no token"}, {"text": "wrong token", "csrftoken": "made up"}):
        status, said = phone.page.evaluate(SEND, [f"{book.address}/-/enter/idea", fields])
        assert status == 403
        assert "nothing was stored" in said
    assert book.rows("SELECT text FROM ideas") == []


@pytest.mark.parametrize(
    ("page", "button", "refused"),
    [("record/run", "Store it", [400]), ("record/build", "Store it", [400]), ("run", "Store the run", [409, 400])],
)
def test_hostile_text_in_every_field_comes_back_as_text(
    phones: Phones, page: str, button: str, refused: list[int]
) -> None:
    """A form that may wait is handed over by its script, which then opens the page of what is asked."""
    phone = phones().paired().to(f"-/enter/{page}")
    typed = _type_in_every_field(phone)
    phone.tap(button)
    phone.page.locator("main [role=alert], main [aria-invalid=true]").first.wait_for()
    assert phone.refused == refused
    assert phone.page.title() != "owned"
    assert phone.page.locator("main img, main script").count() == 0
    form = phone.page.locator("main form.entry-form").first
    assert {name: form.locator(f"[name='{name}']").input_value() for name in typed} == typed


def test_hostile_text_that_is_stored_is_shown_as_text(book: Book, phones: Phones) -> None:
    phone = phones().paired().to("-/enter/record/venue")
    phone.page.evaluate(OPEN_ALL)
    for name in ("name", "note"):
        phone.page.locator(f"main [name={name}]").fill(HOSTILE)
    phone.tap("Store it")
    assert HOSTILE[:40] in phone.stored()
    assert book.rows("SELECT name, note FROM venues WHERE name <> 'Lantern Hall'") == [(HOSTILE, HOSTILE)]
    phone.to_home()
    assert HOSTILE[:40] in phone.words()
    assert phone.page.title() != "owned"
    assert phone.page.locator("main img, main script").count() == 0


def _type_in_every_field(phone: TouchPhone) -> dict[str, str]:
    """Type hostile text wherever words can be typed; the texts by the names of their fields.

    What is typed of each diff's minutes is drawn once where it is the same, so these are left alone.
    """
    phone.page.evaluate(OPEN_ALL)
    words = ":is(input:not([type], [name$=_after_s]), textarea)"
    fields = phone.page.locator("main form.entry-form").first.locator(words).all()
    for field in fields:
        field.fill(HOSTILE)
    return {str(field.get_attribute("name")): HOSTILE for field in fields}


def test_two_phones_that_change_one_record_keep_both_and_ask_where_it_is_the_same_field(
    book: Book, phones: Phones
) -> None:
    ana, ben = phones().paired("ana"), phones().paired("ben")
    for phone in (ana, ben):
        phone.to("-/enter/record/build/rear-a~2F2")
    ana.page.get_by_label("Closed mass", exact=True).fill("22.42")
    ana.tap("Store the correction")
    ben.page.get_by_label("Closed mass", exact=True).fill("22.41")
    ben.tap("Store the correction")
    said = ben.words()
    assert "22.42" in said and "22.41" in said and "ana" in said
    assert book.rows("SELECT closed_mass_g FROM builds WHERE label = 'rear-a/2'") == [(22.42,)]
    ben.tap("22.41")
    assert book.rows("SELECT closed_mass_g FROM builds WHERE label = 'rear-a/2'") == [(22.41,)]


def test_without_a_script_a_weighing_is_stored_and_taken_back(book: Book, phones: Phones) -> None:
    phone = phones(script=False).paired().to("-/enter/weigh?build=rear-a")
    phone.page.get_by_label("Mass", exact=True).fill("22.31")
    phone.page.get_by_role("button", name="Store it").click()
    phone.page.get_by_text("Stored:").wait_for()
    assert book.rows("SELECT mass_g FROM weighings") == [(22.31,)]
    phone.page.get_by_role("button", name="Take it back").click()
    phone.page.get_by_role("heading", name="Taken back").wait_for()
    assert book.rows("SELECT mass_g FROM weighings") == []
