"""A static site in a browser, from a plain file server and from a folder: by keyboard, without a script, on a phone.

One page of each kind is opened, from a site that is written once; writing and opening take some seven seconds.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Final

import pytest
from browser_team import make_team
from browsing import Visit
from photographed import HOSTILE_WORDS, photographed, picture
from site_files import broken_addresses

from bevelbook.plugin.registry import Registry
from bevelbook.store.invented_mark import INVENTED_WORDS, mark_invented
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.web.static_site.write_site import write_site

pytestmark = pytest.mark.browser

GRAVE: Final = ("moderate", "serious", "critical")
FAULTS: Final = {"resultTypes": ["violations"]}
OF_COLOUR: Final = {**FAULTS, "runOnly": {"type": "rule", "values": ["color-contrast", "link-in-text-block"]}}
"""What a scheme of colours can change; the other rules are asked once."""


class _Quiet(SimpleHTTPRequestHandler):
    """A plain file server that notes what it does not have."""

    missing: list[str]

    def log_message(self, format: str, *args: Any) -> None:
        pass

    def send_error(self, code: int, message: str | None = None, explain: str | None = None) -> None:
        self.missing.append(f"{code} {self.path}")
        super().send_error(code, message, explain)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The site of a team whose notes try to break a page. Without plugins: core draws a chart of its own."""
    path = tmp_path_factory.mktemp("copy") / "team.db"
    make_team(path, HOSTILE_WORDS)
    connection = open_for_writing(path)
    with transaction(connection, path):
        mark_invented(connection)
    connection.close()
    photographed(path, Registry(), ({"build": "rear-a/2", "taken_on": "2026-04-20", "piece": "outdrive"}, picture()))
    write_site(path, path.parent / "site", Registry(), as_of="27 Nov 2026")
    return path.parent / "site"


@pytest.fixture(scope="module")
def served(folder: Path) -> Iterator[tuple[str, list[str]]]:
    """The address of a plain file server over the folder, and what was asked of it that is not there."""
    missing: list[str] = []
    handler = type("Handler", (_Quiet,), {"missing": missing})
    with ThreadingHTTPServer(("127.0.0.1", 0), partial(handler, directory=str(folder))) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}", missing
        server.shutdown()


def _one_of_each(folder: Path) -> list[str]:
    """The pages at the top, and the first of each folder."""
    pages = sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*.html"))
    first = {page.rpartition("/")[0]: page for page in reversed(pages)}
    return [page for page in pages if "/" not in page or first[page.rpartition("/")[0]] == page]


@pytest.mark.parametrize(("width", "scheme"), [(390, "light"), (1280, "dark")])
def test_each_kind_of_page_opens_without_a_fault(
    served: tuple[str, list[str]], folder: Path, visit: Callable[..., Visit], width: int, scheme: str
) -> None:
    from axe_playwright_python.sync_playwright import Axe

    address, missing = served
    one = visit(width, scheme)
    asked: set[str] = set()
    one.context.on("request", lambda request: asked.add(request.url))
    wrong = []
    for page in _one_of_each(folder):
        one.to(f"{address}/{page}")
        if one.page.evaluate("document.documentElement.scrollWidth") > width:
            wrong.append((page, "wider than the screen"))
        assert INVENTED_WORDS in one.page.inner_text("body")
        for fault in Axe().run(one.page, options=FAULTS if scheme == "light" else OF_COLOUR).response["violations"]:
            if fault["impact"] in GRAVE:
                wrong.append((page, fault["id"], fault["nodes"][0]["html"][:160]))
    assert (wrong, one.faults, missing) == ([], [], [])
    assert all(url.startswith(f"{address}/") for url in asked)
    assert one.page.title() != "owned"


def test_the_search_works_by_keyboard_and_leads_to_the_page(
    served: tuple[str, list[str]], visit: Callable[..., Visit]
) -> None:
    one = visit(390)
    one.to(f"{served[0]}/index.html")
    one.page.get_by_role("link", name="Search", exact=True).press("Enter")
    one.page.get_by_label("Search all notes and names").press_sequentially("quince")
    one.page.keyboard.press("Enter")
    found = one.page.get_by_role("link", name="rear-b/2")
    found.wait_for()
    assert "pages have all of these words." in one.page.inner_text("#site-found")
    one.page.get_by_label("Search all notes and names").fill("quince nowhere")
    one.page.get_by_text("Nothing has all of these words.").wait_for()
    one.page.get_by_label("Search all notes and names").fill("rear-b/2")
    found.first.press("Enter")
    one.page.get_by_role("heading", level=1, name="rear-b/2").wait_for()
    one.page.go_back()
    assert one.faults == []


def test_what_is_typed_before_the_script_of_the_search_is_there_is_searched(
    served: tuple[str, list[str]], visit: Callable[..., Visit]
) -> None:
    """On a slow network the page is there before its script: nothing that was typed, and no Enter, is lost."""
    one = visit(390)
    waiting: list[Any] = []
    one.context.route("**/site_search.js", lambda route: waiting.append(route))
    one.page.goto(f"{served[0]}/search.html", wait_until="commit")
    field = one.page.get_by_label("Search all notes and names")
    field.wait_for()
    field.press_sequentially("quince")
    one.page.keyboard.press("Enter")
    assert one.page.locator("#site-hits").inner_text() == ""
    assert one.page.url.endswith("/search.html"), "the form sends nothing"
    assert len(waiting) == 1
    waiting[0].continue_()
    one.page.get_by_role("link", name="rear-b/2").wait_for()
    one.page.wait_for_load_state()
    assert one.page.url.endswith("#q=quince"), "the address leads back to it"
    field.press_sequentially(" nowhere")
    one.page.get_by_text("Nothing has all of these words.").wait_for()
    assert one.faults == []


def test_an_address_with_words_shows_what_they_find(served: tuple[str, list[str]], visit: Callable[..., Visit]) -> None:
    one = visit(390)
    one.to(f"{served[0]}/search.html#q=quince")
    one.page.get_by_role("link", name="rear-b/2").wait_for()
    assert one.page.get_by_label("Search all notes and names").input_value() == "quince"


def test_a_folder_opened_by_itself_is_the_same_site(folder: Path, visit: Callable[..., Visit]) -> None:
    one = visit(390)
    one.page.goto((folder / "search.html").as_uri(), wait_until="load")
    one.page.get_by_label("Search all notes and names").fill("tannery")
    one.page.get_by_role("link", name="Tannery Hall").first.click()
    assert one.page.inner_text("h1").startswith("Tannery Hall")
    assert one.page.evaluate("getComputedStyle(document.body).maxWidth") != "none", "its style sheet came along"
    assert one.faults == []
    assert list(broken_addresses(folder)) == []


def test_without_a_script_every_page_is_read_and_the_search_says_what_it_needs(
    served: tuple[str, list[str]], browser: Any
) -> None:
    context = browser.new_context(viewport={"width": 390, "height": 844}, java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{served[0]}/search.html")
    assert "The search needs a script" in page.inner_text("main")
    assert not page.locator("#site-search").is_visible()
    page.get_by_role("link", name="shelf", exact=True).click()
    page.get_by_role("link", name="rear-b", exact=True).first.click()
    assert page.inner_text("h1").startswith("rear-b")
    assert page.locator(".drawing").first.is_visible()
    context.close()
