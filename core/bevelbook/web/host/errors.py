"""The page for a fault: in words, without SQL scripts and without a path of the machine."""

from __future__ import annotations

import sqlite3
from collections.abc import Awaitable
from pathlib import Path
from typing import Any

from bevelbook.declare.errors import BevelbookError, PluginFault, UnknownNameError
from bevelbook.store.sqlite_errors import explained
from bevelbook.web.host.addresses import database_at, entry_page_at
from bevelbook.web.host.answers_to_programs import more_as_data
from bevelbook.web.host.answers_to_scripts import fault_answer, wants_answer
from bevelbook.web.host.commands_of_book import naming_book, naming_book_in_words
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.odd_requests import READING_METHODS, status_of_odd_request, words_of_refused_argument
from bevelbook.web.host.policy import headers_of_ours
from bevelbook.web.host.private_datasette import (
    BadRequest,
    Base400,
    DatasetteError,
    QueryInterrupted,
    base_context,
    template_environment,
)
from bevelbook.web.host.template_context import template_variables
from bevelbook.web.worker.calculators import COME_AGAIN_AFTER_S, CalculatorsBusy

TOO_LONG = (
    "The query took longer than this server allows. Ask for fewer rows, or narrow it down with a filter; "
    "whoever serves the database can allow more time."
)
UNEXPECTED = "Something went wrong in this server. Its log says more."


def fault_page(datasette: Any, request: Any, exception: Exception) -> Awaitable[Any] | None:
    """The answer to an exception; None, and Datasette's own, where no database or not the one asked for is ours."""
    return _answer(datasette, request, exception) if _is_answered(datasette, request) else None


def is_of_request(datasette: Any, request: Any, exception: Exception) -> bool:
    """Whether that page says what was asked wrongly, so that the log has nothing to say of the server."""
    return _is_answered(datasette, request) and _told(datasette, request, exception)[1] != 500


def _is_answered(datasette: Any, request: Any) -> bool:
    names = state_of(datasette).names(datasette)
    database = database_at(datasette, request.path)
    return bool(names) and (database is None or database in names)


def _told(datasette: Any, request: Any, exception: Exception) -> tuple[Exception, int, str | None, str]:
    """A fault in our words where SQLite raised it, with the status, the title and the words of its page."""
    if isinstance(exception, sqlite3.Error) and str(exception) != "interrupted":
        exception = explained(exception, Path())
    status, title, message = _status_and_words(exception)
    if status in (400, 403, 500) and isinstance(exception, DatasetteError | BadRequest | BevelbookError):
        status = 400 if isinstance(exception, DatasetteError) and status == 500 else status
        message = words_of_refused_argument(datasette, request, message)
    if message is UNEXPECTED:
        status, message = status_of_odd_request(datasette, request, exception) or (status, message)
    return exception, status, title, message


async def _answer(datasette: Any, request: Any, exception: Exception) -> Any:
    from datasette.utils.asgi import Response

    await datasette.invoke_startup()  # the templates are there from then on; the first request of all may be refused
    exception, status, title, message = _told(datasette, request, exception)
    headers = headers_of_ours()
    if status == 405:
        headers["allow"] = ", ".join(getattr(exception, "answered", READING_METHODS))
    if status == 503:
        headers["retry-after"] = str(COME_AGAIN_AFTER_S)
    if wants_answer(request) and entry_page_at(datasette, request.path) is not None:
        words = naming_book_in_words(datasette, database_at(datasette, request.path), message)
        answered = fault_answer(request, exception, status, words)
        answered.headers |= headers
        return answered
    if request.path.partition("?")[0].endswith(".json"):
        answer = {"ok": False, "error": message, "status": status, "title": title, **more_as_data(exception, status)}
        return Response.json(answer, status=status, headers=headers)
    template = template_environment(datasette).select_template([f"{status}.html", "bevelbook:error.html"])
    context = {
        "status": status,
        "title": title,
        "error": message,
        **base_context(datasette),
        "request": request,
        "actor": request.actor,
        **template_variables(datasette, database_at(datasette, request.path), None, request),
    }
    page = naming_book(datasette, database_at(datasette, request.path), await template.render_async(context))
    return Response.html(page, status=status, headers=headers)


def _status_and_words(exception: Exception) -> tuple[int, str | None, str]:
    if (
        isinstance(exception, QueryInterrupted)
        or str(exception) == "interrupted"
        or (getattr(exception, "title", None) == "SQL Interrupted")
    ):
        return 400, "This took too long", TOO_LONG
    if isinstance(exception, Base400):
        message = str(exception.args[0]) if exception.args else ""
        return exception.status, None, "There is no such page." if message in ("", "404") else message
    if isinstance(exception, DatasetteError):
        return exception.status, exception.title, str(exception.message)
    if isinstance(exception, CalculatorsBusy):
        return 503, "Too much to work out just now", exception.without_place()
    if isinstance(exception, PluginFault):
        return 500, "A plugin failed", exception.in_words()
    if isinstance(exception, BevelbookError):
        if "interrupted" in str(exception):
            return 400, "This took too long", TOO_LONG
        return 403 if exception.code == "served_read_only" else 400, None, _without_file(exception)
    return 500, None, UNEXPECTED


def _without_file(fault: BevelbookError) -> str:
    if isinstance(fault, UnknownNameError):
        return fault.on_page()
    fault.place = fault.place._replace(file=None)
    return str(fault)
