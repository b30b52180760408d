"""The addresses that we answer, before Datasette's own are tried."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any, Final

from bevelbook.web.host.served import served
from bevelbook.web.pages import calculator, compare, help, home, looking, reference, things, what_worked


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


async def nowhere() -> None:
    """An address below our pages that none of them has."""
    from datasette.utils.asgi import NotFound

    raise NotFound("There is no such page.")


_PAGE: Final = r"^/(?P<database>[^/]+)/-/"
_INSTANCE: Final[tuple[tuple[str, Any], ...]] = (
    (r"^/-/databases(\.(?P<format>json))?$", databases),
    (r"^/-/threads(\.(?P<format>json))?$", threads),
)
_OURS: Final[tuple[tuple[str, Any], ...]] = (
    (r"^/(\.(?P<format>jsono?))?$", home.index),
    (r"^/-/dashboards(/.*)?$", looking.dashboards),
    (r"^/-/help(/(?P<topic>.+))?$", help.redirected),
    (_PAGE + r"(home)?$", home.home),
    (_PAGE + r"diff/(?P<row>[^/]+)$", things.diff),
    (_PAGE + r"build/(?P<row>[^/]+)$", things.build),
    (_PAGE + r"card/(?P<row>[^/]+)$", things.card),
    (_PAGE + r"fluid/(?P<row>[^/]+)$", things.fluid),
    (_PAGE + r"venue/(?P<row>[^/]+)$", things.venue),
    (_PAGE + r"worked$", what_worked.worked),
    (_PAGE + r"compare$", compare.comparison),
    (_PAGE + r"search$", looking.search),
    (_PAGE + r"look$", looking.look),
    (_PAGE + r"calculators$", calculator.calculators),
    (_PAGE + r"calc/(?P<name>[^/]+)$", calculator.calculator),
    (_PAGE + r"reference$", reference.reference_tables),
    (_PAGE + r"reference/(?P<name>[^/]+)$", reference.reference_table),
    (_PAGE + r"charts$", looking.charts),
    (_PAGE + r"chart/(?P<name>[^/]+)$", looking.chart),
    (_PAGE + r"help(/(?P<topic>.+))?$", help.manual),
    (_PAGE, nowhere),
)


def routes_for(datasette: Any) -> list[tuple[str, Any]]:
    """The routes of a Datasette: those of our pages only where one of its databases is ours."""
    return [*_INSTANCE, *(_OURS if served(datasette).names(datasette) else ())]
