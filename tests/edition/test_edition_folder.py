"""The folder of an edition: what is in it and what it takes the place of, how it is read, and that nobody writes."""

from __future__ import annotations

import asyncio
import json
import os
import re
import sqlite3
import subprocess
import sys
from collections import deque
from collections.abc import Callable
from contextlib import closing
from html import unescape
from pathlib import Path
from shutil import copyfile, copytree
from typing import Any
from zipfile import ZipFile

import pytest
from browser_team import make_team
from edition.conftest import Edit
from exported import Run, make_everything
from photographed import HOSTILE_WORDS, TURNED_RIGHT, photographed, picture

from bevelbook.plugin.registry import Registry, load
from bevelbook.web.host.serve import datasette_for

ID = re.compile(r"[0-9a-f]{8}-[0-9a-f-]{27}|[0-9a-f]{16}")
NUMBERS = re.compile(r"\d[\d-]*")
ASIDE = re.compile(r"[?]|_search|/(help|reference)/|[.]json$")
"""Addresses with a question, tables of the search, pages without the database, and rows once more as JSON."""
LEAST = ("--without-people", "--without-days", "--yes")


def _edition(bevelbook: Run, db: Path, *options: str, folder: str = "out") -> Path:
    done = bevelbook("--db", db, "edition", folder, *options)
    assert done.code == 0, done
    (file,) = Path(folder).glob("*.db")
    return file.absolute()


OfDemo = Callable[..., Path]


@pytest.fixture(scope="session")
def _kept(tmp_path_factory: pytest.TempPathFactory) -> Callable[[tuple[str, ...]], Path]:
    """Where the folder of an edition of the demo with these options is kept, once it was made."""
    within, places = tmp_path_factory.mktemp("folders"), dict[tuple[str, ...], Path]()
    return lambda options: places.setdefault(options, within / str(len(places)))


@pytest.fixture
def of_demo(bevelbook: Run, demo_db: Path, _kept: Callable[[tuple[str, ...]], Path]) -> OfDemo:
    """Has an edition of the demo in ``out``, a copy of one that was made with the same options."""

    def make(*options: str) -> Path:
        kept = _kept(options)
        if not kept.exists():
            _edition(bevelbook, demo_db, *options)
            copytree("out", kept)
        else:
            copytree(kept, "out")
        (file,) = Path("out").glob("*.db")
        return file.absolute()

    return make


def test_what_is_in_the_folder(demo_db: Path, bevelbook: Run) -> None:
    file = _edition(bevelbook, demo_db, "--license", "CC BY 4.0", "--title", "Two seasons", "--source", "the club")
    assert sorted(path.name for path in file.parent.iterdir()) == [
        *("README.md", "charts.json", file.name, "edition.json", "metadata.json")
    ]
    assert re.fullmatch(r"demo-\d{4}-\d\d-\d\d\.db", file.name)
    if os.name == "posix":
        assert (file.stat().st_mode & 0o777, file.parent.stat().st_mode & 0o777) == (0o444, 0o755)
    readme = " ".join((file.parent / "README.md").read_text().split())
    for said in (
        f"SQLite {sqlite3.sqlite_version}",
        "four to six with the venue",
        "CC BY 4.0",
        "is invented",
        file.name,
    ):
        assert said in readme
    metadata = json.loads((file.parent / "metadata.json").read_text())
    assert (metadata["license"], metadata["title"], metadata["source"]) == ("CC BY 4.0", "Two seasons", "the club")
    assert metadata["databases"][file.stem]["tables"]["builds"]["columns"]["dry_mass_g"] == "Mass before oil [g]"
    assert {"fills", "viscosity-temperature"} <= {
        one["name"] for one in json.loads((file.parent / "charts.json").read_text())
    }
    with closing(sqlite3.connect(f"file:{file}?immutable=1", uri=True)) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == []
        assert connection.execute("SELECT count(*) FROM sqlite_master WHERE type = 'trigger'").fetchone() == (0,)
        for table in ("history", "entries", "writing", "note_bytes", "photos", "clashes", "note_rejects"):
            assert connection.execute(f"SELECT count(*) FROM {table}").fetchone() == (0,), table
        for (name,) in connection.execute(
            "SELECT name FROM pragma_table_list WHERE type = 'table' AND wr = 0"
        ).fetchall():
            if not name.startswith("sqlite_") and "_search" not in name:
                count, last = connection.execute(f"SELECT count(*), max(rowid) FROM {name}").fetchone()
                assert last in (count, None), name


