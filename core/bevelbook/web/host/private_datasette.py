"""Everything that we use of Datasette without its documentation promising it. No other file of ``web/`` does.

In parts, by what is touched: names from Datasette's own modules, the object Datasette, one of its databases, the SQL
that it writes for a page of a table, and its views. Add a name to the part that it belongs to;
``tests/web/host/test_private_datasette.py`` finds it elsewhere. What Datasette 1.0 has in another way than 0.65 is here
too, found by what is there; ``.ci/alpha`` runs the tests of the pages with a version before 1.0.
"""

from __future__ import annotations

import json
import re
import sqlite3
from collections.abc import Callable, Mapping, Sequence
from contextlib import suppress
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Any, Final, NamedTuple

# Names from Datasette's own modules.
from datasette.database import Database, QueryInterrupted, Results
from datasette.filters import Filters
from datasette.utils import detect_fts, escape_sqlite, path_with_added_args
from datasette.utils import to_css_class as name_in_templates
from datasette.utils.asgi import BadRequest, Base400, Request
from datasette.views.base import DatasetteError

from bevelbook.declare.late_pattern import late_pattern

__all__ = [
    "BadRequest",
    "Base400",
    "DatasetteError",
    "QueryInterrupted",
    "Request",
    "Results",
    "detect_fts",
    "escape_sqlite",
    "name_in_templates",
    "path_with_added_args",
]

HAS_SQL_PAGE: Final = find_spec("datasette.stored_queries") is not None
"""Whether a question in SQL has a page of its own, ``/DATABASE/-/query``, as in Datasette 1.0."""
CSRF_REFUSALS: Final[frozenset[str]] = (
    frozenset(import_module("asgi_csrf").error_messages.values())
    if find_spec("datasette.csrf") is None
    else frozenset()
)
"""What Datasette 0.65 answers, as it is, to a form without the right token."""
ENTER_ACTION: Final = "bevelbook-enter"
"""The permission to write to a database of ours by its pages."""
SETTINGS_OF_A_TABLE: Final = (
    "facets",
    "fts_pk",
    "fts_table",
    "hidden",
    "label_column",
    "size",
    "sort",
    "sort_desc",
    "sortable_columns",
)
"""What of the description of a table Datasette 1.0 has in its configuration."""
WRITING_ACTIONS: Final = frozenset(
    {
        "alter-table",
        "create-table",
        "create-view",
        "delete-query",
        "delete-row",
        "drop-table",
        "drop-view",
        "execute-write-sql",
        "insert-row",
        "set-column-type",
        "store-query",
        "update-query",
        "update-row",
    }
)
"""What Datasette 1.0 calls the ways to change a database."""


# The object Datasette.


def take_settings_of_tables(datasette: Any, databases: Mapping[str, Any]) -> None:
    """Hand over size, order, facets and names of our tables where Datasette reads them from its configuration alone.

    Datasette 0.65 asks for them by the hook ``get_metadata``. What the person who starts it has configured goes first.
    """
    if not isinstance(getattr(datasette, "config", None), dict):
        return
    for name, described in databases.items():
        tables = datasette.config.setdefault("databases", {}).setdefault(name, {}).setdefault("tables", {})
        for table, settings in described["tables"].items():
            ours = {key: value for key, value in settings.items() if key in SETTINGS_OF_A_TABLE}
            tables[table] = {**ours, **tables.get(table, {})}


def form_token(request: Any) -> str:
    """The token that a form of this browser has to send; empty where this Datasette asks for none."""
    token = request.scope.get("csrftoken")
    return str(token()) if token else ""


def log_short_tracebacks() -> None:
    """Have a fault logged with its traceback alone.

    Where rich is installed Datasette draws a frame with the value of every variable too: that holds up all other
    requests for seconds, for a page that is refused as for one that fails.
    """
    handling = import_module("datasette.handle_exception")
    if hasattr(handling, "rich"):
        vars(handling)["rich"] = None


def answers_of_others(answers: Sequence[Any]) -> list[Any]:
    """What the hook ``handle_exception`` gave, without Datasette's own answer, which prints a traceback when asked."""
    return [one for one in answers if getattr(one, "__module__", None) != "datasette.handle_exception"]


def suggest_no_facets(datasette: Any) -> None:
    """Switch off what a setting of the person who starts Datasette would switch off."""
    datasette._settings["suggest_facets"] = False


def listed_databases(datasette: Any) -> list[dict[str, Any]]:
    """The databases as ``/-/databases`` lists them."""
    return list(datasette._connected_databases())


def threads_now(datasette: Any) -> dict[str, Any]:
    """The threads as ``/-/threads`` lists them."""
    return dict(datasette._threads())


def formats_of_others(datasette: Any) -> set[str]:
    """The endings of addresses at which other plugins, in their own way, answer with the rows of a table."""
    return set(datasette.renderers) - {"json", "jsono", "blob", "csv"}


def own_template_folder(datasette: Any) -> Path | None:
    """The folder given with ``--template-dir``, if any."""
    return Path(datasette.template_dir) if datasette.template_dir else None


