"""The paired phone behind a request: found once by its signed cookie, before Datasette asks who it is."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.pairing.host_names import as_address
from bevelbook.web.pairing.pairings_file import Phone
from bevelbook.web.pairing.who_may_write import WhoMayWrite

PHONE_IN_SCOPE: Final = "bevelbook_phone"
_NAMESPACE: Final = "bevelbook-phone"
_LASTS_SECONDS: Final = 400 * 24 * 3600
"""The longest that browsers keep a cookie; each save makes it new."""


def phone_by_cookie(datasette: Any, request: Any) -> Phone | None:
    """The phone whose cookie a request has, unless its pairing was ended. Raises DatabaseError."""
    from itsdangerous import BadSignature

    entry = state_of(datasette).entry
    cookie = request.cookies.get(entry.phones.cookie) if entry else None
    if entry is None or not cookie:
        return None
    try:
        held = datasette.unsign(cookie, _NAMESPACE)
    except BadSignature:
        return None
    phone = entry.phones.find(str(held.get("phone"))) if isinstance(held, dict) else None
    if phone is not None:
        client = request.scope.get("client")
        bare = as_address(str(client[0])) if client else None
        is_here = bare is not None and bare.is_loopback
        entry.phones.seen(phone, f"{request.scheme}://{request.host}", is_here=is_here)
    return phone


def cookie_of(datasette: Any, entry: WhoMayWrite, phone: Phone) -> str:
    """The header that has a browser keep a phone's cookie. It holds the phone's id alone.

    SameSite=Lax and not Strict, so that a link from a chat opens a page on which the phone is known; a form of another
    site sends no Lax cookie either.
    """
    return _cookie_header(datasette, entry, datasette.sign({"phone": phone.id}, _NAMESPACE), _LASTS_SECONDS)


def ended_cookie(datasette: Any, entry: WhoMayWrite) -> str:
    """The header that has a browser drop it."""
    return _cookie_header(datasette, entry, "", 0)


def phone_in(request: Any) -> Phone | None:
    """The paired phone of a request; None where it is of another device, or nobody can write here."""
    found: Phone | None = request.scope.get(PHONE_IN_SCOPE)
    return found


def actor_of(request: Any) -> dict[str, str] | None:
    """The paired phone as Datasette knows a person."""
    phone = phone_in(request)
    return None if phone is None else {"id": f"phone:{phone.id}", "name": phone.person, "phone": phone.name}


def _cookie_header(datasette: Any, entry: WhoMayWrite, value: str, seconds: int) -> str:
    path = datasette.setting("base_url")
    return f"{entry.phones.cookie}={value}; Path={path}; Max-Age={seconds}; HttpOnly; SameSite=Lax"
