"""Commands to copy on the pages name the file of the book, also where its name has a blank. All data are invented."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote, urlsplit

import pytest
from browser_team import Site, Team, site_over
from demo_book import demo_book
from entered import EnteredSite, entered_site
from handing_over import hand_over, typed_on

from bevelbook.declare.errors import InputError
from bevelbook.display.unbroken import COMMANDS_IN_TEXT
from bevelbook.manual.commands import COMMANDS, READING_WITH, WRITING, WRITING_WITH
from bevelbook.manual.commands_left_out import without_writing, writes
from bevelbook.plugin.registry import load
from bevelbook.web.entry.request import EntryRequest, Kept
from bevelbook.web.host.commands_of_book import IN_ITS_FOLDER, for_readers

NAME: Final = 'bevelbook --db "a b.db" '
NEEDS_BOOK: Final = "|".join(name for name in COMMANDS if name not in ("help", "calculators", "plugin"))
LACKING: Final = re.compile(rf"\bbevelbook (?:{NEEDS_BOOK})\b(?![^\n']*? --db ).{{0,60}}")
SPARE: Final = 2
"""Addresses of each page that are opened."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Site]:
    with site_over(demo_book(tmp_path_factory.mktemp("book") / "a b.db"), load()) as made:
        yield made


@pytest.fixture(scope="module")
def served(site: Site) -> dict[str, str]:
    return pages(site)


@pytest.fixture(scope="module")
def entered(tmp_path_factory: pytest.TempPathFactory) -> Iterator[EnteredSite]:
    folder = tmp_path_factory.mktemp("entered")
    with entered_site(Team(demo_book(folder / "a b.db"), {}), load(), folder / "settings") as made:
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


def test_each_command_on_every_page_names_the_book(served: dict[str, str]) -> None:
    found = served
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


def test_a_page_with_such_a_command_says_once_where_it_is_typed_and_no_page_where_the_book_lies(
    site: Site, served: dict[str, str], entered: EnteredSite
) -> None:
    """Such a command works in the folder of the book alone; which folder that is, is nobody's business but its own."""
    more = {**served, "lost": site.get("/a~20b/-/build/nowhere").text}
    for name in ("give", "import", "phone", "run", "stock"):
        more[f"enter/{name}"] = entered.page(f"/a~20b/-/enter/{name}")
    said = {address: words_of(page).count(IN_ITS_FOLDER) for address, page in more.items()}
    assert said == {address: int(NAME in words_of(page)) for address, page in more.items()}
    assert set(said.values()) == {0, 1}
    assert said["enter/give"] == 1
    folders = [site.datasette.databases["a b"].path, str(entered.team.path)]
    assert [
        (address, path) for address, page in more.items() for path in folders if str(Path(path).parent) in page
    ] == []


def test_the_foot_is_where_it_is_said_and_a_page_without_one_says_it_at_its_end(served: dict[str, str]) -> None:
    page = next(page for address, page in served.items() if "/-/look" in address)
    foot = page.rpartition("<footer>")[2]
    assert IN_ITS_FOLDER in words_of(foot)
    assert page.rstrip().endswith("</html>")


def test_a_phone_shows_the_command_for_its_file_with_the_book(entered: EnteredSite) -> None:
    page = entered.page("/a~20b/-/enter/run")
    assert 'data-bring-in="bevelbook --db &#34;a b.db&#34; import FILE"' in page


