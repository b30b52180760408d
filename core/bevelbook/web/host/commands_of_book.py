"""Commands to copy on a page: each names the file of the page's book, without its folder: no page holds a path."""

from __future__ import annotations

from typing import Any

from bevelbook.manual.commands_to_copy import DATABASE, naming_on_page
from bevelbook.web.host.datasette_state import state_of, team_database


def naming_book(datasette: Any, database: str | None, page: str) -> str:
    """A page of HTML on which each command for this laptop names the file of one of our databases.

    As it is where the page is of none, and in a copy that is read without a server: whoever reads it may have no file.
    """
    team = None if database is None or state_of(datasette).copy else team_database(datasette, database)
    return page if team is None else naming_on_page(page, {DATABASE: team.is_at.name})
