"""Two laptops with entry in one network, as real servers on this machine, each with a phone that ana or bo holds."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from html import unescape
from pathlib import Path
from typing import Any, Final

import httpx
from browser_team import close
from entry_phone import answering, with_entry
from web.entry.conftest import words

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.phone_of_request import cookie_of

CODE: Final = re.compile(r"\b(\d{4}) (\d{4})\b")


class ServedLaptop:
    """A laptop at an address, asked by a browser whose phone is paired."""

    def __init__(self, path: Path, person: str, datasette: Any, port: int) -> None:
        self.path = path
        self.datasette = datasette
        self.address = f"127.0.0.1:{port}"
        entry = state_of(datasette).entry
        assert entry is not None
        state_of(datasette).entry = entry._replace(addresses=lambda: (self.address,))
        phone = entry.phones.add(f"{person}'s phone", person).phone
        name, _, value = cookie_of(datasette, entry, phone).partition(";")[0].partition("=")
        self.browser = httpx.Client(base_url=f"http://{self.address}", cookies={name: value}, timeout=30)
        self.page = f"/{path.stem}/-/enter"

    def open(self, address: str) -> httpx.Response:
        return self.browser.get(address, follow_redirects=True)

    def send(self, address: str, /, **typed: str) -> httpx.Response:
        """The page after a form was sent that is on the page at an address."""
        token = re.search(r'name="csrftoken" value="([^"]+)"', self.open(address).text)
        assert token is not None
        return self.browser.post(address, data={"csrftoken": token[1], **typed}, follow_redirects=True)

    def rows(self, sql: str, *given: object) -> list[tuple[Any, ...]]:
        """Rows of the database as it is now."""
        with closing(sqlite3.connect(self.path)) as connection:
            return connection.execute(sql, given).fetchall()

    def shows_code(self, since: str = "2020-01-01", with_files: str = "no") -> str:
        """Have it give what was touched since a day; the code that it shows."""
        looked = self.send(f"{self.page}/give", since=since, with_files=with_files)
        assert looked.status_code == 200, looked.text
        shown = self.send(looked.url.path, show="yes")
        code = CODE.search(words(shown.text))
        assert code is not None, words(shown.text)
        self.giving = shown.url.path
        return "".join(code.groups())

    def gathers(self, address: str, code: str) -> httpx.Response:
        """The page after address and code were typed."""
        return self.send(f"{self.page}/gather", address=address, code=code)


def said(answer: httpx.Response) -> str:
    """The text of a page, with plain spaces."""
    return unescape(words(answer.text)).replace("\N{NO-BREAK SPACE}", " ")


@contextmanager
def served_laptop(path: Path, person: str, folder: Path, registry: Registry) -> Iterator[ServedLaptop]:
    """A laptop that answers meanwhile; its pairings are kept in ``folder``."""
    datasette, _ = with_entry(path, folder, registry)
    try:
        with answering(datasette) as port:
            made = ServedLaptop(path, person, datasette, port)
            try:
                yield made
            finally:
                made.browser.close()
    finally:
        close(datasette)
