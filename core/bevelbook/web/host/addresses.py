"""The addresses of our pages, always through Datasette, so that a base address in front of them is kept, and whose an
address is."""

from __future__ import annotations

from collections.abc import Mapping
from enum import Enum
from typing import Any, Final, NamedTuple
from urllib.parse import urlencode

from markupsafe import Markup, escape

from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.page import ENTER
from bevelbook.web.host.private_datasette import formats_of_others

SQL_PAGE: Final = "query"
"""Below ``/DATABASE/-/`` Datasette 1.0 has its page for a question in SQL, where 0.65 has it at ``/DATABASE?sql=``."""

OWN_FILES: Final = ["-", "static-plugins", "bevelbook"]
"""Where Datasette has the files of ``web/static``."""


BY_NAME: Final = "q"
"""The first step of the address of what has a name, without the book: ``/q/NAME``, as on labels."""


class Owner(Enum):
    """Whose an address is: a page of our own, Datasette's page of one of our databases, or anything else."""

    OURS = "ours"
    DATASETTE = "Datasette's, of one of our databases"
    ELSEWHERE = "elsewhere"


class PlaceOfRows(NamedTuple):
    """Which of Datasette's pages an address is of: of all databases, of one, of a table or saved question, of a row."""

    database: str | None = None
    table: str | None = None
    row: str | None = None
    is_below_pages: bool = False


def linked(address: str, label: object) -> Markup:
    """A link. Markup's own ``format`` takes five times as long, and a page has hundreds of links.

    >>> str(linked("/team/-/search?q=a&page=2", "more <"))
    '<a href="/team/-/search?q=a&amp;page=2">more &lt;</a>'
    """
    return Markup(f'<a href="{escape(address)}">{escape(label)}</a>')


def record_address(datasette: Any, database: str, table: str, row_id: str) -> str:
    """Where one row is shown."""
    from datasette.utils import tilde_encode

    page = state_of(datasette).page_showing(table)
    if page:
        return page_address(datasette, database, f"{page.name}/{tilde_encode(row_id)}")
    return str(datasette.urls.row(database, table, tilde_encode(row_id)))


def table_address(datasette: Any, database: str, table: str, given: Mapping[str, Any]) -> str:
    """Where the rows of a table or view are shown that have the values given."""
    return f"{datasette.urls.table(database, table)}?{urlencode(given)}"


def page_address(datasette: Any, database: str, page: str, given: Mapping[str, Any] | None = None) -> str:
    """The address of one of our pages of a database, with its query."""
    asked = {name: value for name, value in (given or {}).items() if value not in (None, "")}
    return f"{datasette.urls.database(database)}/-/{page}" + (f"?{urlencode(asked, doseq=True)}" if asked else "")


def owner_of(datasette: Any, path: str) -> Owner:
    """Whose a path is; it has its base address in front."""
    steps = _steps(datasette, path)
    if not steps or (len(steps) == 1 and steps[0].startswith(".")) or steps[:3] == OWN_FILES:
        return Owner.OURS
    if steps[0] == BY_NAME and database_at(datasette, path) is None and state_of(datasette).names(datasette):
        return Owner.OURS
    if database_at(datasette, path) not in state_of(datasette).names(datasette):
        return Owner.ELSEWHERE
    if steps[1:2] == ["-"]:
        below = steps[2].partition(".")[0] if len(steps) > 2 else ""
        if not below or state_of(datasette).has_page(below):
            return Owner.OURS
        return Owner.DATASETTE if below == SQL_PAGE else Owner.ELSEWHERE
    ending = steps[-1].rpartition(".")[2] if "." in steps[-1] else ""
    return Owner.ELSEWHERE if ending in formats_of_others(datasette) else Owner.DATASETTE


def entry_page_at(datasette: Any, path: str) -> str | None:
    """What follows ``/DATABASE/-/enter/`` in a path, up to its next slash, for a database of ours; None elsewhere.

    Another laptop, which does not know the name of the database, leaves it out: ``/-/enter/``.
    """
    steps = _steps(datasette, path)
    if steps[:2] == ["-", ENTER] and len(steps) > 2:
        return steps[2]
    if steps[1:3] != ["-", ENTER] or database_at(datasette, path) not in state_of(datasette).names(datasette):
        return None
    return steps[3] if len(steps) > 3 else ""


def database_at(datasette: Any, path: str) -> str | None:
    """The database in a path, even where the rest of it is wrong."""
    from datasette.utils import tilde_decode

    steps = _steps(datasette, path)
    route = tilde_decode(steps[0].partition(".")[0]) if steps else ""
    return next((name for name, one in datasette.databases.items() if one.route == route), None)


def place_of_rows(datasette: Any, path: str) -> PlaceOfRows | None:
    """Which of Datasette's pages of our databases a path is of; None for a page of our own and anything else."""
    from datasette.utils import tilde_decode

    owner, steps = owner_of(datasette, path), _steps(datasette, path)
    if owner is Owner.OURS and (not steps or (len(steps) == 1 and steps[0].startswith("."))):
        return PlaceOfRows()
    if owner is not Owner.DATASETTE:
        return None
    database = database_at(datasette, path)
    named = [tilde_decode(one) for one in (*steps[1:-1], steps[-1].partition(".")[0])] if len(steps) > 1 else []
    if named[:1] == ["-"]:
        return PlaceOfRows(database, SQL_PAGE, is_below_pages=True)
    return PlaceOfRows(database, *named) if len(named) < 3 else None


def page_beside(datasette: Any, path: str) -> str | None:
    """The name of a page beside the databases, ``/-/NAME`` or a file such as ``/robots.txt``, where every database is
    ours; None for any other path."""
    steps = _steps(datasette, path)
    if not steps or not state_of(datasette).is_alone(datasette):
        return None
    if len(steps) == 1:
        return steps[0] if database_at(datasette, path) is None else None
    return steps[1].removesuffix(".json") if len(steps) == 2 and steps[0] == "-" else None


def as_visitors_see(datasette: Any, path: str) -> str:
    """A path with the setting ``base_url`` before it, which a server in front of this one may have taken off."""
    base = str(datasette.setting("base_url"))
    return path if path.startswith(base) else base + path.removeprefix("/")


def _steps(datasette: Any, path: str) -> list[str]:
    base = str(datasette.setting("base_url"))
    below = path.partition("?")[0].removeprefix(base if path.startswith(base) else "/")
    return below.rstrip("/").split("/") if below.strip("/") else []
