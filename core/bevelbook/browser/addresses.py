"""The addresses of our pages, always through Datasette, so that a base address in front of them is kept."""

from __future__ import annotations

from typing import Any, Final

PAGE_OF: Final[dict[str, str]] = {}
"""The page of ours that shows a row of a table."""


def record_address(datasette: Any, database: str, table: str, row_id: str) -> str:
    """Where one row is shown."""
    from datasette.utils import tilde_encode

    page = PAGE_OF.get(table)
    if page:
        return page_address(datasette, database, f"{page}/{tilde_encode(row_id)}")
    return str(datasette.urls.row(database, table, tilde_encode(row_id)))


def page_address(datasette: Any, database: str, page: str) -> str:
    """One of our pages of a database."""
    return f"{datasette.urls.database(database)}/-/{page}"
