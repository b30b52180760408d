"""This phone: who holds it now, and the end of its pairing."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.declare.errors import InputError
from bevelbook.web.entry.people import as_recorded, people_of
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import EntryPage
from bevelbook.web.host.phone_of_request import ended_cookie
from bevelbook.web.pairing.who_may_write import WhoMayWrite
from bevelbook.web.shared.fault_words import fault_words


async def phone(request: Any, datasette: Any) -> Any:
    """The page; one tap gives the phone to another person, another ends its pairing."""
    from datasette.utils.asgi import Response

    asked = await entry_request(datasette, request)
    entry = state_of(datasette).entry
    assert entry is not None, "without entry this page has no address"
    people = await asked.page.ask(people_of)
    fault = ""
    if asked.is_sent and asked.form.text("end"):
        entry.phones.end(asked.phone)
        answer = await _page(asked, entry, people, has_ended=True)
        answer.headers["set-cookie"] = ended_cookie(datasette, entry)
        return answer
    if asked.is_sent:
        try:
            entry.phones.give_to(asked.phone, _person(asked, people))
            return Response.redirect(asked.page.links.page(PAGE.address), status=303)
        except InputError as stopped:
            fault = fault_words(stopped)
    return await _page(asked, entry, people, fault=fault)


def _person(asked: EntryRequest, people: list[str]) -> str:
    """The recorded person who was touched. Raises InputError for any other name."""
    known = as_recorded(asked.form.text("person"), people)
    if known is None:
        raise InputError(
            "there is nobody of that name among the people of the book",
            code="pairing_name",
            found=asked.form.text("person"),
            remedy="Choose one of those shown; the phone stays with who holds it.",
        )
    return known


async def _page(
    asked: EntryRequest, entry: WhoMayWrite, people: list[str], *, fault: str = "", has_ended: bool = False
) -> Any:
    return await asked.render(
        PAGE,
        "This phone",
        status=400 if fault else 200,
        phone=asked.phone,
        people=[name for name in people if name != asked.person],
        fault=fault,
        has_ended=has_ended,
        kept=entry.phones.cookie,
    )


PAGE: Final = EntryPage("phone", phone)
