"""Links to records and to our pages within one database."""

from __future__ import annotations

from typing import Any

from markupsafe import Markup

from bevelbook.web.host.addresses import linked, page_address, record_address, table_address
from bevelbook.web.host.datasette_state import state_of


class Linker:
    """Makes links within one database."""

    def __init__(self, datasette: Any, database: str) -> None:
        self._datasette = datasette
        self.database = database

    @property
    def is_in_copy(self) -> bool:
        """Whether the page is written as a file, to be read without a server."""
        return state_of(self._datasette).copy is not None

    def record(self, table_name: str, row_id: str | None, label: object, *, place: str = "") -> Markup | str:
        """A link to a row, or the label alone without a row; ``place`` is a section of its page."""
        if row_id is None:
            return "" if label is None else str(label)
        address = record_address(self._datasette, self.database, table_name, row_id) + (f"#{place}" if place else "")
        return linked(address, label if label not in (None, "") else row_id[-6:])

    def page(self, page: str, **given: Any) -> str:
        """The address of one of our pages."""
        return page_address(self._datasette, self.database, page, given)

    def to(self, page: str, label: object, **given: Any) -> Markup:
        """A link to one of our pages."""
        return linked(self.page(page, **given), label)

    def rows(self, table: str, label: object, **given: Any) -> Markup:
        """A link to the rows of a table or view that have the values given."""
        return linked(table_address(self._datasette, self.database, table, given), label)


class NamesOnly(Linker):
    """Names in place of links, for a file that is read away from the server."""

    def __init__(self, database: str) -> None:
        self.database = database

    @property
    def is_in_copy(self) -> bool:
        return False

    def record(self, table_name: str, row_id: str | None, label: object, *, place: str = "") -> Markup | str:
        """The label alone."""
        return str(label) if label not in (None, "") else (row_id or "")[-6:]

    def page(self, page: str, **given: Any) -> str:
        """No address: there is no server."""
        return ""

    def to(self, page: str, label: object, **given: Any) -> Markup:
        """The label alone."""
        return Markup("{}").format(label)

    def rows(self, table: str, label: object, **given: Any) -> Markup:
        """The label alone."""
        return Markup("{}").format(label)
