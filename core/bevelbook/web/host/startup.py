"""What happens when a Datasette starts: our databases are closed to writing."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import click

from bevelbook.declare.errors import DatabaseError
from bevelbook.store.sqlite_errors import in_words
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import Page
from bevelbook.web.host.private_datasette import suggest_no_facets
from bevelbook.web.host.readonly import close_to_writing
from bevelbook.web.worker.kept_out import keep_out


class CannotServe(click.ClickException):
    """Ends ``datasette`` or ``bevelbook serve`` with one message."""

    exit_code = 2


def start(datasette: Any, pages: Iterable[Page]) -> None:
    """Close each of our databases to writing, and take the declared pages.

    Raises CannotServe for one that is older, newer, or cannot be read.
    """
    state_of(datasette).add_pages(pages)
    if state_of(datasette).copy is None:
        keep_out(state_of(datasette).registry)
    names = state_of(datasette).names(datasette)
    try:
        for name in names:
            close_to_writing(datasette.databases[name])
            aside = datasette.databases[name].aside
            if aside is not None:
                state_of(datasette).when_stopping.append(aside.kept.close)
        for name in names:
            with in_words(datasette.databases[name].is_at):
                state_of(datasette).look_at(datasette, name)
    except DatabaseError as fault:
        raise CannotServe(str(fault)) from fault
    state_of(datasette).hand_over(datasette)
    if state_of(datasette).is_alone(datasette):
        suggest_no_facets(datasette)
