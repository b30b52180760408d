"""A request may name a whole address in place of a path: it is answered by its path, for the host in that address.

So RFC 9112 has it (section 3.2.2). Without it Datasette takes the address for a path, and sends a browser on to it.
"""

from __future__ import annotations

import re
from typing import Final
from urllib.parse import unquote

from bevelbook.web.host.policy import App, Message, Receive, Send

_WHOLE: Final = re.compile(rb"https?://([^/?#]+)([^?#]*)", re.IGNORECASE)


def by_their_paths(app: App) -> App:
    """The application, asked by paths alone: each begins with a slash."""

    async def answer(scope: Message, receive: Receive, send: Send) -> None:
        await app(_by_its_path(scope) if scope["type"] == "http" else scope, receive, send)

    return answer


def _by_its_path(scope: Message) -> Message:
    target: bytes = scope.get("raw_path") or scope["path"].encode()
    if target.startswith(b"/"):
        return scope
    headers = scope["headers"]
    whole = _WHOLE.match(target)
    if whole is not None:
        headers = [(b"host", whole[1]), *(one for one in headers if one[0].lower() != b"host")]
        target = whole[2]
    raw = target if target.startswith(b"/") else b"/" + target
    return {**scope, "path": unquote(raw.decode("latin-1")), "raw_path": raw, "headers": headers}
