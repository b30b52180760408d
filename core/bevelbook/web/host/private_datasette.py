"""Everything that we use of Datasette without its documentation promising it. No other file of ``web/`` does.

In four parts, by what is touched: names from Datasette's own modules, the object Datasette, one of its databases, and
its views. Add a name to the part that it belongs to; ``tests/web/host/test_private_datasette.py`` finds it elsewhere.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator
from typing import Any

# Names from Datasette's own modules.
from datasette.database import QueryInterrupted
from datasette.utils import path_with_added_args, sqlite_timelimit
from datasette.utils.asgi import Base400
from datasette.views.base import DatasetteError

__all__ = ["Base400", "DatasetteError", "QueryInterrupted", "path_with_added_args", "sqlite_timelimit"]


def template_texts() -> Iterator[str]:
    """The text of each template that Datasette brings, by file name."""
    from importlib.resources import files

    for file in sorted((files("datasette") / "templates").iterdir(), key=lambda one: one.name):
        if file.name.endswith(".html"):
            yield file.read_text(encoding="utf-8")


# The object Datasette.


def suggest_no_facets(datasette: Any) -> None:
    """Switch off what a setting of the person who starts Datasette would switch off."""
    datasette._settings["suggest_facets"] = False


def listed_databases(datasette: Any) -> list[dict[str, Any]]:
    """The databases as ``/-/databases`` lists them."""
    return list(datasette._connected_databases())


def threads_now(datasette: Any) -> dict[str, Any]:
    """The threads as ``/-/threads`` lists them."""
    return dict(datasette._threads())


def put_templates_in_front(env: Any, datasette: Any, folder: str) -> None:
    """Have the templates of a folder found before Datasette's own; those of ``--template-dir`` still go first."""
    env.loader.loaders[0].searchpath.insert(1 if datasette.template_dir else 0, folder)


def template(datasette: Any, *names: str) -> Any:
    """The first of these templates that exists."""
    return datasette.jinja_env.select_template(list(names))


def base_context(datasette: Any) -> dict[str, Any]:
    """What a template extending Datasette's ``base.html`` needs where no view renders it."""
    return {"urls": datasette.urls, "app_css_hash": datasette.app_css_hash(), "menu_links": list}


async def ensure_may_view_database(datasette: Any, actor: Any, database: str) -> None:
    """Raise Forbidden where the person may not view the database, or nothing at all here."""
    await datasette.ensure_permissions(actor, [("view-database", database), "view-instance"])


# One of its databases.


def closed_with(database: Any, connection: sqlite3.Connection) -> None:
    """Have a connection closed when its database is."""
    database._all_file_connections.append(connection)


# Its views.


async def answer_as_json_view(datasette: Any, request: Any, file_name: str, shown: Callable[[], Any]) -> Any:
    """The answer of Datasette's view of a piece of JSON: as a page, or as JSON at ``.json``."""
    from datasette.views.special import JsonDataView

    return await JsonDataView(datasette, file_name, shown).get(request)


async def answer_as_index(datasette: Any, request: Any) -> Any:
    """The answer of Datasette's view of ``/``, its list of databases."""
    from datasette.views.index import IndexView

    return await IndexView(datasette).dispatch_request(request)
