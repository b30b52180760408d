"""A diff weighed: which one, and the reading."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.records import BY_NAME
from bevelbook.web.entry.given_texts import given_texts, takes_of
from bevelbook.web.entry.record_answer import RecordPage, answer_new
from bevelbook.web.entry.request import entry_request
from bevelbook.web.host.page import EntryPage

_WEIGHING: Final = BY_NAME["weighing"]


async def weigh(request: Any, datasette: Any) -> Any:
    """The form of a weighing, with the diff chosen that the address names."""
    asked = await entry_request(datasette, request)
    typed = given_texts(asked, _WEIGHING)
    seen_first = ("build", "mass_g") if "build" not in typed else ("mass_g", "build")
    shown = RecordPage(PAGE, _WEIGHING, "Weigh a diff", seen_first, figure="mass_g")
    return await answer_new(asked, shown, typed=typed, waits="weighing")


PAGE: Final = EntryPage("weigh", weigh, takes=takes_of(_WEIGHING))
