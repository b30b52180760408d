"""An answer that sends a browser on sends it to this server alone, however the address that was asked for began."""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Final

_OTHER_HOST: Final = re.compile(rb"[\x00-\x20]*[/\\][\x00-\x20/\\]+")
"""How a path begins that a browser reads as the name of another host: it takes a backslash for a slash."""


def staying_here(headers: Iterable[tuple[bytes, bytes]]) -> list[tuple[bytes, bytes]]:
    r"""The headers of an answer, with one slash at the beginning of a path to go on at.

    >>> staying_here([(b"location", rb"/\elsewhere.example"), (b"location", b"/team"), (b"etag", b"//")])
    [(b'location', b'/elsewhere.example'), (b'location', b'/team'), (b'etag', b'//')]
    """
    return [
        (name, _OTHER_HOST.sub(b"/", value, count=1) if _goes_on(name, value) else value) for name, value in headers
    ]


def _goes_on(name: bytes, value: bytes) -> bool:
    return name.lower() == b"location" and _OTHER_HOST.match(value) is not None
