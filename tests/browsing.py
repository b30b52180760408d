"""A Chromium, a served database and a visit to its pages, with all that goes wrong on them."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Final
from urllib.parse import urlsplit

CHROMIUM: Final = next(
    filter(None, map(shutil.which, ("chromium-headless-shell", "chromium", "chromium-browser"))), None
)
"""The one without windows draws the same pages in half the processor time, and is taken where it is there."""
ENTRY_HOST: Final = "bench.test"
"""A name for this machine as a phone in a network has one; only the browser of the tests knows it."""
ARGUMENTS: Final = (
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    f"--host-resolver-rules=MAP {ENTRY_HOST} 127.0.0.1",
)


def served(path: Path) -> Iterator[str]:
    """The address of a database, served by a process of its own."""
    words = [sys.executable, "-c", "from bevelbook.cli import main; main()", "--db", str(path), "serve", "--port", "0"]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONUNBUFFERED": "1"}) as one:
        try:
            assert one.stdout is not None
            said = one.stdout.readline()
            yield next(word for word in said.split() if word.startswith("http://")) + path.stem
        finally:
            one.send_signal(signal.SIGINT)
            one.wait(timeout=30)


class Visit:
    """One page in the browser, with all that went wrong on it."""

    def __init__(self, browser: Any, width: int, scheme: str) -> None:
        self.context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
        self.page = self.context.new_page()
        self.faults: list[str] = []
        self._refused_with = 0
        self.page.on("console", self._told)
        self.page.on("pageerror", lambda fault: self.faults.append(f"script: {fault}"))
        self.page.on("dialog", lambda dialog: self.faults.append(f"dialog: {dialog.message}"))
        self.context.on("request", self._asked)

    def _told(self, message: Any) -> None:
        if message.type in ("error", "warning") and f"status of {self._refused_with} " not in message.text:
            self.faults.append(f"console: {message.text}")

    def _asked(self, request: Any) -> None:
        if urlsplit(request.url).hostname not in ("127.0.0.1", None):
            self.faults.append(f"left loopback: {request.url}")

    def to(self, address: str, *, status: int = 200) -> Any:
        """Open a page, where it has to be one that is refused, with that status."""
        self._refused_with = status
        answer = self.page.goto(address, wait_until="load")
        assert answer.status == status, (address, answer.status)
        return self.page

    def close(self) -> None:
        self.context.close()
