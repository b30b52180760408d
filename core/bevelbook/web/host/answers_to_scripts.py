"""The answers that a phone's script gets to what it hands over: JSON, whatever comes of it.

A script says with its Accept header that it wants them; a form that a person sends gets pages.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Final, Literal

from bevelbook.declare.errors import BevelbookError

JSON: Final = "application/json"
KEY_IN_SCOPE: Final = "bevelbook_key"
"""Where the id of the entry that a form will make is kept for answers that no page makes."""
BUSY: Final = "busy"
OTHER_BOOK: Final = "other_book"
NOT_PAIRED: Final = "not_paired"
_OF_STATUS: Final = {403: NOT_PAIRED, 404: "no_such_page", 400: "no_form", 413: "too_long"}
_OF_FAULT: Final = {"locked": BUSY, "other_database": OTHER_BOOK, "no_database": OTHER_BOOK}
_STATUS: Final = {BUSY: 503}

Done = Literal["stored", "known"]


def wants_answer(request: Any) -> bool:
    """Whether a request is of a script that wants JSON."""
    return JSON in request.headers.get("accept", "")


def done_answer(
    key: str, done: Done, words: str, more: Sequence[str], address: str, left_out: Sequence[str] = ()
) -> Any:
    """That an entry is stored, or was stored before: in words, and where that is shown. ``left_out`` are those of the
    further sentences that say what the form seemed to take over and is not stored."""
    found = {"key": key, "done": done, "words": words, "more": list(more), "left_out": list(left_out)}
    return _answer({**found, "address": address}, 200)


def asks_answer(key: str, words: str) -> Any:
    """That nothing was stored, since a person has to look at it."""
    return _answer({"key": key, "done": "asks", "words": words}, 409)


def refused_answer(key: str | None, code: str, words: str, status: int) -> Any:
    """That nothing was stored, for a reason that lies not in what was typed."""
    return _answer({"key": key, "done": "refused", "code": code, "words": words}, status)


def fault_answer(request: Any, exception: Exception, status: int, words: str) -> Any:
    """The answer where a page raised something: its code for scripts, and its words."""
    if isinstance(exception, BevelbookError):
        code = _OF_FAULT.get(exception.code, exception.code)
    else:
        code = "fault" if status >= 500 else _OF_STATUS.get(status, "refused")
    return refused_answer(request.scope.get(KEY_IN_SCOPE), code, words, _STATUS.get(code, status))


def _answer(found: dict[str, Any], status: int) -> Any:
    from datasette.utils.asgi import Response

    return Response.json(found, status=status, headers={"cache-control": "no-store"})