def template_environment(datasette: Any) -> Any:
    """The environment in which every template is found."""
    return datasette.get_jinja_environment() if hasattr(datasette, "get_jinja_environment") else datasette.jinja_env


def base_context(datasette: Any) -> dict[str, Any]:
    """What a template extending Datasette's ``base.html`` needs where no view renders it."""
    hashed = {"app_css_hash": datasette.app_css_hash()} if hasattr(datasette, "app_css_hash") else {}
    return {"urls": datasette.urls, "menu_links": list, **hashed}


async def ensure_may_view_database(datasette: Any, actor: Any, database: str) -> None:
    """Raise Forbidden where the person may not view the database, or nothing at all here."""
    if hasattr(datasette, "ensure_permissions"):
        await datasette.ensure_permissions(actor, [("view-database", database), "view-instance"])
        return
    from datasette.resources import DatabaseResource

    await datasette.ensure_permission(action="view-database", resource=DatabaseResource(database), actor=actor)


async def may_enter(datasette: Any, actor: Any, database: str) -> bool:
    """Whether a person may write to a database by its pages."""
    if hasattr(datasette, "permission_allowed"):
        return bool(await datasette.permission_allowed(actor, ENTER_ACTION, database, default=False))
    from datasette.resources import DatabaseResource

    return bool(await datasette.allowed(action=ENTER_ACTION, resource=DatabaseResource(database), actor=actor))


def enter_action() -> list[Any]:
    """That permission as Datasette 1.0 has it declared."""
    from datasette.permissions import Action
    from datasette.resources import DatabaseResource

    return [Action(name=ENTER_ACTION, description="Write to a bevelbook database", resource_class=DatabaseResource)]


def leave_to_enter(databases: Sequence[str], reason: str) -> Any:
    """What Datasette 1.0 is answered where it asks whether a paired phone has that permission."""
    from datasette.permissions import PermissionSQL

    names = {f"bevelbook_entered_{place}": name for place, name in enumerate(databases)}
    listed = ", ".join(f":{key}" for key in names)
    return PermissionSQL(
        sql="SELECT database_name AS parent, NULL AS child, 1 AS allow, :bevelbook_paired AS reason "
        f"FROM catalog_databases WHERE database_name IN ({listed})",
        params={**names, "bevelbook_paired": reason},
    )


def refusal_to_write(action: str, databases: Sequence[str], reason: str) -> Any:
    """What Datasette 1.0 asks each plugin before it lets anybody do something: never write to these databases.

    A rule for each table too, which goes before one of the configuration for the whole database.
    """
    if action not in WRITING_ACTIONS or not databases:
        return None
    from datasette.permissions import PermissionSQL

    names = {f"bevelbook_database_{place}": name for place, name in enumerate(databases)}
    listed = ", ".join(f":{key}" for key in names)
    return PermissionSQL(
        sql=(
            "SELECT database_name AS parent, NULL AS child, 0 AS allow, :bevelbook_reason AS reason "
            f"FROM catalog_databases WHERE database_name IN ({listed}) UNION ALL "
            "SELECT database_name, table_name, 0, :bevelbook_reason "
            f"FROM catalog_tables WHERE database_name IN ({listed})"
        ),
        params={**names, "bevelbook_reason": reason},
    )


def refusal_of_table(table: str, databases: Sequence[str], reason: str) -> Any:
    """What Datasette 1.0 is answered where it asks who may see a table: nobody that one of these databases."""
    if not databases:
        return None
    from datasette.permissions import PermissionSQL

    names = {f"bevelbook_bytes_{place}": name for place, name in enumerate(databases)}
    listed = ", ".join(f":{key}" for key in names)
    return PermissionSQL(
        sql="SELECT database_name AS parent, :bevelbook_table AS child, 0 AS allow, :bevelbook_bytes AS reason "
        f"FROM catalog_databases WHERE database_name IN ({listed})",
        params={**names, "bevelbook_table": table, "bevelbook_bytes": reason},
    )


def close_all(datasette: Any) -> None:
    """Give back what a Datasette holds that is not needed any more: its threads, and its connections."""
    if datasette.executor is not None:
        datasette.executor.shutdown()
    for database in datasette.databases.values():
        database.close()


# One of its databases.


def said_of(database: Any) -> dict[str, Any]:
    """One of its databases in words of JSON, so that :func:`opened_as_said` in another process opens it alike."""
    datasette = database.ds
    given = {
        "metadata": getattr(datasette, "_metadata_local", None),
        "config": getattr(datasette, "config", None),
        "settings": {**datasette._settings, "num_sql_threads": 0},
        "plugins_dir": datasette.plugins_dir,
        "sqlite_extensions": list(datasette.sqlite_extensions),
    }
    said = {
        "name": database.name,
        "path": str(database.path),
        "is_mutable": database.is_mutable,
        "datasette": {name: value for name, value in given.items() if value},
    }
    kept: dict[str, Any] = json.loads(json.dumps(said, default=str))
    return kept


