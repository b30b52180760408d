"""A book with entry, and a phone of touch that writes to it and counts its taps.

The phone opens the book under a name that is mapped to this machine, as a phone in a network does: plain http under a
name is not a secure context, so that nothing which needs one is there.
"""

from __future__ import annotations

import asyncio
import os
import re
import signal
import socket
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final, NamedTuple
from urllib.parse import urlsplit

import uvicorn
from browser_team import close
from browsing import ENTRY_HOST

from bevelbook.plugin.registry import Registry
from bevelbook.scale_port.listening import ScaleListening
from bevelbook.store.book_mark import mark_of
from bevelbook.store.opening import open_for_writing
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.phone_of_request import cookie_of
from bevelbook.web.host.serve import datasette_for
from bevelbook.web.pairing.codes import PairingCodes
from bevelbook.web.pairing.host_names import HostNames
from bevelbook.web.pairing.pairings_file import PairingsFile
from bevelbook.web.pairing.who_may_write import WhoMayWrite

PHONE: Final = {"width": 390, "height": 844}
SECONDS: Final = 30
OPENS_A_PAGE: Final = """control => control.matches("a[href]:not([href^='#'])")
    || (control.matches("button:not([type=button])") && control.form !== null)"""
SLOW_FINGER: Final = """{
    const clock = performance.now.bind(performance);
    let late = 0;
    performance.now = () => clock() + (late += 1000);
}"""
"""A finger is slower than a test: whenever a page looks at its clock, a second more has gone by."""


class Book(NamedTuple):
    """A database that phones write to.

    ``code`` gives the code that pairs the next phone; ``cookie`` name and value of what the browser of a phone paired
    with a person keeps, where the book is served by a thread.
    """

    path: Path
    port: int
    code: Callable[[], str]
    cookie: Callable[[str], tuple[str, str]] | None = None

    @property
    def home(self) -> str:
        return f"http://{ENTRY_HOST}:{self.port}/"

    @property
    def address(self) -> str:
        return f"{self.home}{self.path.stem}"

    def rows(self, sql: str, *given: object) -> list[tuple[Any, ...]]:
        """Rows of the database as it is now."""
        with closing(sqlite3.connect(self.path)) as connection:
            return connection.execute(sql, given).fetchall()

    def count(self, table: str) -> int:
        """How many rows a table has."""
        return int(self.rows(f"SELECT count(*) FROM {table}")[0][0])


@contextmanager
def answering(datasette: Any, port: int = 0) -> Iterator[int]:
    """The port at which a Datasette answers meanwhile, by a thread; a ``port`` of 0 is a free one."""
    server = uvicorn.Server(uvicorn.Config(datasette.app(), log_level="warning", lifespan="on"))
    listening = socket.create_server(("127.0.0.1", port))

    def run() -> None:
        asyncio.run(datasette.invoke_startup())
        server.run(sockets=[listening])

    thread = threading.Thread(target=run, daemon=True)
    thread.start()
    try:
        yield listening.getsockname()[1]
    finally:
        server.should_exit = True
        thread.join(SECONDS)
        listening.close()


def with_entry(path: Path, folder: Path, registry: Registry) -> tuple[Any, WhoMayWrite]:
    """A Datasette of a book that phones write to; its pairings are kept in ``folder``."""
    with closing(open_for_writing(path)) as connection:
        mark = mark_of(connection)
    entry = WhoMayWrite(PairingsFile(folder, mark), PairingCodes(), HostNames(frozenset({ENTRY_HOST})))
    return datasette_for(path, registry, entry=entry), entry


def book_at(path: Path, port: int, datasette: Any, entry: WhoMayWrite) -> Book:
    """A book that a Datasette of this process serves at a port."""

    def cookie(person: str) -> tuple[str, str]:
        phone = entry.phones.add(f"{person}'s phone", person).phone
        name, _, value = cookie_of(datasette, entry, phone).partition(";")[0].partition("=")
        return name, value

    return Book(path, port, lambda: entry.codes.shown, cookie)


@contextmanager
def entered(path: Path, folder: Path, registry: Registry, *, scale: ScaleListening | None = None) -> Iterator[Book]:
    """A book with entry, served by a thread; its pairings are kept in ``folder``."""
    datasette, entry = with_entry(path, folder, registry)
    state_of(datasette).scale = scale
    try:
        with answering(datasette) as port:
            yield book_at(path, port, datasette, entry)
    finally:
        if scale is not None:
            scale.stop()
        close(datasette)


@contextmanager
def entered_by_command(path: Path, folder: Path) -> Iterator[Book]:
    """A book as the command serves it, by a process whose settings are in ``folder``."""
    words = [sys.executable, "-c", "from bevelbook.cli import main; main()", "--db", str(path)]
    words += ["enter", "--port", "0", "--name", ENTRY_HOST]
    env = {**os.environ, "PYTHONUNBUFFERED": "1", "XDG_CONFIG_HOME": str(folder)}
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env=env) as process:
        assert process.stdout is not None
        try:
            port = code = None
            while port is None or code is None:
                said = process.stdout.readline()
                assert said, "the command ended"
                port = port or re.search(r"http://[^/\s]+:(\d+)/", said)
                code = code or re.search(r"\b\d{4} \d{4}\b", said)
            shown = code[0]
            yield Book(path, int(port[1]), lambda: shown)
        finally:
            process.send_signal(signal.SIGINT)
            process.wait(timeout=SECONDS)


