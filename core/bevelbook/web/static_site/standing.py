"""Which addresses of the served pages stand in a copy that is read without a server, and which are the same page."""

from __future__ import annotations

from typing import Any, Final, NamedTuple
from urllib.parse import parse_qsl, urljoin, urlsplit

from bevelbook.web.host.addresses import OWN_FILES, page_address
from bevelbook.web.host.datasette_state import state_of

HOME: Final = "home"
SEARCH: Final = "search"
LIST: Final = "list"
"""The folder of pages of the rows of a table."""
OVERVIEWS: Final = frozenset({"shelf", "what_worked"})
"""Views whose rows are diffs, builds and runs."""
_OF_A_LIST: Final = frozenset({"_sort_desc", "_next", "_from"})
"""What an address of a list may say besides the columns it is narrowed down by."""
_NEXT: Final = "_next"
_ASKED_IN_PROCESS: Final = "localhost"
"""The name of the server in the addresses of a Datasette that is asked in this process."""
_PICTURE: Final = ".jpg"


class CopiedPage(NamedTuple):
    """A page of the copy: its address as it is asked for, the name of the page, and what follows the name.

    ``is_record`` is whether it is the page of one record, whose address says an id where people say a name.
    """

    address: str
    name: str
    below: str = ""
    is_record: bool = False


class Addresses:
    """The addresses of one database, as its pages have them."""

    def __init__(self, datasette: Any, database: str) -> None:
        self._state = state_of(datasette)
        self._root = str(datasette.urls.instance())
        self._database = str(datasette.urls.database(database))
        self.home = page_address(datasette, database, HOME)
        self.search = page_address(datasette, database, SEARCH)
        self._files = self._root + "/".join(OWN_FILES) + "/"

    def absolute(self, base: str, written: str) -> str:
        """An address on a page as one of the site: with its path from the root, without its place on the page. Empty
        for an address elsewhere, such as one in a note."""
        parts = urlsplit(urljoin(base, written))
        if parts.netloc not in ("", _ASKED_IN_PROCESS):
            return ""
        query = f"?{parts.query}" if parts.query else ""
        return f"{parts.path}{query}"

    def file_of_ours(self, address: str) -> str | None:
        """The name of a file of ``web/static``; None for any other address."""
        return address.removeprefix(self._files) if address.startswith(self._files) else None

    def picture(self, address: str) -> str | None:
        """The name of a picture; None for any other address."""
        name = address.rpartition("/")[2]
        return name if address.startswith(f"{self._database}/-/photo/") and name.endswith(_PICTURE) else None

    def standing(self, address: str, *, on_a_list: bool = False) -> CopiedPage | None:
        """The page that stands in the copy at an address; None where none does.

        From a page of a list only its next one is followed: other orders of the same rows are not written.
        """
        path, _, query = address.partition("?")
        if path in (self._root, self._database + "/-/", self.home):
            return CopiedPage(self.home, HOME)
        if path.startswith(f"{self._database}/-/"):
            name, _, below = path.removeprefix(f"{self._database}/-/").partition("/")
            return self._page(address, name, below, query)
        table = path.removeprefix(f"{self._database}/") if path.startswith(f"{self._database}/") else ""
        return self._list(address, table, query, on_a_list)

    def _page(self, address: str, name: str, below: str, query: str) -> CopiedPage | None:
        if not self._state.is_in_copy(name) or below.endswith((_PICTURE, ".html")):
            return None
        if name == SEARCH:
            return CopiedPage(self.search, name)
        shown = below != "" and name in self._state.pages_of_records
        return CopiedPage(address, name, below or query, shown)

    def _list(self, address: str, table: str, query: str, on_a_list: bool) -> CopiedPage | None:
        page = self._state.page_showing(table)
        if table not in OVERVIEWS and (page is None or not self._state.is_in_copy(page.name)):
            return None
        asked = {key for key, _ in parse_qsl(query)}
        if any((key.startswith("_") and key not in _OF_A_LIST) or "__" in key for key in asked):
            return None
        if on_a_list and _NEXT not in asked:
            return None
        return CopiedPage(address, LIST, query or table)
