"""A diff opened, and what was found."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.records import BY_NAME
from bevelbook.web.entry.given_texts import given_texts, takes_of
from bevelbook.web.entry.record_answer import RecordPage, answer_new
from bevelbook.web.entry.request import entry_request
from bevelbook.web.host.page import EntryPage

_OPENING: Final = BY_NAME["opening"]


async def opening(request: Any, datasette: Any) -> Any:
    """The form of an opening, with the diff chosen that the address names."""
    asked = await entry_request(datasette, request)
    shown = RecordPage(PAGE, _OPENING, "A diff opened")
    return await answer_new(asked, shown, typed=given_texts(asked, _OPENING))


PAGE: Final = EntryPage("opening", opening, takes=takes_of(_OPENING))
