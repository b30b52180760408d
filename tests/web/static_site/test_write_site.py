"""A book as files: each link leads to one, no name plays tricks, and equal content gives equal bytes."""

from __future__ import annotations

import re
from datetime import date
from pathlib import Path
from shutil import copyfile
from typing import NamedTuple

import pytest
from browser_team import HOSTILE, make_team
from conftest import empty_database
from markupsafe import escape
from photographed import photographed, picture
from site_files import broken_addresses, files_of, page_at, pages_with

from bevelbook.declare.errors import DatabaseError, InputError
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.invented_mark import INVENTED_WORDS, mark_invented
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.writing import Writer
from bevelbook.web.static_site.write_site import SiteWritten, write_site

LONG = "long-" * 60
ODD = ("../../etc/passwd", "..", "a/b\\c", "Rear-X", "rear-x", "nul", "🛞", "жук", LONG, "<b>&amp;\"'")
MANY = 53
"""Builds of one diff, of which a page of a list shows fifty."""
AS_OF = "27 Nov 2026"


class WrittenTeam(NamedTuple):
    database: Path
    folder: Path
    written: SiteWritten


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> WrittenTeam:
    """The site of a team with odd names, notes that try to break a page, and more builds than a list has on a page.

    It takes three seconds, as every page is drawn: it is made once.
    """
    path = tmp_path_factory.mktemp("odd") / "team.db"
    made = make_team(path)
    connection = open_for_writing(path)
    with transaction(connection, path):
        mark_invented(connection)
        writer = Writer(connection, "ana")
        for name in ODD:
            diff = writer.insert(BY_NAME["diff"], {"label": name})
            writer.insert(BY_NAME["build"], {"label": f"{name}/1", "diff": diff, "built_on": "2026-02-01"})
        for number in range(MANY):
            day = f"2025-{number // 28 + 1:02}-{number % 28 + 1:02}"
            build = {"label": f"front-a/m{number}", "diff": made.ids["front-a"], "built_on": day, "note": f"n{number}x"}
            writer.insert(BY_NAME["build"], build)
    connection.close()
    photographed(path, Registry(), ({"build": "rear-a/2", "taken_on": "2026-04-20", "piece": "outdrive"}, picture()))
    folder = path.parent / "site"
    return WrittenTeam(path, folder, write_site(path, folder, Registry(), as_of=AS_OF))


def test_every_address_leads_to_a_file_of_the_site(site: WrittenTeam) -> None:
    assert list(broken_addresses(site.folder)) == []


def test_names_are_plain_and_no_two_are_the_same_on_any_disk(site: WrittenTeam) -> None:
    names = list(files_of(site.folder))
    assert len({name.lower() for name in names}) == len(names) == site.written.files
    for name in names:
        assert re.fullmatch(r"(?:[a-z_]+/)?[a-z0-9_-]+\.(?:html|js|css|jpg)", name), name
        assert len(name) < 100, name
        assert name.rpartition("/")[2].partition(".")[0] not in ("con", "nul", "prn", "aux"), name
    titles = [path.read_text().partition("<title>")[2].partition("<")[0] for path in (site.folder / "diff").iterdir()]
    assert {str(escape(name)) for name in ODD} - set(titles) == {"rear-x"}, "two names that differ in case are one diff"
    alike = [path.name for path in (site.folder / "build").iterdir() if path.name.startswith("rear-x-1-")]
    assert len(alike) == 2, "and two builds"


def test_no_page_needs_a_server_runs_a_note_or_is_taken_in_by_a_search_engine(site: WrittenTeam) -> None:
    for path in site.folder.rglob("*.html"):
        text = path.read_text(encoding="utf-8")
        elements = page_at(path).elements
        forms = [given.get("id") for tag, given in elements if tag == "form"]
        assert forms == (["site-search"] if path.name == "search.html" else []), path
        assert [tag for tag, given in elements if tag == "script" and not given.get("src")] == [], path
        assert [name for _, given in elements for name in given if name.startswith("on")] == [], path
        said = {
            given.get("name") or given.get("http-equiv"): given.get("content") for t, given in elements if t == "meta"
        }
        assert said["robots"] == "noindex, nofollow", path
        assert "default-src 'none'" in str(said["Content-Security-Policy"]), path
        assert "frame-ancestors" not in str(said["Content-Security-Policy"]), "a browser complains of it there"
        assert f"A copy as of <time>{AS_OF}</time>" in text and INVENTED_WORDS in text, path
        assert "<script>document" not in text and "<img src=x" not in text, path
        assert not re.search(r"https?://(?!www\.w3\.org/2000/svg)", text.replace(HOSTILE, "")), path
        assert str(site.database.parent) not in text, path


