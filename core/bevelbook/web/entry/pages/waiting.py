"""What waits on this phone: for its script which entries are stored and a fresh token, for a person the page that the
script lists them on."""

from __future__ import annotations

import sqlite3
from collections.abc import Sequence
from typing import Any, Final

from bevelbook.store.ids import now_utc
from bevelbook.web.entry.request import entry_request
from bevelbook.web.host.answers_to_scripts import wants_answer
from bevelbook.web.host.arguments import any_text
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import EntryPage
from bevelbook.web.host.private_datasette import BadRequest, form_token

MOST_KEYS: Final = 200


async def waiting(request: Any, datasette: Any) -> Any:
    """Which of the entries named by ``keys`` are stored, or the page."""
    from datasette.utils.asgi import Response

    asked = await entry_request(datasette, request)
    if not wants_answer(request):
        return await asked.render(PAGE, "What waits on this phone")
    keys = [key for key in asked.page.given("keys").split(",") if key]
    if len(keys) > MOST_KEYS:
        raise BadRequest(f"Not more than {MOST_KEYS} entries at a time.")
    entry = state_of(datasette).entry
    assert entry is not None, "without entry this page has no address"
    answer = {
        "token": form_token(request),
        "book": entry.phones.book[:8],
        "known": await asked.page.ask(stored_of, keys),
        "now": now_utc(),
    }
    return Response.json(answer, headers={"cache-control": "no-store"})


def stored_of(connection: sqlite3.Connection, keys: Sequence[str]) -> list[str]:
    """Those of these entries, by id, that are stored, in the order given."""
    marks = ", ".join("?" * len(keys))
    found = {row[0] for row in connection.execute(f"SELECT id FROM entries WHERE id IN ({marks})", tuple(keys))}
    return [key for key in keys if key in found]


PAGE: Final = EntryPage("waiting", waiting, takes=(any_text("keys"),))