def test_an_earlier_edition_is_replaced_and_nothing_else(
    demo_db: Path, bevelbook: Run, tmp_path: Path, of_demo: OfDemo
) -> None:
    file = of_demo()
    described = file.parent / "edition.json"
    earlier = file.parent / "demo-2020-01-02.db"
    file.rename(earlier)
    said = json.loads(described.read_text()) | {"day": "2020-01-02"}
    said["files"][said["files"].index(file.name)] = earlier.name
    described.write_text(json.dumps(said))
    done = bevelbook("--db", demo_db, "edition", "out")
    assert "The edition of 2020-01-02 that was there is gone." in done.out
    assert (file.exists(), earlier.exists()) == (True, False)
    (tmp_path / "out" / "mine.txt").write_text("mine")
    refused = bevelbook("--db", demo_db, "edition", "out")
    assert (refused.code, "mine.txt" in refused.err, file.exists()) == (2, True, True)
    (tmp_path / "out" / "mine.txt").unlink()
    copyfile(demo_db, tmp_path / "other.db")
    refused = bevelbook("--db", "other.db", "edition", "out")
    assert (refused.code, "an edition of demo" in refused.err) == (2, True)
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "a").write_text("a")
    assert bevelbook("--db", demo_db, "edition", "full").code == 2
    assert bevelbook("--db", demo_db, "edition", "nowhere/out").code == 2
    for link, target in (("away", tmp_path / "far" / "off"), ("near", tmp_path / "gone"), ("round", "round")):
        (tmp_path / link).symlink_to(target)
        refused = bevelbook("--db", demo_db, "edition", link)
        assert (refused.code, "link to a place where nothing is" in refused.err) == (2, True), refused
    assert not (tmp_path / "gone").exists()
    assert not [*tmp_path.glob(".*"), *tmp_path.glob("bevelbook-*")]


def test_nobody_writes_into_it(demo_db: Path, bevelbook: Run, tmp_path: Path, of_demo: OfDemo) -> None:
    file = of_demo()
    before = file.read_bytes()
    copyfile(demo_db, tmp_path / "own.db")
    way = f"new --from {file}'"
    for words in (
        ("record", "idea", "text=more oil"),
        ("merge", "own.db"),
        ("enter",),
        ("take-back",),
        ("check", "--rebuild"),
    ):
        done = bevelbook("--db", file, *words)
        assert (done.code, "copy to read" in done.err, way in " ".join(done.err.split())) == (2, True, True), done
    with ZipFile("packed.zip", "w") as packed:
        for one in file.parent.iterdir():
            packed.write(one, f"out/{one.name}")
    for sent in (file, file.parent, "packed.zip"):
        refused = bevelbook("--db", "own.db", "merge", sent)
        said = " ".join(refused.err.split())
        assert (refused.code, f"{sent}: this is an edition" in said) == (2, True), said
        assert f"'bevelbook --db theirs.db new --from {sent}'" in said
    assert bevelbook("--db", "theirs.db", "new", "--from", "packed.zip").code == 0
    assert file.read_bytes() == before
    assert [path.name for path in file.parent.iterdir() if path.name.startswith(f"{file.name}-")] == []


@pytest.mark.parametrize("options", [(), LEAST], ids=["all", "least"])
def test_commands_read_it(demo_db: Path, bevelbook: Run, options: tuple[str, ...], of_demo: OfDemo) -> None:
    file = of_demo(*options)
    own, found = (
        [
            " ".join(said.split()).replace(f"--db {path} ", "")  # the names of the files are not of one length
            for said in re.split(r"\n(?! {4})", bevelbook("--db", path, "check", "--past").out)
        ]
        for path in (demo_db, file)
    )
    if not options:
        assert [line for line in own if line not in found and "rejected" not in line] == []
    file.chmod(0o644)
    checked = bevelbook("--db", file, "check").out
    assert "This is an edition, a copy to read: nothing is written into it. For a database of your own" in checked
    assert not re.search(r"chmod|backup|--rebuild", checked), "nothing that cannot be done with a copy to read"
    for words in (
        ("card", "rear-a"),
        ("compare", "rear-a/10", "rear-a/11"),
        ("calc", "headspace", "--for", "rear-a/9"),
    ):
        done = bevelbook("--db", file, *words)
        assert done.code in (0, 1), done.err
    assert bevelbook("--db", file, "export", "files").code == 0