class TouchPhone:
    """A phone at a book, with its taps counted and all that goes wrong.

    A tap is a touch on a control. What is typed goes to the field where the cursor is, and costs a tap only where that
    is elsewhere; the digits and the Enter key of its keypad cost none.
    """

    def __init__(
        self,
        browser: Any,
        book: Book,
        *,
        scheme: str = "light",
        script: bool = True,
        slow: bool = True,
        width: int = 390,
    ) -> None:
        is_phone = width == PHONE["width"]
        self.book = book
        self.context = browser.new_context(
            viewport={"width": width, "height": PHONE["height"]},
            has_touch=True,
            is_mobile=is_phone,
            color_scheme=scheme,
            java_script_enabled=script,
        )
        if script and slow:
            self.context.add_init_script(SLOW_FINGER)
        self.taps = 0
        self.numbers = 0
        self.faults: list[str] = []
        self.refused: list[int] = []
        self.context.on("request", self._asked)
        self.page = self.context.new_page()
        self.page.on("console", self._said)
        self.page.on("pageerror", lambda fault: self.faults.append(f"script: {fault}"))
        self.page.on("dialog", lambda dialog: self.faults.append(f"dialog: {dialog.message}"))
        self.page.on("response", self._answered)

    def _asked(self, request: Any) -> None:
        if urlsplit(request.url).hostname not in (ENTRY_HOST, None):
            self.faults.append(f"left the book: {request.url}")

    def _said(self, message: Any) -> None:
        if message.type in ("error", "warning") and not message.text.startswith("Failed to load resource"):
            self.faults.append(f"console: {message.text}")

    def _answered(self, response: Any) -> None:
        if response.status >= 400:
            self.refused.append(response.status)
        if response.status >= 500:
            self.faults.append(f"{response.status}: {response.url}")

    def paired(self, person: str = "ana") -> TouchPhone:
        """Paired already, at the first page."""
        assert self.book.cookie is not None
        name, value = self.book.cookie(person)
        self.context.add_cookies([{"name": name, "value": value, "domain": ENTRY_HOST, "path": "/"}])
        return self.to_home()

    def to_home(self) -> TouchPhone:
        """Open the first page, with no tap and no number counted yet."""
        self.page.goto(self.book.home)
        self.taps = self.numbers = 0
        return self

    def to(self, below: str) -> TouchPhone:
        """Open a page below the address of the book."""
        self.page.goto(f"{self.book.address}/{below}")
        return self

    def control(self, words: str) -> Any:
        """The control with these words that can be seen: a button, a link, a choice or a line that opens."""
        main = self.page.locator("main")
        for found in (
            main.get_by_role("button", name=words, exact=True),
            main.get_by_role("link", name=words, exact=True),
            main.locator("label.way", has_text=re.compile(rf"^\s*{re.escape(words)}\s*$")),
            main.locator("summary", has_text=words),
            main.get_by_role("link", name=words),
            main.get_by_role("button", name=words),
        ):
            seen = found.locator("visible=true")
            if seen.count():
                return seen.first
        raise AssertionError(f"no control {words!r} on {self.page.url}: {self.words()[:1500]}")

    def tap(self, words: str) -> TouchPhone:
        """Touch the control with these words; the page that it opens is there afterwards."""
        control = self.control(words)
        self.taps += 1
        if control.evaluate(OPENS_A_PAGE):
            with self.page.expect_navigation(wait_until="load"):
                control.tap()
        else:
            control.tap()
        return self

    def choose(self, group: str, words: str) -> TouchPhone:
        """Touch a choice of the field with that legend."""
        legend = re.compile(rf"^\s*{re.escape(group)}")
        field = self.page.locator("fieldset", has=self.page.locator("legend", has_text=legend)).first
        self.taps += 1
        field.locator("label", has_text=re.compile(rf"^\s*{re.escape(words)}\s*$")).first.tap()
        return self

    def number(self, label: str, digits: str) -> TouchPhone:
        """Type a number into the field with that label; see :meth:`text`."""
        self.numbers += 1
        return self.text(label, digits)

    def text(self, label: str, words: str) -> TouchPhone:
        """Type into the field with that label, which costs a tap only where the cursor is not in it."""
        field = self.page.get_by_label(label, exact=True).locator("visible=true").first
        if not field.evaluate("field => field === document.activeElement"):
            self.taps += 1
            field.tap()
        field.fill("")
        self.page.keyboard.type(words)
        return self

    def press_next_key(self) -> TouchPhone:
        """The Enter key of the keypad."""
        self.page.keyboard.press("Enter")
        return self

    def words(self) -> str:
        """What the page says, with a plain space between a number and its unit."""
        return " ".join(self.page.inner_text("body").split())

    def stored(self) -> str:
        """The line that says what was stored last; empty where there is none."""
        line = self.page.locator(".stored p")
        return " ".join(line.first.inner_text().split()) if line.count() else ""

    def close(self) -> None:
        self.context.close()
