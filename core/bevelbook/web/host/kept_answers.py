"""Answers that a browser keeps: pictures, which go by their content.

Datasette says of every answer to a browser with a cookie, and so to each paired phone, that it may not be kept. What is
the same for whoever asks says here that it may, after Datasette.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Final

from bevelbook.web.host.policy import App, Message, Receive, Send

FOR_EVER: Final = "private, max-age=31536000, immutable"
"""What is at its address never changes. Only the browser that asked keeps it, and nothing between."""
_IN_SCOPE: Final = "bevelbook_kept"
_SAID_OF_KEEPING: Final = (b"cache-control", b"vary")


@dataclass
class _Keeping:
    is_for_ever: bool = False


def keep_for_ever(request: Any) -> dict[str, str]:
    """Let the browser keep the answer to this request for good; the headers that say so where nothing is behind us."""
    keeping = request.scope.get(_IN_SCOPE)
    if keeping is not None:
        keeping.is_for_ever = True
    return {"cache-control": FOR_EVER}


def letting_keep(app: App) -> App:
    """The application, whose answers are kept where it was said so and they set no cookie."""

    async def with_keeping(scope: Message, receive: Receive, send: Send) -> None:
        keeping = _Keeping()

        async def sending(message: Message) -> None:
            if keeping.is_for_ever and message["type"] == "http.response.start":
                headers = list(message.get("headers", []))
                if not any(name.lower() == b"set-cookie" for name, _ in headers):
                    headers = [one for one in headers if one[0].lower() not in _SAID_OF_KEEPING]
                    message = {**message, "headers": [*headers, (b"cache-control", FOR_EVER.encode())]}
            await send(message)

        await app({**scope, _IN_SCOPE: keeping}, receive, sending)

    return with_keeping