@pytest.mark.parametrize("options", [(), LEAST], ids=["all", "least"])
def test_a_database_begins_with_it(
    demo_db: Path, bevelbook: Run, tmp_path: Path, options: tuple[str, ...], of_demo: OfDemo
) -> None:
    file = of_demo(*options)
    done = bevelbook("--db", "mine.db", "new", "--from", "out")
    assert done.code == 0, done.err
    said = " ".join(done.err.split())
    assert "This is an edition, and these are not in it: the past of its records, who changed them" in said
    assert (", people, " in said, "Its days are not real ones" in said) == (bool(options), bool(options))
    assert bevelbook("--db", "mine.db", "record", "idea", "text=more oil").code == 0
    for table in ("build_facts", "run_diff_facts", "diff_facts", "calculations", "builds", "run_diffs"):
        columns = "*" if table.endswith("facts") else "id"
        mine, theirs = (
            sqlite3.connect(path).execute(f"SELECT {columns} FROM {table} ORDER BY 1").fetchall()
            for path in (tmp_path / "mine.db", file)
        )
        assert mine == theirs, table
    assert "edition" not in {row[0] for row in sqlite3.connect(tmp_path / "mine.db").execute("SELECT name FROM about")}
    again = bevelbook("--db", "mine.db", "check", "--json")
    assert json.loads(again.out).get("faults", []) == []


def test_a_book_with_everything(bevelbook: Run, edit: Edit, tmp_path: Path) -> None:
    """Joins, clashes, photographs, kept files, taken-back entries, odd texts: each way of making an edition, and an
    edition of it."""
    everything = make_everything(bevelbook, tmp_path)
    for number, what in enumerate(
        ({}, {"people": False}, {"days": False}, {"people": False, "days": False}, {"files": True})
    ):
        made = tmp_path / f"made-{number}.db"
        assert edit(everything.db, **what, to=made) == edit(made, **what, to=tmp_path / f"again-{number}.db"), what
        fresh = f"fresh-{number}.db"
        assert bevelbook("--db", fresh, "new", "--from", made).code == 0
    with closing(sqlite3.connect(made)) as connection:
        for table in ("photos", "picture_bytes", "note_bytes"):
            assert connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] > 0
    refused = bevelbook("--db", everything.db, "edition", "out", "--with-files", "--without-people")
    assert (refused.code, (tmp_path / "out").exists()) == (2, False)


async def _crawled(path: Path, registry: Registry) -> dict[str, int]:
    """The first page of each kind of address that a link leads to, and its status."""
    datasette: Any = datasette_for(path, registry)
    await datasette.invoke_startup()
    waiting, seen, found = deque(["/"]), set(), {}
    while waiting:
        address = waiting.popleft()
        answer = await datasette.client.get(address)
        found[address] = answer.status_code
        if "text/html" not in answer.headers.get("content-type", ""):
            continue
        for link in map(unescape, re.findall(r'href="(/[^"#]*)', answer.text)):
            shape = NUMBERS.sub("1", ID.sub("ID", link))
            if shape not in seen and not ASIDE.search(shape):
                seen.add(shape)
                waiting.append(link)
    return found


def test_every_kind_of_page_opens(demo_db: Path, edit: Edit, bundled: Registry, tmp_path: Path) -> None:
    """Some 120 addresses, one of each kind: a page may ask of an edition what is not in it. They take 2 s."""
    edit(demo_db, people=False, days=False, to=tmp_path / "least.db")
    found = asyncio.run(_crawled(tmp_path / "least.db", bundled))
    assert {address: status for address, status in found.items() if status not in (200, 302)} == {}
    assert len(found) > 80


ALONE = """
import asyncio, sys
sys._called_from_test = True  # Datasette then takes no plugins that are installed
from datasette.app import Datasette
import json
file, metadata, page = sys.argv[1:]
datasette = Datasette(immutables=[file], metadata=json.load(open(metadata)))
print(asyncio.run(datasette.client.get(page)).text)
"""


def test_datasette_alone_shows_it_with_its_words(demo_db: Path, bevelbook: Run, of_demo: OfDemo) -> None:
    """A process of its own, in which no plugin is."""
    file = of_demo()
    metadata = file.parent / "metadata.json"
    asked = [sys.executable, "-c", ALONE, str(file), str(metadata), f"/{file.stem}/venues?_search=hall"]
    shown = subprocess.run(asked, capture_output=True, text=True, check=True).stdout
    assert "Tracks and halls." in shown
    assert "bevelbook" not in shown


def test_a_book_that_begins_with_numbered_days_says_so(
    demo_db: Path, bevelbook: Run, tmp_path: Path, of_demo: OfDemo
) -> None:
    """In check and on its pages; a book with real days says nothing."""
    file = of_demo("--without-days")
    assert bevelbook("--db", "mine.db", "new", "--from", file).code == 0
    with closing(sqlite3.connect("mine.db")) as mine:
        (last,) = mine.execute("SELECT max(run_on) FROM runs").fetchone()
    said = " ".join(bevelbook("--db", "mine.db", "check").out.split())
    words = "came from a copy without days: they are numbered within their quarter, and none of them is a real one."
    assert words in said
    assert json.loads(bevelbook("--db", "mine.db", "check", "--json").out)["days_numbered_up_to"] >= last
    assert json.loads(bevelbook("--db", demo_db, "check", "--json").out)["days_numbered_up_to"] is None

    async def page() -> str:
        datasette = datasette_for(Path("mine.db"), load())
        await datasette.invoke_startup()
        return str((await datasette.client.get("/")).text)

    assert words in asyncio.run(page())


