"""Pairing a phone: with the code that the laptop shows, or again with the phone's own code."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, InputError, Place
from bevelbook.records import BY_NAME
from bevelbook.saving.record import WantedRecord, read_wanted, save
from bevelbook.store.ids import new_id
from bevelbook.web.entry.entry_fields import MOST_BUTTONS, EntryField
from bevelbook.web.entry.people import as_recorded, people_of, usable_name
from bevelbook.web.entry.request import EntryRequest
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import EntryPage
from bevelbook.web.host.phone_of_request import cookie_of, phone_in
from bevelbook.web.pairing.pairings_file import PairedPhone, Phone
from bevelbook.web.pairing.who_may_write import WhoMayWrite
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.typed_form import TypedForm, typed_form

OWN_CODE: Final = "own_code"
_STATUS: Final = {"pairing_code_wrong": 403, "own_code_unknown": 403, "pairing_codes_wait": 429}


class WantedPairing(NamedTuple):
    """What a phone is to be called, who holds it, and whether that person is not recorded yet."""

    name: str
    person: str
    is_new: bool


async def pair(request: Any, datasette: Any) -> Any:
    """The form, and what it does; a page that is only opened uses no code up."""
    page = await page_request(datasette, request)
    entry = state_of(datasette).entry
    assert entry is not None, "without entry this page has no address"
    form = await typed_form(request)
    phone = phone_in(request)
    people = await page.ask(people_of)
    if phone is not None:
        return await _paired_already(page, phone)
    if request.method != "POST":
        return await _form(page, entry, form, people)
    try:
        if form.text(OWN_CODE):
            return _known_again(page, entry, form)
        entry.codes.check(form.text("code"), _device(page))
        wanted = _wanted(entry, form, people)
        paired = entry.phones.add(wanted.name, wanted.person)
        entry.codes.use(f"{wanted.name}, held by {wanted.person}")
    except InputError as fault:
        return await _form(page, entry, form, people, fault)
    return await _paired(page, entry, form, paired, wanted)


def _wanted(entry: WhoMayWrite, form: TypedForm, people: list[str]) -> WantedPairing:
    """Raises InputError with the field as place."""
    typed = form.text("new_person")
    person = usable_name(
        typed or form.text("person"), "new_person" if typed or not people else "person", "Who holds it"
    )
    known = as_recorded(person, people)
    if known is None and not typed:
        raise InputError(
            "this person is not recorded any more",
            code="pairing_name",
            place=Place(field="person"),
            remedy="Choose one of those shown, or type a name.",
        )
    name = usable_name(form.text("phone") or _next_name(entry), "phone", "The name of the phone")
    return WantedPairing(name, known or person, known is None)


def _next_name(entry: WhoMayWrite) -> str:
    taken = {phone.name for phone in entry.phones.all()}
    return next(name for number in range(1, len(taken) + 2) if (name := f"phone {number}") not in taken)


def _known_again(page: PageRequest, entry: WhoMayWrite, form: TypedForm) -> Any:
    """The way home with the cookie of a phone that has its own code. Raises InputError where nobody has it.

    The right one waits for the wrong codes of its own device alone: it is too long to be guessed.
    """
    from datasette.utils.asgi import Response

    device = _device(page)
    entry.codes.wait_if_it_was_wrong(device)
    phone = entry.phones.with_own_code(form.text(OWN_CODE))
    if phone is None:
        entry.codes.wait_if_many_were_wrong(device)
        entry.codes.count_wrong(device)
        raise InputError(
            "this phone was paired once and is not any more",
            code="own_code_unknown",
            remedy="Pair it with the code that the laptop shows.",
        )
    answer = Response.redirect(page.datasette.urls.instance(), status=303)
    answer.headers["set-cookie"] = cookie_of(page.datasette, entry, phone)
    return answer


def _device(page: PageRequest) -> str:
    """The address of the device that asks; empty where the server does not know it."""
    client = page.request.scope.get("client")
    return str(client[0]) if client else ""


async def _paired(
    page: PageRequest, entry: WhoMayWrite, form: TypedForm, paired: PairedPhone, wanted: WantedPairing
) -> Any:
    """The page after pairing, with the phone's own code for its script; a new person is recorded."""
    fault = await _record_person(page, form, paired.phone) if wanted.is_new else ""
    answer = await page.render(
        PAGE,
        "Paired",
        phone=paired.phone,
        own_code=paired.own_code,
        kept=entry.phones.cookie,
        fault=fault,
        person=paired.phone.person,
    )
    answer.headers["set-cookie"] = cookie_of(page.datasette, entry, paired.phone)
    return answer


async def _record_person(page: PageRequest, form: TypedForm, phone: Phone) -> str:
    """Record who holds the phone, as an entry of that person; what stopped it, or nothing."""

    def act(connection: sqlite3.Connection) -> None:
        wanted = WantedRecord(BY_NAME["person"], {"name": phone.person})
        save(connection, page.registry, read_wanted(connection, wanted, phone.person), phone.person)

    try:
        asked = EntryRequest(page, phone.person, form, phone, new_id())
        await asked.write(act, asked="from the browser: a phone was paired")
    except BevelbookError as fault:
        return f"{phone.person} is not among the people of the book yet. {fault_words(fault)}"
    return ""


async def _paired_already(page: PageRequest, phone: Phone) -> Any:
    return await page.render(PAGE, "Paired", phone=phone, person=phone.person)


async def _form(
    page: PageRequest, entry: WhoMayWrite, form: TypedForm, people: list[str], fault: InputError | None = None
) -> Any:
    where = fault.place.field if fault else None
    if fault is not None and fault.code == "pairing_code_wrong":
        where = "code"
    words = fault_words(fault)

    def field(name: str, label: str, **more: Any) -> EntryField:
        given = {"about": "", "kind": "text", "unit": "", "drawn": "text", **more}
        return EntryField(name, label, typed=form.text(name), fault=words if name == where else "", **given)

    fields = [
        field("code", "Code", keypad="numeric", drawn="number", about="eight digits, on the laptop"),
        *_who(field, people),
        field("phone", "Call this phone", greyed=_next_name(entry), about="so that you know it in the list of phones"),
    ]
    answer = await page.render(
        PAGE,
        "Pair this phone",
        fields=fields,
        sentence="" if where else words,
        is_first_look=fault is None,
        forget=fault is not None and fault.code == "own_code_unknown",
        kept=entry.phones.cookie,
        key=new_id(),
    )
    answer.status = 200 if fault is None else _STATUS.get(fault.code, 400)
    return answer


def _who(field: Any, people: list[str]) -> list[EntryField]:
    """Who holds the phone: one of the recorded people, or a new name."""
    if not people:
        return [field("new_person", "Who holds it", about="what is stored has this name")]
    named = tuple((name, name) for name in people)
    drawn = "choices" if len(people) <= MOST_BUTTONS else "list"
    return [
        field("person", "Who holds it", choices=named, drawn=drawn, about="what is stored has this name"),
        field("new_person", "Or a new name"),
    ]


PAGE: Final = EntryPage("pair", pair)