def test_what_a_script_is_answered_names_the_book_and_says_where_to_type_it(
    entered: EnteredSite, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What the gate refuses, a fault, a form that is asked about and one that is stored, each with a command."""
    path = "/a~20b/-/enter/idea"
    said, named = "Look at it with 'bevelbook check'.", f"Look at it with '{NAME}check'."
    kept = typed_on(entered, path, {"text": "try it thinner"})
    refused = hand_over(entered, path, kept, headers={"host": "elsewhere.test"})
    assert (refused["code"], refused["words"].count(f"'{NAME}enter ... --name NAME'")) == ("other_name", 1)
    assert refused["words"].endswith(f". {IN_ITS_FOLDER}")

    async def fail(*_given: object, **_more: object) -> None:
        raise InputError("a fault", code="no_records", remedy=said)

    with monkeypatch.context() as patched:
        patched.setattr("bevelbook.web.entry.pages.idea.answer_new", fail)
        assert hand_over(entered, path, kept)["words"].endswith(f"{named} {IN_ITS_FOLDER}")
    with monkeypatch.context() as patched:
        patched.setattr("bevelbook.web.entry.request.words_of_page", lambda _context: said)
        assert hand_over(entered, path, {**kept, "text": ""})["words"] == f"{named} {IN_ITS_FOLDER}"
    stored = EntryRequest.stored

    def stored_with_command(asked: EntryRequest, address: str, done: Kept[Any], **_more: object) -> Any:
        return stored(asked, address, done, more=("It is so.", said), left_out=(said,))

    monkeypatch.setattr(EntryRequest, "stored", stored_with_command)
    answer = hand_over(entered, path, kept)
    assert (answer["done"], answer["more"]) == ("stored", ["It is so.", named, IN_ITS_FOLDER])
    assert answer["left_out"] == [named], "a script finds it among the others by its words"


def test_a_copy_for_others_shows_no_command_that_writes(
    bevelbook: Callable[..., object], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Served, and as files: what is left still says what was found, and no line is empty."""
    monkeypatch.chdir(tmp_path)
    demo_book(tmp_path / "a b.db")
    bevelbook("--db", "a b.db", "edition", "shown", "--without-people", "--static", "--yes")
    as_files = {path.name: path.read_text() for path in (tmp_path / "shown").rglob("*.html")}
    (file,) = (tmp_path / "shown").glob("*.db")
    with site_over(file, load()) as site:
        as_served = pages(site)
    for found in (as_files, as_served):
        shown = [(name, one) for name, page in found.items() for one in commands_in(page)]
        assert [one for one in shown if writes(one[1])] == []
        look = next(page for name, page in found.items() if name.endswith(("look.html", "/-/look")))
        assert "look at shafts, gears and seals, and note what you find." in words_of(look)
        assert "write that build. If the day is wrong, correct it. If the build is, name the right one." in words_of(
            look
        )
        assert re.findall(r"<br>\s*<span[^>]*>\s*</span>|<(?:p|li)[^>]*>\s*</(?:p|li)>", look) == []
        assert any("calc fill-target" in one for _, one in shown), "what only works something out stays"
    assert not any(IN_ITS_FOLDER in page for page in as_files.values())
    assert IN_ITS_FOLDER in as_served[next(one for one in as_served if one.endswith("/-/look"))]


def commands_in(page: str) -> list[str]:
    """Each command that a page shows, in quotes or as code."""
    marked = re.sub(r"<code\b[^>]*>(bevelbook [^<]*)</code>", lambda found: f"'{found[1]}'", page)
    return [found[0] for found in COMMANDS_IN_TEXT.finditer(words_of(marked)) if "bevelbook" in found[0]]


@pytest.mark.parametrize(
    ("text", "left"),
    [
        ("Correct it: 'bevelbook record build \"a. B\" oil_mass=...'.", "Correct it."),
        ("Record it once ('bevelbook record scale pocket step=0.01g'), then weigh.", "Record it once, then weigh."),
        ("A car more: 'bevelbook record car name=...' first. It is so.", "It is so."),
        ("For notes: 'bevelbook import --again \"a.csv\"', which sorts them.", ""),
        ("If it is right: 'bevelbook scale-check pocket --set --yes'. Else weigh.", "Else weigh."),
        ("Two are one: 'bevelbook record build a'; 'bevelbook record build b'.", "Two are one."),
        ("Order 3 more: on the page Stock of 'bevelbook enter'.", "Order 3 more."),
        ("A view is gone; 'bevelbook check --rebuild' makes it again.", "A view is gone."),
        ("For all: 'bevelbook calc viscosity --all build'. 'bevelbook check' has more.", "'bevelbook check' has more."),
        (
            "These are old; pages show them: 'bevelbook check --rebuild' makes them new.",
            "These are old; pages show them.",
        ),
        (
            "Say what it is made of: 'bevelbook record diff a housing_material=steel' (or so).",
            "Say what it is made of.",
        ),
        ("More than 50 are new; for all: 'bevelbook calc viscosity --all build'", "More than 50 are new"),
        ("Look at copies: 'bevelbook backup --list', 'bevelbook import a.csv --dry-run'.", None),
        ("Older ones are left out. 'bevelbook check --past' lists them.", None),
        ("Measure it with 'bevelbook calc falling-ball', or leave it.", None),
    ],
)
def test_a_command_that_writes_is_left_out_with_what_leads_to_it(text: str, left: str | None) -> None:
    assert without_writing(text) == (text if left is None else left)


def test_links_around_what_is_left_out_stay_whole() -> None:
    line = '<p>See <a href="/a">rear-a</a>. <a href="/b">rear-b</a> is put right by <code>bevelbook join a b</code></p>'
    assert for_readers(line) == '<p>See <a href="/a">rear-a</a>.</p>'
    assert for_readers("<ul> <li><code>bevelbook merge a.db</code></li></ul><p>x</p>") == "<p>x</p>"


def test_what_is_said_to_write_are_commands() -> None:
    assert WRITING | set(WRITING_WITH) <= set(COMMANDS)
    assert set(READING_WITH) <= WRITING and not WRITING & set(WRITING_WITH)