def test_photographs_are_in_it_without_what_a_camera_adds_and_nowhere_without_people(
    bevelbook: Run, bundled: Registry, tmp_path: Path
) -> None:
    """Searched in all bytes of the folder: what cameras add, the pictures, and words beside them."""
    make_team(tmp_path / "own.db")
    texts = {"build": "rear-a/2", "piece": "outdrive", "note": "the groove of zorro"}
    photographed(tmp_path / "own.db", bundled, (texts, picture((480, 320), orientation=TURNED_RIGHT)))

    def held(*options: str) -> bytes:
        folder = _edition(bevelbook, Path("own.db"), *options).parent
        return b"".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())

    shown = held("--with-files")
    assert shown.count(b"JFIF") == 2, "the picture and its small one"
    assert b"the groove of zorro" in shown
    for added in (b"QUINCE", b"Exif", b"GPS", HOSTILE_WORDS.encode()):
        assert added not in shown
    for options in (("--without-people", "--yes"), ("--without-days",), ()):
        assert not re.search(rb"JFIF|Exif|the groove of zorro", held(*options)), options


def test_a_zip_of_a_book_with_any_name(demo_db: Path, bevelbook: Run, tmp_path: Path) -> None:
    """With and without a folder in it, and with the name written in letters of another system."""
    copyfile(demo_db, tmp_path / "unsere Saison ö'26.db")
    file = _edition(bevelbook, Path("unsere Saison ö'26.db"))
    for number, (within, name) in enumerate((("out/", file.name), ("", file.name), ("", "unsere Saison o÷ 26.db"))):
        with ZipFile("packed.zip", "w") as packed:
            for one in file.parent.iterdir():
                packed.write(one, f"{within}{name if one == file else one.name}")
        made = bevelbook("--db", f"from-{number}.db", "new", "--from", "packed.zip")
        assert (made.code, "what packed.zip holds: 35 builds" in made.out) == (0, True), made


def test_a_book_with_real_days_beside_one_without_keeps_them(
    demo_db: Path, edit: Edit, bundled: Registry, tmp_path: Path
) -> None:
    """The list of books and the page of a name show both; only what is of the one without days is said in quarters."""
    from datasette.app import Datasette

    copyfile(demo_db, tmp_path / "real 4 Apr 2026.db")
    with closing(sqlite3.connect(tmp_path / "real 4 Apr 2026.db")) as real, real:
        real.execute("UPDATE diffs SET label = '2026-04-04' WHERE label = 'rear-a'")
    copyfile(tmp_path / "real 4 Apr 2026.db", tmp_path / "other.db")
    edit(tmp_path / "other.db", days=False, to=tmp_path / "numbered.db")
    with closing(sqlite3.connect(tmp_path / "numbered.db")) as numbered, numbered:
        (label,) = numbered.execute("SELECT label FROM diffs WHERE label LIKE '2026%'").fetchone()
        numbered.execute("UPDATE diffs SET label = '2026-04-04' WHERE label = ?", (label,))

    async def pages() -> list[str]:
        datasette = Datasette([str(tmp_path / "numbered.db"), str(tmp_path / "real 4 Apr 2026.db")])
        await datasette.invoke_startup()
        return [(await datasette.client.get(path)).text for path in ("/", "/q/2026-04-04")]

    listed, named = (re.sub("<[^>]*>", "", page) for page in asyncio.run(pages()))
    assert "real 4 Apr 2026" in listed
    assert "diff 2026-Q2-04 in numbered" in named
    assert "diff 2026-04-04 in real 4 Apr 2026" in named


def test_editions_of_two_teams_side_by_side(demo_db: Path, edit: Edit, bundled: Registry, tmp_path: Path) -> None:
    """Each has its own pages under its own name, in one process."""
    from datasette.app import Datasette

    edit(demo_db, to=tmp_path / "north.db")
    edit(demo_db, people=False, to=tmp_path / "south.db")

    async def pages() -> list[tuple[int, bool]]:
        datasette = Datasette(immutables=[str(tmp_path / "north.db"), str(tmp_path / "south.db")])
        await datasette.invoke_startup()
        found = []
        for name in ("north", "south"):
            for page in ("", "/-/home", "/builds", "/-/search?q=ana"):
                answer = await datasette.client.get(f"/{name}{page}", follow_redirects=True)
                found.append((answer.status_code, f"/{'south' if name == 'north' else 'north'}/-/diff" in answer.text))
        return found

    assert set(asyncio.run(pages())) == {(200, False)}
