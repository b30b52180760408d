"""The pages of an edition without days: no numbered day on them is read as a real one.

What stands for a day has the form of a day, and comes to a page from columns, sentences, charts and plugins alike. So
it is put into other words at one place, where a page goes out; addresses in it stay.
"""

from __future__ import annotations

import re
from typing import Any, Final

from bevelbook.display.days import said_for_later
from bevelbook.display.quarters import in_quarters
from bevelbook.web.host.addresses import database_at
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.policy import App, Message, Receive, Send

_PIECES: Final = re.compile(
    r"(<(?:script|style|time|pre)\b.*?</(?:script|style|time|pre)\s*>|<[^>]*>)", re.IGNORECASE | re.DOTALL
)
"""What of a page is not text, and text in which a day is a real one: ``<time>``."""
_SAID: Final = re.compile(r'(\s(?:title|alt|aria-label|aria-description)=")([^"]*)"', re.IGNORECASE)
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


def page_in_quarters(html: str) -> str:
    """A page in which each numbered day is read as one of its quarter.

    >>> page_in_quarters('<a href="/day/2026-04-04" title="2026-04-04">4 Apr 2026</a> <time>27 Nov 2026</time>')
    '<a href="/day/2026-04-04" title="2026-Q2-04">2026-Q2-04</a> <time>27 Nov 2026</time>'
    """
    pieces = _PIECES.split(html)
    pieces[0::2] = map(in_quarters, pieces[0::2])
    pieces[1::2] = (_SAID.sub(lambda found: f'{found[1]}{in_quarters(found[2])}"', one) for one in pieces[1::2])
    return "".join(pieces)


def _is_page(start: Message) -> bool:
    return any(
        name.lower() == b"content-type" and value.startswith(b"text/html") for name, value in start.get("headers", [])
    )


def _is_without_days(datasette: Any, path: str) -> bool:
    state = state_of(datasette)
    names = state.names(datasette)
    asked = database_at(datasette, path)
    if any(f"/-/{name}" in path for name in _NO_RECORDS):
        return False
    return any(state.is_without_days(name) for name in names if asked in (None, name))
