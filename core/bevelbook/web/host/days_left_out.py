"""The pages of an edition without days: no numbered day on them is read as a real one.

What stands for a day has the form of a day, and comes to a page from columns, sentences, charts and plugins alike. So
it is put into other words at one place, where a page goes out; addresses in it stay.
"""

from __future__ import annotations

from typing import Any, Final

from bevelbook.display.days import said_for_later
from bevelbook.display.quarters import page_in_quarters
from bevelbook.web.host.addresses import database_at
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.policy import App, Message, Receive, Send

_NO_RECORDS: Final = frozenset({"help", "reference", "calculators"})
"""Pages on which a day is of no record."""


def saying_quarters(app: App, datasette: Any) -> App:
    """The application with pages of an edition without days put into words of quarters."""

    async def answered(scope: Message, receive: Receive, send: Send) -> None:
        if scope["type"] != "http" or not _is_without_days(datasette, scope["path"]):
            await app(scope, receive, send)
            return
        held: list[Message] = []
        body: list[bytes] = []

        async def put_into_words(message: Message) -> None:
            if message["type"] == "http.response.start":
                if _is_page(message):
                    held.append(message)
                else:
                    await send(message)
                return
            if not held:
                await send(message)
                return
            body.append(message.get("body", b""))
            if not message.get("more_body", False):
                page = page_in_quarters(b"".join(body).decode()).encode()
                kept = [one for one in held[0].get("headers", []) if one[0].lower() != b"content-length"]
                await send({**held[0], "headers": [*kept, (b"content-length", str(len(page)).encode())]})
                await send({"type": "http.response.body", "body": page})

        with said_for_later():
            await app(scope, receive, put_into_words)

    return answered


def _is_page(start: Message) -> bool:
    return any(
        name.lower() == b"content-type" and value.startswith(b"text/html") for name, value in start.get("headers", [])
    )


def _is_without_days(datasette: Any, path: str) -> bool:
    """Whether all that a page shows is of editions without days. Where it is of several books, of which some have real
    days, the page itself puts into words what is of those that have none."""
    state = state_of(datasette)
    asked = database_at(datasette, path)
    if any(f"/-/{name}" in path for name in _NO_RECORDS):
        return False
    if asked is not None:
        return state.is_without_days(asked)
    shown = [name for name, one in datasette.databases.items() if not one.is_memory]
    return bool(shown) and all(map(state.is_without_days, shown))
