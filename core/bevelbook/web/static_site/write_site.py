"""Ask the served pages, from the first one on to wherever it leads, and write each as a file."""

from __future__ import annotations

import asyncio
import os
import posixpath
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, InputError, Place
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.days import said_for_later
from bevelbook.plugin.registry import Registry
from bevelbook.store.opened_to_read import check_is_ours
from bevelbook.web.host.copy_to_read import CopyToRead
from bevelbook.web.host.datasette_state import made_with, state_of
from bevelbook.web.host.private_datasette import close_all, log_short_tracebacks
from bevelbook.web.static_site.file_names import INDEX, file_names
from bevelbook.web.static_site.page_read import read_page
from bevelbook.web.static_site.page_rewritten import rewritten
from bevelbook.web.static_site.search_files import KINDS, SearchFiles
from bevelbook.web.static_site.standing import LIST, Addresses, CopiedPage

FILES: Final = "files"
"""The folder of style sheet and scripts."""
PICTURES: Final = "pictures"
SCRIPTS: Final = frozenset({"sun.js", "print.js", "site_search.js"})
"""The scripts that do something without a server."""
STYLES: Final = "bevelbook.css"
AT_ONCE: Final = 4
"""Pages asked for together: while one is drawn, another is put together."""
LONGEST_MS: Final = 60_000
"""What one question of a page may take, where nobody waits for it: no page is cut for want of time."""
_READ_FILE: Final = 0o644
_READ_FOLDER: Final = 0o755
"""Files for everybody to read, as a web space needs them, whatever else of the book is closed to others."""
_STATIC: Final = Path(__file__).parent.parent / "static"
_NUMBERS: Final = late_pattern(r"(\d+)")
_NEWEST_FIRST: Final = frozenset({"run", "day", "photo"})


Progress = Callable[[int, int], None]
"""Is called with how many pages there were a moment ago, and how many there are now."""


class SiteWritten(NamedTuple):
    """What was written: how many pages, how many files with all else, and how large they are together."""

    pages: int
    files: int
    size_bytes: int


@dataclass(slots=True)
class _Found:
    """A page that was asked for; its text waits in a file."""

    page: CopiedPage
    title: str = ""
    places: frozenset[str] = frozenset()


@dataclass(slots=True)
class _Crawl:
    """The pages found so far by their addresses, the pictures by theirs, and addresses that turned out to be a page
    under another one, or none."""

    addresses: Addresses
    waiting: Path
    pages: dict[str, _Found] = field(default_factory=dict)
    pictures: dict[str, str] = field(default_factory=dict)
    nowhere: set[str] = field(default_factory=set)

    def text(self, number: int) -> Path:
        """Where the text of the page that was found as that one waits."""
        return self.waiting / f"{number}.html"


def write_site(
    database: Path,
    folder: Path,
    registry: Registry,
    *,
    as_of: str,
    day: date | None = None,
    is_indexed: bool = False,
    progress: Progress | None = None,
) -> SiteWritten:
    """Write the pages of a database that nobody writes to meanwhile into a folder, with ``index.html`` as the first.

    ``as_of`` is when the copy was made, as every page says it, and ``day`` the day of its plans, the clock's if not
    given; ``progress`` is called while pages are asked for. The same content, day and name of the file give the same
    bytes. Raises DatabaseError where the file is none of ours or a page of it cannot be made, and InputError where the
    folder holds a site already or cannot be written.
    """
    if os.path.lexists(folder / INDEX):
        raise InputError(
            "there is a first page in this folder already",
            code="file_exists",
            place=Place(str(folder / INDEX)),
            remedy="Choose another folder, or move that file.",
        )
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with TemporaryDirectory(dir=folder, prefix=".asked-") as waiting:
            datasette = datasette_for_copy(database, registry, CopyToRead(as_of, day), is_indexed=is_indexed)
            return asyncio.run(_written(datasette, database.stem, folder, Path(waiting), progress or (lambda *_: None)))
    except OSError as fault:
        raise InputError(
            "the pages cannot be written",
            code="not_writable",
            place=Place(str(folder)),
            found=fault.strerror or str(fault),
            remedy="Name a folder that you may write to, on a disk with room.",
        ) from fault


def datasette_for_copy(path: Path, registry: Registry, copy: CopyToRead, *, is_indexed: bool = False) -> Any:
    """A Datasette over a file that nobody writes to meanwhile, whose pages are written as files. Raises DatabaseError
    for a file that is none of ours."""
    from datasette.app import Datasette

    check_is_ours(path)
    log_short_tracebacks()
    settings = {"default_allow_sql": False, "suggest_facets": False, "sql_time_limit_ms": LONGEST_MS}
    made = made_with(partial(Datasette, [], immutables=[str(path)], settings=settings), registry, copy=copy)
    state_of(made).is_found_by_search = is_indexed
    return made


async def _written(datasette: Any, database: str, folder: Path, waiting: Path, progress: Progress) -> SiteWritten:
    try:
        await datasette.invoke_startup()
        with said_for_later():
            return await _as_files(datasette, await _asked(datasette, database, waiting, progress), folder)
    finally:
        close_all(datasette)


