"""An address as a QR code for a terminal, with the extra ``labels``."""

from __future__ import annotations

from importlib.util import find_spec
from io import StringIO
from typing import Final

INSTALL: Final = "pip install 'bevelbook[labels]'"
WHITE_ON_BLACK: Final = "\x1b[97;40m"
AS_BEFORE: Final = "\x1b[0m"


def can_draw() -> bool:
    """Whether the library is there."""
    return find_spec("segno") is not None


def drawn(address: str) -> str:
    """The code in half blocks, light on a dark ground, whatever the colours of the terminal are."""
    import segno

    out = StringIO()
    segno.make_qr(address, error="l").terminal(out, border=2, compact=True)
    return "\n".join(f"{WHITE_ON_BLACK}{line}{AS_BEFORE}" for line in out.getvalue().splitlines())
