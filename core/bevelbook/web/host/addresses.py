"""The addresses of our pages, always through Datasette, so that a base address in front of them is kept."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from bevelbook.web.host.datasette_state import state_of


def record_address(datasette: Any, database: str, table: str, row_id: str) -> str:
    """Where one row is shown."""
    from datasette.utils import tilde_encode

    page = state_of(datasette).page_showing(table)
    if page:
        return page_address(datasette, database, f"{page.name}/{tilde_encode(row_id)}")
    return str(datasette.urls.row(database, table, tilde_encode(row_id)))


def page_address(datasette: Any, database: str, page: str, given: Mapping[str, Any] | None = None) -> str:
    """The address of one of our pages of a database, with its query."""
    asked = {name: value for name, value in (given or {}).items() if value not in (None, "")}
    return f"{datasette.urls.database(database)}/-/{page}" + (f"?{urlencode(asked, doseq=True)}" if asked else "")
