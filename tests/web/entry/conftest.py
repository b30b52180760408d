"""A site in entry mode over the small team, as a paired phone sees it."""

from __future__ import annotations

import asyncio
import re
import sqlite3
from collections.abc import Iterator, Mapping
from html import unescape
from pathlib import Path
from typing import Any

import pytest
from browser_team import Site, Team, close, make_team

from bevelbook.plugin.registry import Registry
from bevelbook.web.host.serve import datasette_for

PERSON = "ana"


class PairedSite(Site):
    """A site that a paired phone asks, with the cookies that it keeps."""

    def __init__(self, datasette: Any, team: Team, person: str = PERSON) -> None:
        super().__init__(datasette)
        self.team = team
        self.cookies = {"ds_actor": datasette.sign({"a": {"id": "phone:1", "phone": "1", "name": person}}, "actor")}

    def get(self, path: str, **more: Any) -> Any:
        answer = super().get(path, cookies=self.cookies, **more)
        self.cookies.update(answer.cookies)
        return answer

    def post(self, path: str, typed: Mapping[str, Any], **more: Any) -> Any:
        """The answer to a form, sent with the token of the pages."""
        self.get("/")
        form = {"csrftoken": self.cookies.get("ds_csrftoken", ""), **typed}

        async def ask() -> Any:
            await self.datasette.invoke_startup()
            return await self.datasette.client.post(path, data=form, cookies=self.cookies, **more)

        answer = asyncio.run(ask())
        self.cookies.update(answer.cookies)
        return answer

    def send(self, path: str, typed: Mapping[str, Any]) -> str:
        """The page that follows a form which was stored."""
        answer = self.post(path, typed)
        assert answer.status_code == 303, (path, answer.status_code, words(answer.text)[:2000])
        return self.page(answer.headers["location"])

    def rows(self, sql: str, *given: object) -> list[tuple[Any, ...]]:
        """Rows of the database as it is now."""
        with sqlite3.connect(self.team.path) as connection:
            found = connection.execute(sql, given).fetchall()
        connection.close()
        return found


def words(page: str) -> str:
    """The text of a page."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.fixture
def paired_site(tmp_path: Path, registry: Registry) -> Iterator[PairedSite]:
    team = make_team(tmp_path / "team.db")
    datasette = datasette_for(team.path, registry, entry=True)
    try:
        yield PairedSite(datasette, team)
    finally:
        close(datasette)
