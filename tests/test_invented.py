"""A database that says that all it holds is invented says so on every page, card and report; another one nowhere."""

from __future__ import annotations

import html
import re
import sqlite3
from collections.abc import Callable, Collection, Iterator
from pathlib import Path
from typing import Any, NamedTuple
from urllib.parse import urlencode

import pytest
from browser_team import Site, Team, close, make_team, site_over
from conftest import Outcome

from bevelbook.manual.topic_list import TOPICS
from bevelbook.plugin.registry import Registry
from bevelbook.store.invented_mark import INVENTED_WORDS, is_invented, mark_invented
from bevelbook.web.host import database_marks
from bevelbook.web.pages import help
from bevelbook.web.routes import declared_pages, our_routes


class Served(NamedTuple):
    """A database and the pages over it."""

    team: Team
    site: Site


def mark(path: Path) -> None:
    """Have a database say that it is invented."""
    with sqlite3.connect(path) as connection:
        mark_invented(connection)
    connection.close()


def unmark(path: Path) -> None:
    """Have it say so no more."""
    with sqlite3.connect(path) as connection:
        connection.execute("DELETE FROM about")
    connection.close()


@pytest.fixture(scope="module")
def marked(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Served]:
    team = make_team(tmp_path_factory.mktemp("marked") / "team.db")
    mark(team.path)
    with site_over(team.path, registry) as site:
        yield Served(team, site)


@pytest.fixture(scope="module")
def unmarked(tmp_path_factory: pytest.TempPathFactory, registry: Registry) -> Iterator[Served]:
    team = make_team(tmp_path_factory.mktemp("unmarked") / "team.db")
    with site_over(team.path, registry) as site:
        yield Served(team, site)


def ids_of(path: Path, table: str) -> list[str]:
    """The ids of the rows of a table."""
    with sqlite3.connect(path) as connection:
        found = [row[0] for row in connection.execute(f"SELECT id FROM {table}")]
    connection.close()
    return found


OF_EACH_SORT = ("builds", "about", "build_facts", "builds_search", "shelf", "what_worked")
"""A table of each sort, and two views: Datasette's pages of the others have the same templates."""


def addresses(team: Team, registry: Registry, only: Collection[str] = ()) -> list[str]:
    """Every page of ours, every table and view (or ``only`` some) with a row of each table, and faults.

    Datasette's pages about the server itself are none of the database's, and keep its own frame.
    """
    ids, ours = team.ids, "/team/-/"
    found = ["/", "/team", "/team/-/", "/nothing", "/team/nothing", "/team/-/nothing", "/team/builds/nothing"]
    found += [f"/team?{urlencode({'sql': sql})}" for sql in ("select * from shelf", "selec", "select zeroblob(0)")]
    for page in declared_pages():
        if re.fullmatch(page.below, ""):
            found.append(f"{ours}{page.name}")
        elif page.shows:
            found += [f"{ours}{page.name}/{row}" for row in (*ids_of(team.path, page.shows), "nothing")]
    found += [f"{ours}{page}/{ids[key]}" for page in ("card", "label") for key in ("rear-a/2", "front-a/1")]
    found += [f"{ours}q/nothing", "/q/nothing"]
    found += [f"{ours}help/{topic}" for topic in (*TOPICS, "headspace", "tables/builds", "nothing")]
    found += [f"{ours}day/{day}" for day in ("2026-04-10", "2026-04-10.html", "nothing")]
    found += [f"{ours}worked?grip=low&track=36", f"{ours}search?q=quince", f"{ours}compare?a=rear-a/1&b=rear-b/1"]
    found += [f"{ours}compare?a=rear-a/1&b=nothing", f"{ours}sheet?fields=all", f"{ours}sheet?car=nothing"]
    for name, offered in registry.calculators.items():
        given = {
            name: "\n".join(text) if isinstance(text, list) else text
            for name, text in offered.calculator.worked[0].given.items()
        }
        found += [f"{ours}calc/{name}", f"{ours}calc/{name}?{urlencode(given)}"]
    found += [f"{ours}reference/{name}" for name in registry.datasets()]
    found += [f"{ours}chart/{one.name}" for one in registry.charts()]
    with sqlite3.connect(team.path) as connection:
        for sort, name in connection.execute("SELECT type, name FROM sqlite_master WHERE type IN ('table', 'view')"):
            if only and name not in only:
                continue
            found.append(f"/team/{name}")
            if sort == "table" and "_search" not in name and not name.startswith("sqlite_"):
                column = connection.execute(f"PRAGMA table_info({name})").fetchone()[1]
                row = connection.execute(f"SELECT {column} FROM {name}").fetchone()
                found += [f"/team/{name}/{row[0]}"] if row else []
    connection.close()
    return found


