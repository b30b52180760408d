"""An edition with pages, by the command: without people nobody's name is in any of its files."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

from browser_team import make_team
from conftest import Outcome
from site_files import broken_addresses, files_of


def test_an_edition_with_pages_names_nobody_and_is_replaced_whole(
    bevelbook: Callable[..., Outcome], tmp_path: Path
) -> None:
    path = make_team(tmp_path / "team.db", "anastasia heard it from Ana, and ana's note is long").path
    words = ("--db", path, "edition", "shown", "--without-people", "--static")
    done = bevelbook(*words, "--json")
    assert done.code == 0, done.err
    files = files_of(tmp_path / "shown")
    pages = [name for name in files if name.endswith(".html")]
    assert done.json["static"]["pages"] == len(pages)
    assert "index.html" in pages and "team-" in str(done.json["file"])
    assert [name for name, content in files.items() if b"ana" in _words(content)] == []
    assert any(b"driver 1" in content for name, content in files.items() if name.endswith(".html"))
    assert list(broken_addresses(tmp_path / "shown")) == []
    assert all((tmp_path / "shown" / name).stat().st_mode & 0o004 for name in pages), "a web space has to read them"

    again = bevelbook(*words)
    assert again.code == 0, again.err
    assert "open shown/index.html, or put the folder on any web space." in again.out.replace("\n", " ")
    assert files_of(tmp_path / "shown") == files


def _words(content: bytes) -> set[bytes]:
    return set(content.lower().replace(b"'", b" ").replace(b">", b" ").replace(b"<", b" ").replace(b",", b" ").split())


def test_no_numbered_day_is_read_as_a_real_one(bevelbook: Callable[..., Outcome], tmp_path: Path) -> None:
    """Only the day of the copy itself is a real one: it stands in ``<time>``."""
    path = make_team(tmp_path / "team.db", "lid shut on 2026-05-03").path
    done = bevelbook("--db", path, "edition", "shown", "--without-people", "--without-days", "--static", "--json")
    assert done.code == 0, done.err
    day = "[0-9]{4}-[0-9]{2}-[0-9]{2}|[0-9]{1,2} (?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\\b"
    seen = 0
    for page in (tmp_path / "shown").rglob("*.html"):
        text = page.read_text()
        assert re.search(r"<aside class=\"edition\"><p>A copy of <time [^>]*>[^<]+</time>: read only", text), page
        assert "Without people. Days are numbered within their quarter, and none is a real one." in text
        shown = re.sub(r"<time.*?</time>|<(?:title|style|script).*?</(?:title|style|script)>|<[^>]*>", " ", text)
        assert re.findall(day, re.sub(r"team-[-0-9]+", "", shown)) == [], page
        seen += len(re.findall("2026-Q2-[0-9]{2}", shown))
    assert seen > 10
    (file,) = (tmp_path / "shown").glob("*.db")
    card = bevelbook("--db", file, "card", "rear-a").out
    assert re.findall(day, card) == []
    assert "2026-Q2-" in card


def test_search_engines_are_let_in_only_to_pages(bevelbook: Callable[..., Outcome], db: Path) -> None:
    assert bevelbook("--db", db, "edition", "shown", "--index").code == 2
    assert bevelbook("--db", db, "edition", "shown", "--static", "--index").code == 0
    assert "robots" not in (Path("shown") / "index.html").read_text()
