"""Which methods are answered at an address: pages are read, those that write take a form as well, and that is all."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.web.host.addresses import Owner, entry_page_at, owner_of
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.errors import fault_page
from bevelbook.web.host.odd_requests import METHOD
from bevelbook.web.host.policy import App, Message, Receive, Send
from bevelbook.web.host.private_datasette import Base400, Request

_ASKING: Final = frozenset({"GET", "HEAD", "OPTIONS"})
_OF_OTHERS: Final = _ASKING | {"POST", "PUT", "PATCH", "DELETE"}


class MethodNotAnswered(Base400):  # type: ignore[misc]
    """The fault of a request by a method that nothing answers there."""

    status = 405


def by_their_methods(app: App, datasette: Any) -> App:
    """The application, asked by those methods alone that may be answered at an address."""

    async def answer(scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or scope["method"] in _ASKING or not state_of(datasette).names(datasette):
            await app(scope, receive, send)
            return
        if scope["method"] in _answered_at(datasette, scope["path"]):
            await app(scope, receive, send)
            return
        refused = fault_page(datasette, Request(scope, receive), MethodNotAnswered(METHOD))
        if refused is None:
            await app(scope, receive, send)
            return
        await (await refused).asgi_send(send)

    return answer


def _answered_at(datasette: Any, path: str) -> frozenset[str]:
    if entry_page_at(datasette, path) is not None:
        return _ASKING | {"POST"}
    owner = owner_of(datasette, path)
    if owner is Owner.OURS:
        return _ASKING
    return _ASKING | {"POST"} if owner is Owner.DATASETTE else _OF_OTHERS