def pages(served: Served, registry: Registry, only: Collection[str] = ()) -> Iterator[tuple[str, str]]:
    """The address and the text of every page, of all tables or ``only`` some."""
    for address in addresses(served.team, registry, only):
        answer = served.site.get(address)
        assert "text/html" in answer.headers["content-type"], address
        assert answer.status_code in (200, 400, 403, 404), (address, answer.status_code)
        yield address, html.unescape(answer.text)


def test_every_route_of_ours_is_among_the_pages(marked: Served, registry: Registry) -> None:
    """So that a page that is added later is looked at too."""
    known = [address.partition("?")[0] for address in addresses(marked.team, registry)]
    for pattern, _ in our_routes():
        if pattern != help.WITHOUT_DATABASE:
            assert any(re.match(pattern, one) for one in known), pattern


def test_every_page_of_a_marked_database_says_so_once_under_its_header(marked: Served, registry: Registry) -> None:
    for address, text in pages(marked, registry):
        times = 2 if re.search(r"/-/(card/|label/|sheet)(?!\?car=nothing)", address) else 1
        assert text.count(INVENTED_WORDS) == times, address
        before = "<body" if address.endswith(".html") else "</header>"
        assert text.index(before) < text.index(INVENTED_WORDS) < text.index("<main"), address


def test_no_page_of_another_database_says_so(unmarked: Served, registry: Registry) -> None:
    for address, text in pages(unmarked, registry, OF_EACH_SORT):
        assert INVENTED_WORDS not in text, address
        assert 'class="invented"' not in text, address


@pytest.mark.parametrize("which", ["marked", "unmarked"])
def test_the_metadata_of_the_database_says_so(request: pytest.FixtureRequest, which: str) -> None:
    served: Served = request.getfixturevalue(which)
    reply = served.site.get("/-/metadata.json").json()["databases"]["team"]
    assert reply["invented"] is (which == "marked")


def test_the_pages_are_right_as_soon_as_the_file_has_changed(tmp_path: Path, registry: Registry) -> None:
    team = make_team(tmp_path / "team.db")
    with site_over(team.path, registry) as site:
        for change, says_so in ((None, False), (mark, True), (unmark, False), (mark, True)):
            if change:
                change(team.path)
            for address in ("/", "/team/builds", "/team/nothing", "/team/-/calculators"):
                assert (INVENTED_WORDS in site.get(address).text) is says_so, (change, address)
            assert site.get("/-/metadata.json").json()["databases"]["team"]["invented"] is says_so


