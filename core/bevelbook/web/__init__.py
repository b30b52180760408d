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
    from bevelbook.web.host.arguments_of_rows import by_their_arguments
    from bevelbook.web.host.cut_short import saying_what_is_cut
    from bevelbook.web.host.days_left_out import saying_quarters
    from bevelbook.web.host.entry_gate import behind_gate
    from bevelbook.web.host.kept_answers import letting_keep
    from bevelbook.web.host.methods import by_their_methods
    from bevelbook.web.host.policy import wrapped
    from bevelbook.web.host.whole_targets import by_their_paths
    from bevelbook.web.routes import file_limits

    def around(app: Any) -> Any:
        ours = saying_what_is_cut(letting_keep(app), datasette)
        ours = saying_quarters(ours, datasette)
        ours = by_their_arguments(ours, datasette)
        ours = behind_gate(by_their_methods(ours, datasette), datasette, file_limits())
        return by_their_paths(wrapped(ours, datasette))

    return around


@hookimpl(tryfirst=True)
def actor_from_request(request: Any) -> dict[str, str] | None:
    from bevelbook.web.host.phone_of_request import actor_of

    return actor_of(request)


@hookimpl
def permission_allowed(datasette: Any, actor: Any, action: str, resource: Any) -> bool | None:
    """Asked by Datasette 0.65."""
    from bevelbook.web.host.entry_permission import allowed_to_enter, sees_no_bytes

    refused = sees_no_bytes(datasette, action, resource)
    return allowed_to_enter(datasette, actor, action, resource) if refused is None else refused


@hookimpl
def register_actions(datasette: Any) -> Any:
    """Asked by Datasette 1.0."""
    from bevelbook.web.host.private_datasette import enter_action

    return enter_action()


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
    from bevelbook.web.host.turns import after_others, is_due

    made = cell(datasette, database, table, column, value, row)
    return after_others(made) if is_due() else made


@hookimpl(wrapper=True)
def register_routes(datasette: Any) -> Generator[None, Any, Any]:
    from bevelbook.web.routes import routes_around

    return routes_around(datasette, (yield))


@hookimpl
def handle_exception(datasette: Any, request: Any, exception: Exception) -> Any:
    from bevelbook.web.host.errors import fault_page

    return fault_page(datasette, request, exception)


@hookimpl(wrapper=True, specname="handle_exception")
def answer_without_traceback(datasette: Any, request: Any, exception: Exception) -> Generator[None, Any, Any]:
    """Datasette answers too, and prints a traceback, of what was asked wrongly as well."""
    from bevelbook.web.host.errors import is_of_request
    from bevelbook.web.host.private_datasette import answers_of_others

    answers = yield
    return answers_of_others(answers) if is_of_request(datasette, request, exception) else answers


@hookimpl
def forbidden(datasette: Any, request: Any, message: str) -> Any:
    from datasette.utils.asgi import Forbidden

    from bevelbook.web.host.errors import fault_page

    return fault_page(datasette, request, Forbidden(message))


@hookimpl
def permission_resources_sql(datasette: Any, actor: Any, action: str) -> Any:
    """Asked by Datasette 1.0."""
    from bevelbook.web.host.datasette_state import state_of
    from bevelbook.web.host.entry_permission import VIEW_TABLE, rule_for_entering
    from bevelbook.web.host.private_datasette import ENTER_ACTION, refusal_of_table, refusal_to_write
    from bevelbook.web.host.readonly import PICTURE_BYTES, READ_ONLY

    if action == ENTER_ACTION:
        return rule_for_entering(datasette, actor)
    if action == VIEW_TABLE:
        return refusal_of_table(PICTURE_BYTES, state_of(datasette).names(datasette), "its pictures have own addresses")
    return refusal_to_write(action, state_of(datasette).names(datasette), READ_ONLY)
