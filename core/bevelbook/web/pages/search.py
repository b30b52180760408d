"""Search over all notes and names."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from itertools import groupby
from typing import Any, Final, NamedTuple

from markupsafe import Markup, escape

from bevelbook.facts.sql import Row
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, Kind
from bevelbook.reports import questions
from bevelbook.reports.search import HIT_END, HIT_START, Found, search_records
from bevelbook.web.host.arguments import Argument
from bevelbook.web.host.page import NavigationEntry, Page
from bevelbook.web.shared.blocks import ListedBlock
from bevelbook.web.shared.blocks_of_runs import run_block
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.request import page_request
from bevelbook.web.shared.sentences import build_sentence

BUILD, RUN = BY_NAME["build"], BY_NAME["run"]
PLACE_ON_BUILD: Final = {"weighing": "oil-lost", "opening": "openings"}
"""The sections of a build's page where its weighings count, and where its openings are."""
EACH: Final = 15
LONGEST_QUERY: Final = 200


class Hit(NamedTuple):
    """A row that was found, with the words around what was searched for."""

    link: Markup | str
    excerpt: Markup


class SearchGroup(NamedTuple):
    """The hits of one kind of record; runs are ``blocks`` with what is needed to choose among them."""

    title: str
    hits: list[Hit]
    blocks: list[ListedBlock]

    @property
    def is_cut(self) -> bool:
        """Whether there may be more than are shown."""
        return len(self.hits) + len(self.blocks) == EACH


class SearchPage(NamedTuple):
    """The rows with all of the words, the builds and runs among them by id, the builds of weighings and openings, and
    the calculators that speak of the words."""

    hits: list[Found]
    builds: dict[str, Row]
    runs: dict[str, list[Row]]
    build_of: dict[str, str]
    calculators: list[Calculator[Any, Any]]


def search_page_of(connection: sqlite3.Connection, registry: Registry, words: str) -> SearchPage:
    """What is found for some words; nothing for none."""
    if not words:
        return SearchPage([], {}, {}, {}, [])
    known = sorted((one.calculator for one in registry.calculators.values()), key=lambda one: one.title)
    sought = words.lower()
    speaking = [one for one in known if sought in f"{one.title} {one.purpose} {one.question}".lower()]
    hits = search_records(connection, words, EACH)
    builds = questions.builds_by_id(connection, [one.row_id for one in hits if one.kind is BUILD])
    runs = questions.runs_by_id(connection, [one.row_id for one in hits if one.kind is RUN])
    return SearchPage(hits, builds, runs, _build_of(connection, hits), speaking)


def _build_of(connection: sqlite3.Connection, hits: Sequence[Found]) -> dict[str, str]:
    """The build of each weighing and opening that was found, by its id."""
    found: dict[str, str] = {}
    for kind in PLACE_ON_BUILD:
        ids = json.dumps([one.row_id for one in hits if one.kind.name == kind])
        table = BY_NAME[kind].table
        asked = f"SELECT id, build FROM {table} WHERE build IS NOT NULL AND id IN (SELECT value FROM json_each(?))"
        found.update(tuple(row) for row in connection.execute(asked, (ids,)))
    return found


async def search(request: Any, datasette: Any) -> Any:
    """Search all notes and names."""
    page = await page_request(datasette, request)
    words = page.given("q")
    found = await page.ask(search_page_of, page.registry, words)
    return await page.render(
        PAGE,
        f"Search: {words}" if words else "Search",
        words=words,
        groups=[_group(page.links, kind, list(hits), found) for kind, hits in groupby(found.hits, _kind_of)],
        each=EACH,
        calculators=[(page.links.page(f"calc/{one.name}"), one) for one in found.calculators],
    )


def _kind_of(found: Found) -> Kind:
    return found.kind


def _group(links: Linker, kind: Kind, hits: list[Found], found: SearchPage) -> SearchGroup:
    if kind is RUN:
        blocks = [
            run_block(links, found.runs[one.row_id], excerpt=_marked(one.excerpt))
            for one in hits
            if one.row_id in found.runs
        ]
        return SearchGroup(kind.title, [], blocks)
    return SearchGroup(kind.title, [_hit(links, one, found) for one in hits], [])


def _hit(links: Linker, one: Found, found: SearchPage) -> Hit:
    """A hit with its name, a build with its oil and day; a weighing or an opening leads to its place on the page of its
    build. An excerpt that only repeats the name is left out."""
    link: Markup | str
    if one.row_id in found.builds:
        link = build_sentence(links, found.builds[one.row_id])
    elif one.row_id in found.build_of:
        link = links.record("builds", found.build_of[one.row_id], one.name, place=PLACE_ON_BUILD[one.kind.name])
    else:
        link = links.record(one.kind.table, one.row_id, one.name)
    is_name = one.excerpt.replace(HIT_START, "").replace(HIT_END, "") == one.name
    return Hit(link, Markup("") if is_name else _marked(one.excerpt))


def _marked(excerpt: str) -> Markup:
    text = str(escape(excerpt))
    return Markup(text.replace(HIT_START, "<mark>").replace(HIT_END, "</mark>"))


_WORDS: Final = Argument(
    "q", f"words of at most {LONGEST_QUERY} letters", lambda given: len(given.strip()) <= LONGEST_QUERY
)
PAGE: Final = Page("search", search, navigation=NavigationEntry("Search", 50), in_copy=True, takes=(_WORDS,))
