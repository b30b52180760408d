"""Whether five other plugins do their work beside ours, in a real browser. Run by ``.ci/neighbours``, not by pytest.

Invented data: the team of the browser tests, and beside it a database of another program with three places.
"""

from __future__ import annotations

import json
import shutil
import socket
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.error import URLError
from urllib.parse import quote
from urllib.request import urlopen

from browser_team import HOSTILE, make_team
from playwright.sync_api import sync_playwright

GRAPHQL = "{ builds(first: 5) { nodes { label fluid { label } diff { label } } } }"
Found = str | None


def make_places(path: Path) -> None:
    """A database that is not ours, with coordinates in the sea."""
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE places (id INTEGER PRIMARY KEY, name TEXT, latitude REAL, longitude REAL)")
        connection.executemany(
            "INSERT INTO places (name, latitude, longitude) VALUES (?, ?, ?)",
            [("north buoy", 10.0, -40.0), ("south buoy", -10.0, -40.0), ("east buoy", 0.0, -20.0)],
        )
    connection.close()


@contextmanager
def served(files: list[Path]) -> Iterator[str]:
    """The address of a Datasette with every plugin that is installed."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "datasette", "serve", *map(str, files), "--port", str(port)]
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        address = f"http://127.0.0.1:{port}"
        until = time.monotonic() + 60
        while True:
            try:
                urlopen(f"{address}/-/versions.json", timeout=5).close()
                break
            except URLError:
                if time.monotonic() > until or process.poll() is not None:
                    raise
                time.sleep(0.2)
        yield address
    finally:
        process.terminate()
        process.wait(timeout=30)


def graphql_follows_references(page: Any, address: str) -> Found:
    answer = page.request.get(f"{address}/graphql/team?query={quote(GRAPHQL)}")
    nodes = answer.json()["data"]["builds"]["nodes"]
    named = [(one["diff"]["label"], one["fluid"]["label"]) for one in nodes]
    if answer.status != 200 or ("rear-a", "7,000") not in named:
        return f"{answer.status}: {nodes}"
    page.goto(f"{address}/graphql/team")
    page.wait_for_selector(".graphiql-container", timeout=15_000)
    return None


def vega_draws_under_a_table(page: Any, address: str) -> Found:
    drawn = "g.mark=bar&g.x_column=weighed_on&g.x_type=ordinal&g.y_column=mass_g&g.y_type=quantitative"
    page.goto(f"{address}/team/weighings#{drawn}")
    page.wait_for_selector("main canvas, main svg.marks", timeout=20_000)
    return None


def search_all_finds_in_our_tables(page: Any, address: str) -> Found:
    page.goto(f"{address}/-/search?q=quince")
    page.wait_for_selector("#search-all-results table, #search-all-results li h2", timeout=20_000)
    text = page.inner_text("#search-all-results")
    return None if "rear-b/2" in text else text


def copyable_has_its_button(page: Any, address: str) -> Found:
    page.goto(f"{address}/team/builds")
    page.click("a[href*='.copyable']")
    page.wait_for_selector("button.copyable-copy-button", timeout=10_000)
    page.click("button.copyable-copy-button")
    text = page.inner_text("button.copyable-copy-button")
    return None if text == "Copied!" else text


def cluster_map_shows_its_markers(page: Any, address: str) -> Found:
    page.goto(f"{address}/places/places")
    page.wait_for_selector(".leaflet-marker-icon", timeout=20_000)
    return None


def our_own_pages_stay_without_them(page: Any, address: str) -> Found:
    """A page of our own under the strict policy, with a note that tries to run a script."""
    faults: list[str] = []
    page.on("console", lambda one: faults.append(one.text) if one.type == "error" else None)
    page.on("pageerror", lambda one: faults.append(str(one)))
    for path in ("/team/-/home", "/team/-/venue/Brickfield", "/team/-/calc/fill-target?for=rear-a/2"):
        page.goto(f"{address}{path}")
        faults += [f"{path}: a script of another plugin"] * page.locator("script[src*=vega]").count()
    return "; ".join(faults) or None


def notes_run_nothing_beside_them(page: Any, address: str) -> Found:
    for path in ("/team/venues", "/team/builds", "/team/runs"):
        page.goto(f"{address}{path}")
        page.wait_for_timeout(500)
        if page.title() == "owned":
            return f"{path}: a note ran a script"
    assert "owned" in HOSTILE
    return None


TRIED: tuple[Callable[[Any, str], Found], ...] = (
    graphql_follows_references,
    vega_draws_under_a_table,
    search_all_finds_in_our_tables,
    copyable_has_its_button,
    cluster_map_shows_its_markers,
    our_own_pages_stay_without_them,
    notes_run_nothing_beside_them,
)


def main() -> int:
    """Try each, print what came of it, and end with how many failed."""
    from playwright.sync_api import Error

    failed = 0
    with TemporaryDirectory() as folder:
        team, places = Path(folder) / "team.db", Path(folder) / "places.db"
        make_team(team)
        make_places(places)
        with served([team, places]) as address, sync_playwright() as playwright:
            chromium = shutil.which("chromium") or shutil.which("chromium-browser")
            browser = playwright.chromium.launch(executable_path=chromium, args=["--no-sandbox"])
            plugins = [one["name"] for one in json.load(urlopen(f"{address}/-/plugins.json"))]
            print("with " + ", ".join(plugins))
            for attempt in TRIED:
                page = browser.new_page()
                try:
                    found = attempt(page, address)
                except (Error, KeyError, TypeError, ValueError) as fault:
                    found = str(fault).splitlines()[0]
                page.close()
                failed += found is not None
                print(f"{attempt.__name__.replace('_', ' ')}: {'yes' if found is None else found}")
            browser.close()
    return failed


if __name__ == "__main__":
    sys.exit(main())
