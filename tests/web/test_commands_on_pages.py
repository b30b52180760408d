"""Commands to copy on the pages name the file of the book, also where its name has a blank. All data are invented."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from typing import Final
from urllib.parse import unquote, urlsplit

import pytest
from browser_team import Site, site_over
from demo_book import demo_book

from bevelbook.manual.commands import COMMANDS
from bevelbook.plugin.registry import load

NAME: Final = 'bevelbook --db "a b.db" '
NEEDS_BOOK: Final = "|".join(name for name in COMMANDS if name not in ("help", "calculators", "plugin"))
LACKING: Final = re.compile(rf"\bbevelbook (?:{NEEDS_BOOK})\b(?![^\n']*? --db ).{{0,60}}")
SPARE: Final = 2
"""Addresses of each page that are opened."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with site_over(demo_book(tmp_path_factory.mktemp("book") / "a b.db"), load()) as made:
        yield made


def pages(site: Site) -> dict[str, str]:
    """Pages by their addresses, found by following links from the first: at most so many of each."""
    found: dict[str, str] = {}
    counts: dict[str, int] = {}
    waiting = ["/"]
    while waiting:
        address = waiting.pop(0)
        which = unquote(urlsplit(address).path).partition("/-/")[2].partition("/")[0]
        if address in found or counts.get(which, 0) >= SPARE or which in ("help", "photo", "plot", "chart"):
            continue
        answer = site.get(address)
        if answer.status_code != 200 or not answer.headers["content-type"].startswith("text/html"):
            continue
        counts[which] = counts.get(which, 0) + 1
        found[address] = answer.text
        links = re.findall(r'href="(/[^"#]*)', answer.text)
        waiting += [unescape(one) for one in links if "/-/" in one and "/-/static" not in one]
    return found


def words_of(page: str) -> str:
    """What a page says, without scripts and what is typed."""
    text = re.sub(r"(?s)<(script|style|textarea|svg)\b.*?</\1>|<[^>]+>", "", page)
    return unescape(text)


def test_each_command_on_every_page_names_the_book(site: Site) -> None:
    found = pages(site)
    assert len(found) > 25
    lacking = [(address, LACKING.findall(words_of(page))) for address, page in found.items()]
    assert [one for one in lacking if one[1]] == []
    for name in ("look", "plan", "calls"):
        said = [words_of(page) for address, page in found.items() if f"/-/{name}" in address]
        assert any(NAME in one for one in said), name


def test_the_manual_on_a_page_is_of_no_book(site: Site) -> None:
    page = site.page("/a~20b/-/help/import")
    assert "bevelbook import" in words_of(page)
    assert NAME not in words_of(page)
