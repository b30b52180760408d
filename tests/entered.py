"""A book with entry, in process: a phone that is paired, and forms sent as its browser sends them."""

from __future__ import annotations

import asyncio
import sqlite3
from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from hashlib import sha256
from pathlib import Path
from typing import Any

from browser_team import Site, Team, close

from bevelbook.plugin.registry import Registry
from bevelbook.store.book_mark import mark_of
from bevelbook.store.opening import open_for_writing
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.phone_of_request import cookie_of
from bevelbook.web.host.serve import datasette_for
from bevelbook.web.pairing.codes import PairingCodes
from bevelbook.web.pairing.host_names import HostNames
from bevelbook.web.pairing.pairings_file import PairingsFile, Phone
from bevelbook.web.pairing.who_may_write import WhoMayWrite

Form = Mapping[str, str | Sequence[str]]


class EnteredSite(Site):
    """A site with entry over a team's database, asked by one phone; ``phone`` is None for a device that is not paired.

    ``cookies`` are what its browser keeps; an answer that sets one changes them.
    """

    def __init__(self, datasette: Any, team: Team, entry: WhoMayWrite, phone: Phone | None) -> None:
        super().__init__(datasette)
        self.team = team
        self.entry = entry
        self.phone = phone
        self.token = datasette.sign("a test", "csrftoken")
        self.cookies = {"ds_csrftoken": self.token}
        if phone is not None:
            name, _, value = cookie_of(datasette, entry, phone).partition(";")[0].partition("=")
            self.cookies[name] = value

    def served_with(self, entry: WhoMayWrite) -> EnteredSite:
        """The same site with other codes, asked by a device that is not paired."""
        state_of(self.datasette).entry = entry
        return EnteredSite(self.datasette, self.team, entry, None)

    def get(self, path: str, **more: Any) -> Any:
        return self._kept(super().get(path, **{"cookies": self.cookies, **more}))

    def post(self, path: str, form: Form | None = None, **more: Any) -> Any:
        """The answer to a form with its token; redirects are not followed."""
        given = {"csrftoken": self.token, **(form or {})}
        asked = {"cookies": self.cookies, "data": given, **more}

        async def ask() -> Any:
            await self.datasette.invoke_startup()
            return await self.datasette.client.post(path, **asked)

        return self._kept(asyncio.run(ask()))

    def send(self, path: str, typed: Form) -> str:
        """The page that follows a form which was stored."""
        answer = self.post(path, typed)
        assert answer.status_code == 303, (path, answer.status_code, answer.text[:2000])
        return self.page(answer.headers["location"])

    def rows(self, sql: str, *given: object) -> list[tuple[Any, ...]]:
        """Rows of the database as it is now."""
        with closing(sqlite3.connect(self.team.path)) as connection:
            return connection.execute(sql, given).fetchall()

    def paired_with(self, phone: Phone | None) -> EnteredSite:
        """The same site, asked by another phone, or by a device that is not paired."""
        return EnteredSite(self.datasette, self.team, self.entry, phone)

    def _kept(self, answer: Any) -> Any:
        self.cookies |= {**dict(answer.cookies), "ds_csrftoken": self.token}
        return answer


_MARKED: dict[bytes, tuple[bytes, str]] = {}
"""Of each file that was given a mark: what it was before, as a hash, with what it is since, and the mark."""


def _marked(path: Path) -> str:
    """The mark of a book, which is given one. That takes as long as opening the site, so it is done once for a file."""
    before = path.read_bytes()
    key = sha256(before).digest()
    if key not in _MARKED:
        with closing(open_for_writing(path)) as connection:
            mark = mark_of(connection)
        _MARKED[key] = (path.read_bytes(), mark)
    held, mark = _MARKED[key]
    if held != before:
        path.write_bytes(held)
    return mark


@contextmanager
def entered_site(team: Team, registry: Registry, folder: Path, **more: Any) -> Iterator[EnteredSite]:
    """A site with entry over a team's database, with a phone of ana's; the pairings are kept in ``folder``."""
    mark = _marked(team.path)
    entry = WhoMayWrite(PairingsFile(folder, mark), PairingCodes(), HostNames(frozenset({"bench.test"})))
    phone = entry.phones.add("grey phone", "ana").phone
    datasette = datasette_for(team.path, registry, entry=entry, **more)
    try:
        yield EnteredSite(datasette, team, entry, phone)
    finally:
        close(datasette)