def opened_as_said(said: Mapping[str, Any]) -> Any:
    """A database of a Datasette of its own, which asks nobody else and starts no thread."""
    from datasette.app import Datasette

    given = dict(said["datasette"])
    given["sqlite_extensions"] = [
        tuple(one) if isinstance(one, list) else one for one in given.get("sqlite_extensions", ())
    ]
    datasette = Datasette([], **given)
    return datasette.add_database(Database(datasette, said["path"], is_mutable=said["is_mutable"]), name=said["name"])


def closed_with(database: Any, connection: sqlite3.Connection) -> None:
    """Have a connection closed when its database is."""
    kept = database._all_connections if hasattr(database, "_all_connections") else database._all_file_connections
    kept.append(connection)


def stop_questions(datasette: Any) -> None:
    """Break off what its databases are being asked: whoever stops the server does not wait for it."""
    for database in datasette.databases.values():
        for connection in list(
            vars(database).get("_all_connections") or vars(database).get("_all_file_connections", ())
        ):
            with suppress(sqlite3.Error):
                connection.interrupt()


def prepared_as(database: Any, connection: sqlite3.Connection) -> None:
    """Prepare a connection of a database as those that Datasette opens itself: functions, plugins, rows by name."""
    database.ds._prepare_connection(connection, database.name)


def as_dictionary(listed: Any) -> Mapping[str, Any]:
    """A table or view in the list of a database."""
    return listed if isinstance(listed, Mapping) else vars(listed)


# What its addresses take.


def has_page_of_others(datasette: Any, path: str) -> bool:
    """Whether the function that answers at a path, without its base address, is of another plugin."""
    for pattern, answer in datasette._routes():
        if re.match(pattern, path):
            return not str(answer.__module__).startswith(("datasette.", "bevelbook."))
    return False


@cache
def filter_endings() -> frozenset[str]:
    """How the name of a column ends, behind two lines below, by which rows are compared: ``gt``, ``contains``."""
    return frozenset(ending for ending, _, _ in Filters([]).lookups())


def parameters_in(sql: str) -> tuple[str, ...]:
    """The parameters of a question in SQL, as an address gives them: what follows a colon."""
    return tuple(dict.fromkeys(re.findall(r":(\w+)", sql)))


async def saved_query(datasette: Any, database: str, name: str) -> str | None:
    """The SQL of a question that whoever serves has saved under a name, for anybody; None where there is none."""
    if HAS_SQL_PAGE:
        found = await datasette.get_query(database, name)
        return None if found is None else str(found["sql"] if isinstance(found, Mapping) else found.sql)
    found = await datasette.get_canned_query(database, name, None)
    return None if found is None else str(found["sql"])


# The SQL that it writes for a page of a table or a view.

_LIMIT: Final = late_pattern(r" limit (\d+)(?: offset \d+)?\s*$")
_COLUMN: Final = r'(?:\w+|\[[^\]]*\]|"(?:[^"]|"")*")'
_TERM: Final = rf"{_COLUMN}(?: desc)?"
_ORDER: Final = late_pattern(rf"order by ({_TERM}(?:, {_TERM})*)\s*$")


class TableStatement(NamedTuple):
    """The SELECT of one page: what is before its order, the terms of the order, and its end with the limit.

    It asks for one row more than ``rows``, those of the page, to see whether another page follows.
    """

    before: str
    terms: tuple[str, ...]
    end: str
    rows: int

    def in_total_order(self, key: tuple[str, ...]) -> str:
        """The same SELECT with the columns of ``key`` behind its order, so that no two rows are equal in it."""
        ordered = {term.removesuffix(" desc") for term in self.terms}
        ties = tuple(column for column in map(escape_sqlite, key) if column not in ordered)
        return f"{self.before}order by {', '.join((*self.terms, *ties))}{self.end}"

    @property
    def continued_from(self) -> tuple[str, str] | None:
        """Where a page goes on behind a value: the sorted column as it is written, and the parameter of the value."""
        if not self.terms:
            return None
        column = self.terms[0].removesuffix(" desc")
        found = re.findall(rf'(?<![\w"\]]){re.escape(column)} = :(p\d+) and ', self.before)
        return (column, found[-1]) if found else None


def table_statement(sql: str, table: str) -> TableStatement | None:
    """The parts of the SELECT of a page of that table; None for any other statement."""
    end = _LIMIT.search(sql)
    if end is None or not sql.startswith("select ") or f" from {escape_sqlite(table)} " not in sql[: end.start() + 1]:
        return None
    order = _ORDER.search(sql[: end.start()])
    before = sql[: order.start()] if order else f"{sql[: end.start()].rstrip()} "
    terms = tuple(re.findall(_TERM, order[1])) if order else ()
    return TableStatement(before, terms, end[0], int(end[1]) - 1)


# Its views.


async def answer_as_json_view(datasette: Any, request: Any, file_name: str, shown: Callable[[], Any]) -> Any:
    """The answer of Datasette's view of a piece of JSON: as a page, or as JSON at ``.json``."""
    from datasette.views.special import JsonDataView

    return await JsonDataView(datasette, file_name, shown).get(request)


async def answer_as_index(datasette: Any, request: Any) -> Any:
    """The answer of Datasette's view of ``/``, its list of databases."""
    from datasette.views.index import IndexView

    return await IndexView(datasette).dispatch_request(request)
