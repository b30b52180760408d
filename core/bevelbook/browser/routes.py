"""The addresses that we answer, before Datasette's own are tried."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any, Final

from bevelbook.browser.state import served


async def databases(request: Any, datasette: Any) -> Any:
    """Datasette's list of databases, with the file's name in place of its path."""
    from datasette.views.special import JsonDataView

    def told() -> list[dict[str, Any]]:
        listed = datasette._connected_databases()
        return [{**one, "path": PurePath(one["path"]).name if one["path"] else None} for one in listed]

    return await JsonDataView(datasette, "databases.json", told).get(request)


async def threads(request: Any, datasette: Any) -> Any:
    """How many threads run; what they run would name files of the machine."""
    from datasette.views.special import JsonDataView

    def told() -> dict[str, Any]:
        found = datasette._threads()
        if not served(datasette).names(datasette):
            return dict(found)
        return {"num_threads": found["num_threads"], "num_tasks": found.get("num_tasks", 0)}

    return await JsonDataView(datasette, "threads.json", told).get(request)


ROUTES: Final[tuple[tuple[str, Any], ...]] = (
    (r"^/-/databases(\.(?P<format>json))?$", databases),
    (r"^/-/threads(\.(?P<format>json))?$", threads),
)
