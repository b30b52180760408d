"""Two bottles compared: which of them is thicker."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.records import BY_NAME
from bevelbook.web.entry.given_texts import given_texts, takes_of
from bevelbook.web.entry.record_answer import RecordPage, answer_new
from bevelbook.web.entry.request import entry_request
from bevelbook.web.host.page import EntryPage

_COMPARISON: Final = BY_NAME["fluid_comparison"]


async def comparison(request: Any, datasette: Any) -> Any:
    """The form of a comparison of two bottles."""
    asked = await entry_request(datasette, request)
    lines = ("Equal tests, at one temperature: the one that takes longer is the thicker.",)
    shown = RecordPage(PAGE, _COMPARISON, "Two oils compared", lines=lines)
    return await answer_new(asked, shown, typed=given_texts(asked, _COMPARISON))


PAGE: Final = EntryPage("comparison", comparison, takes=takes_of(_COMPARISON))
