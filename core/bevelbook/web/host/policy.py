"""The content security policy: nothing is fetched from elsewhere, and no script runs but files of this server.

Datasette's own pages hold a few inline scripts. Their hashes are computed from the installed templates, so that they
go on working after an update; the pages of bevelbook hold none.
"""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Awaitable, Callable, MutableMapping
from functools import cache
from hashlib import sha256
from typing import Any, Final

from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.private_datasette import template_texts

Message = MutableMapping[str, Any]
Send = Callable[[Message], Awaitable[None]]
App = Callable[[Message, Callable[[], Awaitable[Message]], Send], Awaitable[None]]

_INLINE: Final = re.compile(r"<script>(.*?)</script>", re.DOTALL)
_FILLED_IN: Final = {"{{ datasette_allow_facet }}": ("true", "false")}
"""Expressions inside Datasette's inline scripts, each with the texts that it can become."""


@cache
def policy() -> str:
    """The value of the header."""
    return "; ".join(
        (
            "default-src 'none'",
            "img-src 'self' data:",
            "connect-src 'self'",
            "form-action 'self'",
            "frame-ancestors 'none'",
            "base-uri 'none'",
            " ".join(("script-src 'self'", *sorted(f"'{one}'" for one in inline_hashes()))),
            "style-src 'self' 'unsafe-inline'",
        )
    )


def inline_hashes() -> set[str]:
    """The hashes of Datasette's inline scripts, as a policy names them."""
    return {
        f"sha256-{b64encode(sha256(script.encode()).digest()).decode()}"
        for text in template_texts()
        for found in _INLINE.findall(text)
        for script in _filled_in(found)
    }


def _filled_in(script: str) -> list[str]:
    filled = [script]
    for expression, texts in _FILLED_IN.items():
        filled = [one.replace(expression, text) for one in filled for text in texts]
    return [one for one in dict.fromkeys(filled) if "{{" not in one and "{%" not in one]


def wrapped(app: App, datasette: Any) -> App:
    """The application with the policy on every answer, where it has a bevelbook database.

    Before each answer the databases that were written to say again whether they are invented.
    """

    async def with_policy(scope: Message, receive: Callable[[], Awaitable[Message]], send: Send) -> None:
        if scope["type"] != "http" or not state_of(datasette).names(datasette):
            await app(scope, receive, send)
            return
        state_of(datasette).look_again(datasette)

        async def send_with_policy(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = [
                    (name, value)
                    for name, value in message.get("headers", [])
                    if name.lower() not in (b"content-security-policy", b"x-content-type-options")
                ]
                headers += [
                    (b"content-security-policy", policy().encode()),
                    (b"x-content-type-options", b"nosniff"),
                ]
                message = {**message, "headers": headers}
            await send(message)

        await app(scope, receive, send_with_policy)

    return with_policy
