"""Addresses beside our pages that we answer ourselves: those of Datasette's that would show a path of the machine, and
what search engines ask for."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.private_datasette import answer_as_json_view, listed_databases, threads_now


async def databases(request: Any, datasette: Any) -> Any:
    """Datasette's list of databases, with the file's name in place of its path."""

    def shown() -> list[dict[str, Any]]:
        listed = listed_databases(datasette)
        return [{**one, "path": PurePath(one["path"]).name if one["path"] else None} for one in listed]

    return await answer_as_json_view(datasette, request, "databases.json", shown)


async def threads(request: Any, datasette: Any) -> Any:
    """How many threads run; what they run would show paths of the machine."""

    def shown() -> dict[str, Any]:
        found = threads_now(datasette)
        if not state_of(datasette).names(datasette):
            return found
        return {"num_threads": found["num_threads"], "num_tasks": found.get("num_tasks", 0)}

    return await answer_as_json_view(datasette, request, "threads.json", shown)


async def robots(request: Any, datasette: Any) -> Any:
    """What search engines ask for first: to stay out, unless whoever serves wants them in."""
    from datasette.utils.asgi import Response

    kept_out = "" if state_of(datasette).may_be_indexed(datasette) else " /"
    return Response.text(f"User-agent: *\nDisallow:{kept_out}\n")
