"""The scale that speaks: what it said last, for the script that puts it beside the fields for a mass."""

from __future__ import annotations

import time
from typing import Any, Final

from bevelbook.scale_port.last_reading import PanReading, SaidLast
from bevelbook.web.entry.request import entry_request
from bevelbook.web.host.arguments import whole
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import EntryPage

HELD_S: Final = 25.0
"""The answer comes when there is news, at the latest after so long."""
MOST_DIGITS: Final = 18
"""Digits of a number that a page knows."""


async def scale(request: Any, datasette: Any) -> Any:
    """What the scale said last, as JSON, as soon as it is other than the number in ``known``."""
    from datasette.utils.asgi import NotFound, Response

    asked = await entry_request(datasette, request)
    listening = state_of(datasette).scale
    if listening is None or asked.is_sent:
        raise NotFound("There is no such page.")
    known = request.args.get("known") or ""
    said = (
        await listening.news(int(known), HELD_S)
        if known.isascii() and known.isdigit() and len(known) <= MOST_DIGITS
        else listening.said
    )
    return Response.json(_shown(said), headers={"cache-control": "no-store"})


def _shown(said: SaidLast) -> dict[str, Any]:
    line = None if said.line is None else {"text": said.line.text, "why": said.line.why}
    reading = None if said.reading is None else _reading_shown(said.reading)
    return {"number": said.number, "trouble": said.trouble, "reading": reading, "line": line}


def _reading_shown(reading: PanReading) -> dict[str, Any]:
    """``digits`` is the number in g as it is written into a field; ``age_s`` is how long ago it came."""
    return {
        "mass_g": reading.mass_g,
        "digits": reading.digits,
        "is_steady": reading.is_steady,
        "weighed_as": reading.weighed_as,
        "age_s": round(time.monotonic() - reading.came_at, 1),
    }


PAGE: Final = EntryPage("scale", scale, takes=(whole("known", 0, 10**MOST_DIGITS - 1),))