async def _asked(datasette: Any, database: str, waiting: Path, progress: Progress) -> _Crawl:
    """Ask for every page that the first one leads to, in the order in which they are found."""
    crawl = _Crawl(Addresses(datasette, database), waiting)
    first = crawl.addresses.standing(crawl.addresses.home)
    search = crawl.addresses.standing(crawl.addresses.search)
    assert first is not None and search is not None
    next_ones = [first, search]
    known = {one.address for one in next_ones}
    while next_ones:
        before = len(crawl.pages)
        now, next_ones = next_ones[:AT_ONCE], next_ones[AT_ONCE:]
        answers = await asyncio.gather(*(_answer(datasette, one.address) for one in now))
        for page, html in zip(now, answers, strict=True):
            if html is None:
                crawl.nowhere.add(page.address)
                continue
            for found in _taken_in(crawl, page, html):
                if found.address not in known:
                    known.add(found.address)
                    next_ones.append(found)
        progress(before, len(crawl.pages))
    return crawl


def _taken_in(crawl: _Crawl, page: CopiedPage, html: str) -> Iterator[CopiedPage]:
    """Keep a page, and give those that it leads to."""
    read = read_page(html)
    crawl.text(len(crawl.pages)).write_text(html, encoding="utf-8")
    crawl.pages[page.address] = _Found(page, read.title, read.places)
    for written in (*read.links, *read.pictures):
        address = crawl.addresses.absolute(page.address, written)
        picture = crawl.addresses.picture(address)
        if picture is not None:
            crawl.pictures.setdefault(address, f"{PICTURES}/{picture}")
        standing = crawl.addresses.standing(address, on_a_list=page.name == LIST)
        if standing is not None:
            yield standing


async def _answer(datasette: Any, address: str) -> str | None:
    """The page at an address; None where there is none. Raises DatabaseError where it cannot be made."""
    answer = await datasette.client.get(address)
    if answer.status_code == 404:
        return None
    if answer.status_code != 200:
        raise DatabaseError(
            "a page of this database cannot be made",
            code="page_not_made",
            found=f"{address} ({answer.status_code})",
            remedy="Look at the database with 'bevelbook check', and open that page under 'bevelbook serve'.",
        )
    return str(answer.text)


class _Writing:
    """Writes files below a folder, and counts them."""

    def __init__(self, folder: Path) -> None:
        self._folder = folder
        self.files = 0
        self.size_bytes = 0

    def write(self, name: str, content: bytes) -> None:
        path = self._folder / name
        if not path.parent.is_dir():
            path.parent.mkdir()
            path.parent.chmod(_READ_FOLDER)
        path.write_bytes(content)
        path.chmod(_READ_FILE)
        self.files += 1
        self.size_bytes += len(content)


async def _as_files(datasette: Any, crawl: _Crawl, folder: Path) -> SiteWritten:
    """Write each page that was asked for, the pictures, the words of the search, and what all pages need."""
    writing = _Writing(folder)
    names = file_names((one.page, one.title) for one in crawl.pages.values())
    for number, found in enumerate(crawl.pages.values()):
        html = crawl.text(number).read_text(encoding="utf-8")
        name = names[found.page.address]
        writing.write(name, rewritten(html, _leading(crawl, names, found.page, name)).encode())
    for name, text in _search_files(crawl, names):
        writing.write(name, text.encode())
    for address, name in crawl.pictures.items():
        answer = await datasette.client.get(address)
        if answer.status_code == 200:
            writing.write(name, answer.content)
    for name in sorted({STYLES, *SCRIPTS}):
        writing.write(f"{FILES}/{name}", (_STATIC / name).read_bytes())
    return SiteWritten(len(crawl.pages), writing.files, writing.size_bytes)


def _leading(crawl: _Crawl, names: dict[str, str], page: CopiedPage, own: str) -> Callable[[str], str | None]:
    """Where the addresses on a page lead, seen from its file."""
    here = posixpath.dirname(own) or "."

    def leads(written: str) -> str | None:
        if written.startswith("#"):
            return written
        address = crawl.addresses.absolute(page.address, written)
        ours = crawl.addresses.file_of_ours(address)
        if ours is not None:
            return posixpath.relpath(f"{FILES}/{ours}", here) if ours in {STYLES, *SCRIPTS} else None
        if address in crawl.pictures:
            return posixpath.relpath(crawl.pictures[address], here)
        standing = crawl.addresses.standing(address, on_a_list=page.name == LIST)
        if standing is None or standing.address not in names:
            return None
        place = written.partition("#")[2]
        known = place in crawl.pages[standing.address].places
        return posixpath.relpath(names[standing.address], here) + (f"#{place}" if known else "")

    return leads


def _search_files(crawl: _Crawl, names: dict[str, str]) -> Iterator[tuple[str, str]]:
    """The files of the search: of each kind the pages by name, of those that have a day the newest first."""
    search = SearchFiles()
    by_kind: dict[str, list[tuple[int, _Found]]] = {name: [] for name, _ in KINDS}
    for number, found in enumerate(crawl.pages.values()):
        if found.page.below and found.page.name in by_kind:
            by_kind[found.page.name].append((number, found))
    for name, heading in KINDS:
        search.begin(heading)
        listed = sorted(by_kind[name], key=lambda one: (_in_order(one[1].title), names[one[1].page.address]))
        for number, found in reversed(listed) if name in _NEWEST_FIRST else listed:
            words = read_page(crawl.text(number).read_text(encoding="utf-8")).words
            search.add(names[found.page.address], found.title, words)
    yield from search.files()


def _in_order(title: str) -> Sequence[tuple[int, int, str]]:
    """A name so that rear-a/2 comes before rear-a/10."""
    parts = _NUMBERS.split(title.lower())
    return [(0, int(part), "") if part.isdecimal() else (1, 0, part) for part in parts]
