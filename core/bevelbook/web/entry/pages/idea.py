"""An idea noted: something to try."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.records import BY_NAME
from bevelbook.web.entry.given_texts import given_texts, takes_of
from bevelbook.web.entry.record_answer import RecordPage, answer_new
from bevelbook.web.entry.request import entry_request
from bevelbook.web.host.page import EntryPage

_IDEA: Final = BY_NAME["idea"]


async def idea(request: Any, datasette: Any) -> Any:
    """The form of an idea."""
    asked = await entry_request(datasette, request)
    return await answer_new(asked, RecordPage(PAGE, _IDEA, "An idea"), typed=given_texts(asked, _IDEA), waits="idea")


PAGE: Final = EntryPage("idea", idea, takes=takes_of(_IDEA))
