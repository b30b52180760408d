"""An answer that is long to draw lets others be answered in between.

Datasette draws a page in the one loop that answers everybody. A page of many cells gives the loop back every few
hundredths of a second; so no page waits for the whole of another.
"""

from __future__ import annotations

from asyncio import sleep
from collections.abc import Awaitable
from inspect import isawaitable
from time import monotonic
from typing import Any, Final

LONGEST_S: Final = 0.02
_GIVEN_BACK: Final = {"at": 0.0}


def is_due() -> bool:
    """Whether the loop was last given back so long ago that it is somebody else's turn."""
    return monotonic() - _GIVEN_BACK["at"] > LONGEST_S


async def let_others() -> str:
    """Give the loop back if that is due; empty, so that a template may call it."""
    if is_due():
        await sleep(0)
        _GIVEN_BACK["at"] = monotonic()
    return ""


async def after_others(made: Awaitable[Any] | Any) -> Any:
    """What was made already, or is awaited, once others had their turn."""
    await let_others()
    return await made if isawaitable(made) else made
