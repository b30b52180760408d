"""Addresses of Datasette and of other plugins that we answer ourselves, so that none shows a path or runs a note."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

from bevelbook.web.host.addresses import page_address
from bevelbook.web.host.datasette_state import state_of


async def databases(request: Any, datasette: Any) -> Any:
    """Datasette's list of databases, with the file's name in place of its path."""
    from datasette.views.special import JsonDataView

    def shown() -> list[dict[str, Any]]:
        listed = datasette._connected_databases()
        return [{**one, "path": PurePath(one["path"]).name if one["path"] else None} for one in listed]

    return await JsonDataView(datasette, "databases.json", shown).get(request)


async def threads(request: Any, datasette: Any) -> Any:
    """How many threads run; what they run would show paths of the machine."""
    from datasette.views.special import JsonDataView

    def shown() -> dict[str, Any]:
        found = datasette._threads()
        if not state_of(datasette).names(datasette):
            return dict(found)
        return {"num_threads": found["num_threads"], "num_tasks": found.get("num_tasks", 0)}

    return await JsonDataView(datasette, "threads.json", shown).get(request)


async def dashboards(request: Any, datasette: Any) -> Any:
    """Another plugin's pages would run what a note says, so their address leads to our charts."""
    from datasette.utils.asgi import Response

    return Response.redirect(page_address(datasette, state_of(datasette).names(datasette)[0], "charts"))
