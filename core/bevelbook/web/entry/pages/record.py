"""Any record that people write: a new one, or one that is corrected or removed."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.declare.errors import UnknownNameError, with_article
from bevelbook.records import Kind, kind_called
from bevelbook.store.record_names import title_of
from bevelbook.web.entry.given_texts import given_texts
from bevelbook.web.entry.record_answer import RecordPage, answer_new, answer_stored
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.fault_words import fault_words

WRITTEN_ELSEWHERE: Final = frozenset({"bench_job", "bench_step"})
"""Kinds that the bench writes as it goes."""


async def record(request: Any, datasette: Any) -> Any:
    """The form of a record of any kind; with an id, of the one that is stored."""
    from datasette.utils import tilde_decode

    asked = await entry_request(datasette, request)
    kind = _kind(tilde_decode(request.url_vars["kind"]))
    if request.url_vars["row"] is None:
        title = f"{with_article(kind.name.replace('_', ' '))}, new"
        shown = RecordPage(PAGE, kind, f"{title[:1].upper()}{title[1:]}")
        return await answer_new(asked, shown, typed=given_texts(asked, kind))
    row_id = await _row_id(asked, kind)
    named = await asked.page.ask(title_of, kind, row_id)
    shown = RecordPage(PAGE, kind, f"Correct {named or kind.name.replace('_', ' ')}", button="Store the correction")
    return await answer_stored(asked, shown, row_id)


def _kind(name: str) -> Kind:
    from datasette.utils.asgi import NotFound

    try:
        kind = kind_called(name)
    except UnknownNameError as fault:
        raise NotFound(fault_words(fault)) from fault
    if not kind.own or kind.name in WRITTEN_ELSEWHERE:
        raise NotFound(f"{kind.title} are not written by hand.")
    return kind


async def _row_id(asked: EntryRequest, kind: Kind) -> str:
    """The id of the stored record; of one that was removed while its form was open the id that the form was for."""
    from datasette.utils import tilde_decode
    from datasette.utils.asgi import NotFound

    try:
        return await asked.page.row_id(kind.name)
    except NotFound:
        if asked.is_sent:
            return str(tilde_decode(asked.page.request.url_vars["row"]))
        raise


PAGE: Final = EntryPage("record", record, r"/(?P<kind>[^/]+)(/(?P<row>[^/]+))?")