def test_the_database_is_asked_once_and_again_only_when_it_changed(
    tmp_path: Path, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[bool] = []

    def counted(connection: sqlite3.Connection) -> bool:
        asked.append(is_invented(connection))
        return asked[-1]

    monkeypatch.setattr(database_marks, "is_invented", counted)
    team = make_team(tmp_path / "team.db")
    with site_over(team.path, registry) as site:
        for address in ("/", "/team", "/team/builds", "/team/what_worked", "/team/-/charts"):
            site.page(address)
        assert asked == [False]
        mark(team.path)
        for address in ("/", "/team/builds"):
            site.page(address)
        assert asked == [False, True]


def test_a_file_that_is_locked_just_then_is_asked_at_the_next_page(
    tmp_path: Path, registry: Registry, monkeypatch: pytest.MonkeyPatch
) -> None:
    locked = True

    def asked(connection: sqlite3.Connection) -> bool:
        if locked:
            raise sqlite3.OperationalError("database is locked")
        return is_invented(connection)

    team = make_team(tmp_path / "team.db")
    mark(team.path)
    monkeypatch.setattr(database_marks, "is_invented", asked)
    with site_over(team.path, registry) as site:
        assert INVENTED_WORDS not in site.page("/")
        locked = False
        assert INVENTED_WORDS in site.page("/")


def test_of_two_databases_only_the_pages_of_the_marked_one_say_so(tmp_path: Path) -> None:
    from datasette.app import Datasette

    for name in ("invented.db", "real.db"):
        make_team(tmp_path / name)
    mark(tmp_path / "invented.db")
    datasette = Datasette([str(tmp_path / "invented.db"), str(tmp_path / "real.db")])
    try:
        site = Site(datasette)
        for page in ("", "/builds", "/-/calculators", "/nothing", "/-/nothing", "/-/diff/nothing"):
            assert INVENTED_WORDS in site.get(f"/invented{page}").text, page
            assert INVENTED_WORDS not in site.get(f"/real{page}").text, page
        assert site.page("/").count(INVENTED_WORDS) == 1
        assert INVENTED_WORDS not in site.get("/nothing").text
    finally:
        close(datasette)


COMMANDS = (
    ("check",),
    ("compare", "rear-a/1", "rear-b/1"),
    ("card", "rear-a/2"),
    ("card", "--run-sheet"),
    ("calc", "fill-target", "--for", "rear-a/2"),
    ("calc", "fill-target", "--dry-mass", "9.5g", "--oil-mass", "1.5g", "--keep"),
    ("calc", "fill-target", "--all", "build"),
)


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
@pytest.mark.parametrize("says_so", [True, False])
def test_what_the_commands_print_ends_with_it(
    bevelbook: Callable[..., Outcome], tmp_path: Path, words: tuple[str, ...], says_so: bool
) -> None:
    make_team(tmp_path / "team.db")
    if says_so:
        mark(tmp_path / "team.db")
    printed = bevelbook("--db", "team.db", *words).out
    assert (printed.splitlines()[-1] == INVENTED_WORDS) is says_so, printed
    assert printed.count(INVENTED_WORDS) == says_so
    reply = bevelbook("--db", "team.db", *words, "--json").json
    assert reply["invented"] is says_so


@pytest.mark.parametrize("words", [("card", "rear-a/2"), ("card", "--run-sheet")], ids=" ".join)
@pytest.mark.parametrize("says_so", [True, False])
def test_a_printed_card_and_a_run_sheet_say_so_in_their_foot(
    bevelbook: Callable[..., Outcome], tmp_path: Path, words: tuple[str, ...], says_so: bool
) -> None:
    make_team(tmp_path / "team.db")
    if says_so:
        mark(tmp_path / "team.db")
    bevelbook("--db", "team.db", *words, "--html", "page.html")
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    assert (INVENTED_WORDS in page.rpartition("<footer>")[2]) is says_so


def test_a_calculation_that_reads_no_database_says_nothing_of_it(
    bevelbook: Callable[..., Outcome], tmp_path: Path
) -> None:
    make_team(tmp_path / "team.db")
    mark(tmp_path / "team.db")
    words = ("--db", "team.db", "calc", "fill-target", "--dry-mass", "9.5g", "--oil-mass", "1.5g")
    assert INVENTED_WORDS not in bevelbook(*words).out
    assert bevelbook(*words, "--json").json["invented"] is False


@pytest.mark.parametrize("sort", ["missing", "other"])
def test_a_blank_run_sheet_needs_no_database(bevelbook: Callable[..., Outcome], tmp_path: Path, sort: str) -> None:
    if sort == "other":
        (tmp_path / "team.db").write_text("not a database", encoding="utf-8")
    done = bevelbook("--db", "team.db", "card", "--run-sheet")
    assert done.code == 0
    assert INVENTED_WORDS not in done.out


def test_the_demo_marks_its_database_and_says_so_last(bevelbook: Callable[..., Any], tmp_path: Path) -> None:
    printed = bevelbook("--db", "demo.db", "demo").out
    assert printed.splitlines()[-1] == INVENTED_WORDS
    assert bevelbook("--db", "demo.db", "demo", "--json").json["invented"] is True
    with sqlite3.connect(tmp_path / "demo.db") as connection:
        assert is_invented(connection)
    connection.close()
