"""An edition with pages, by the command: without people nobody's name is in any of its files."""

from __future__ import annotations

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


def test_search_engines_are_let_in_only_to_pages(bevelbook: Callable[..., Outcome], db: Path) -> None:
    assert bevelbook("--db", db, "edition", "shown", "--index").code == 2
    assert bevelbook("--db", db, "edition", "shown", "--static", "--index").code == 0
    assert "robots" not in (Path("shown") / "index.html").read_text()