def test_every_build_is_reached_over_the_pages_of_a_long_list(site: WrittenTeam) -> None:
    titles = {re.findall("<title>(.*?)</title>", path.read_text())[0] for path in (site.folder / "build").iterdir()}
    assert {f"front-a/m{number}" for number in range(MANY)} <= titles
    lists = [path.name for path in (site.folder / "list").iterdir() if path.name.startswith("builds-front-a")]
    assert len(lists) == 2
    fluids = "".join(path.read_text() for path in (site.folder / "fluid").iterdir())
    assert "<title>500,000</title>" in fluids, "one that no build has"
    assert site.written.pages == len(list(site.folder.rglob("*.html")))


def test_days_are_named_and_none_is_so_many_days_ago(site: WrittenTeam) -> None:
    text = "".join(path.read_text() for path in site.folder.rglob("*.html"))
    assert "built on 3 Apr 2026" in text
    assert not re.search(r"\d days? ago|built today", text)


def test_equal_content_gives_equal_bytes_on_any_day(
    site: WrittenTeam, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class _Later(date):
        @classmethod
        def today(cls) -> date:
            return date(2031, 1, 2)

    monkeypatch.setattr("bevelbook.display.days.date", _Later)
    elsewhere = tmp_path / site.database.name
    copyfile(site.database, elsewhere)
    write_site(elsewhere, tmp_path / "again", Registry(), as_of=AS_OF)
    assert files_of(tmp_path / "again") == files_of(site.folder)


def test_the_search_finds_a_word_of_a_note_and_a_name(site: WrittenTeam) -> None:
    assert "build/rear-b-2" in [name.rpartition("-")[0] for name in pages_with(site.folder, "quince")]
    assert f"build/front-a-m{MANY - 1}" in [
        name.rpartition("-")[0] for name in pages_with(site.folder, f"n{MANY - 1}x")
    ]
    assert any(name.startswith("venue/tannery-hall-") for name in pages_with(site.folder, "tannery"))
    assert pages_with(site.folder, "7000") != []


def test_a_picture_comes_along_as_a_file(site: WrittenTeam) -> None:
    pictures = list((site.folder / "pictures").iterdir())
    assert len(pictures) == 2, "the picture and the small one"
    assert all(path.read_bytes().startswith(b"\xff\xd8") for path in pictures)


def test_an_empty_book_is_a_site_that_search_engines_may_take_in_if_so_said(tmp_path: Path) -> None:
    write_site(empty_database(tmp_path / "new.db"), tmp_path / "site", Registry(), as_of=AS_OF, is_indexed=True)
    text = (tmp_path / "site" / "index.html").read_text()
    assert "robots" not in text and INVENTED_WORDS not in text
    assert list(broken_addresses(tmp_path / "site")) == []


def test_a_folder_with_a_first_page_and_a_file_that_is_no_book_are_refused(db: Path, tmp_path: Path) -> None:
    (tmp_path / "theirs").mkdir()
    (tmp_path / "theirs" / "index.html").write_text("theirs")
    with pytest.raises(InputError, match="a first page in this folder already"):
        write_site(db, tmp_path / "theirs", Registry(), as_of=AS_OF)
    assert (tmp_path / "theirs" / "index.html").read_text() == "theirs"
    (tmp_path / "no.db").write_bytes(b"no book")
    with pytest.raises(DatabaseError):
        write_site(tmp_path / "no.db", tmp_path / "site", Registry(), as_of=AS_OF)


def test_a_page_that_cannot_be_made_stops_it_in_words(
    db: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(*_: object) -> None:
        raise ValueError("no venue")

    monkeypatch.setattr("bevelbook.web.pages.home.home_page_of", broken)
    with pytest.raises(DatabaseError, match="a page of this database cannot be made") as fault:
        write_site(db, tmp_path / "site", Registry(), as_of=AS_OF)
    assert fault.value.code == "page_not_made"
