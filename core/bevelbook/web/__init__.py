"""The plugin for Datasette: bevelbook databases read-only, in words and units, with their own pages.

Only files with our ``application_id`` are touched. Each hook below calls the module that does the work.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Generator
from typing import Any

from pluggy import HookimplMarker

hookimpl = HookimplMarker("datasette")


@hookimpl(trylast=True)
def prepare_connection(conn: sqlite3.Connection) -> None:
    from bevelbook.web.host.readonly import guard

    guard(conn)


@hookimpl(tryfirst=True)
def prepare_jinja2_environment(env: Any, datasette: Any) -> None:
    """Called before anything reads a database, so our databases are closed to writing here."""
    from bevelbook.web.host.startup import start
    from bevelbook.web.host.templates import prepare_templates
    from bevelbook.web.routes import declared_pages

    start(datasette, declared_pages())
    prepare_templates(env, datasette)


@hookimpl
def get_metadata(datasette: Any, key: str | None) -> dict[str, Any]:
    from bevelbook.web.host.datasette_state import state_of

    return {} if key == "tables" else state_of(datasette).metadata(datasette)


@hookimpl
def asgi_wrapper(datasette: Any) -> Any:
    from bevelbook.web.host.cut_short import saying_what_is_cut
    from bevelbook.web.host.policy import wrapped

    return lambda app: wrapped(saying_what_is_cut(app, datasette), datasette)


@hookimpl
def filters_from_request(database: str, table: str) -> None:
    from bevelbook.web.host.asked_rows import expect_page_of

    expect_page_of(database, table)


@hookimpl
def extra_template_vars(database: str | None, table: str | None, request: Any, datasette: Any) -> Any:
    from bevelbook.web.host.template_context import template_variables

    return template_variables(datasette, database, table, request)


@hookimpl
def render_cell(row: Any, value: Any, column: str, table: str | None, database: str, datasette: Any) -> Any:
    from bevelbook.web.host.cells import cell

    return cell(datasette, database, table, column, value, row)


@hookimpl(wrapper=True)
def register_routes(datasette: Any) -> Generator[None, Any, Any]:
    from bevelbook.web.routes import routes_around

    return routes_around(datasette, (yield))


@hookimpl
def handle_exception(datasette: Any, request: Any, exception: Exception) -> Any:
    from bevelbook.web.host.errors import fault_page

    return fault_page(datasette, request, exception)


@hookimpl
def forbidden(datasette: Any, request: Any, message: str) -> Any:
    from datasette.utils.asgi import Forbidden

    from bevelbook.web.host.errors import fault_page

    return fault_page(datasette, request, Forbidden(message))


@hookimpl
def permission_resources_sql(datasette: Any, action: str) -> Any:
    """Asked by Datasette 1.0."""
    from bevelbook.web.host.datasette_state import state_of
    from bevelbook.web.host.private_datasette import refusal_to_write
    from bevelbook.web.host.readonly import READ_ONLY

    return refusal_to_write(action, state_of(datasette).names(datasette), READ_ONLY)
