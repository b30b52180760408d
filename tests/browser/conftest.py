"""What the tests in a browser share: the browser, the demo served, a visit."""

from __future__ import annotations

import asyncio
import os
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import pytest
from browsing import ARGUMENTS, CHROMIUM, Visit, served
from demo_book import demo_book
from entry_phone import Book, TouchPhone, entered
from entry_team import make_entry_team

from bevelbook.plugin.registry import Registry


@pytest.fixture(scope="session")
def _started() -> Iterator[Any]:
    """A Chromium, started once for a process, which takes longer than most tests in it.

    Without one the tests are skipped, loudly; where ``CI`` is set they fail.
    """
    if CHROMIUM is None:
        if os.environ.get("CI"):
            pytest.fail("no chromium on this machine: install it before these tests run")
        pytest.skip("NO BROWSER: install the package chromium-headless-shell to test the pages in a real one")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=CHROMIUM, args=list(ARGUMENTS))
        loop = asyncio.get_running_loop()
        asyncio._set_running_loop(None)
        yield _Started(opened, loop)
        asyncio._set_running_loop(loop)
        opened.close()


class _Started(NamedTuple):
    """A browser, and the loop of its driver."""

    opened: Any
    loop: asyncio.AbstractEventLoop


@pytest.fixture
def browser(_started: _Started) -> Iterator[Any]:
    """The Chromium, with nothing open in it before a test or after it.

    Its driver's loop counts as running between two calls of it: it does so within the test alone, since no other test
    could run a loop of its own.
    """
    asyncio._set_running_loop(_started.loop)
    try:
        assert _started.opened.contexts == []
        yield _started.opened
        for left in _started.opened.contexts:
            left.close()
    finally:
        asyncio._set_running_loop(None)


@pytest.fixture(scope="session")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """The demo, served."""
    yield from served(demo_book(tmp_path_factory.mktemp("demo") / "demo.db"))


@pytest.fixture
def visit(browser: Any) -> Iterator[Callable[..., Visit]]:
    """Open the browser at a width in a colour scheme."""
    opened: list[Visit] = []

    def go(width: int = 390, scheme: str = "light") -> Visit:
        opened.append(Visit(browser, width, scheme))
        return opened[-1]

    yield go
    for one in opened:
        one.close()


@pytest.fixture
def book(tmp_path: Path, registry: Registry) -> Iterator[Book]:
    """A small team's book with entry, of this test alone."""
    with entered(make_entry_team(tmp_path / "blue.db"), tmp_path / "settings", registry) as made:
        yield made


@pytest.fixture
def phones(browser: Any, book: Book) -> Iterator[Callable[..., TouchPhone]]:
    """Phones at that book, each with cookies of its own; nothing may have gone wrong on any."""
    opened: list[TouchPhone] = []

    def go(**more: Any) -> TouchPhone:
        opened.append(TouchPhone(browser, book, **more))
        return opened[-1]

    yield go
    faults = [one.faults for one in opened]
    for one in opened:
        one.close()
    assert faults == [[] for _ in opened]
