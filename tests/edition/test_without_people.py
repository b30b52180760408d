"""An edition without people: searched byte by byte, in every file of its folder."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from exported import Run

from bevelbook.edition.edition_rows import NAMES_A_RECORD, texts_of
from bevelbook.edition.neutral_names import NeutralNames
from bevelbook.records import KINDS

NAMES = ("Annika Holmqvist", "Téodor", "wenceslas", "annalaptop", "Oldrich", "zdenka")
"""A name of two words, one with a mark, one in lower case, one that is only written as who wrote, one before it was
changed, one that is one with another."""
GONE = "clickety gearbox nonsense"
"""A text that was written into a note and taken out again."""


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("book") / "book.db"


@pytest.fixture
def team(book: Path, bevelbook: Run, tmp_path: Path) -> Path:
    """A small book in which people are named in every free text, in many ways."""
    if not book.exists():
        sheet = tmp_path / "wenceslas notes.csv"
        sheet.write_text(
            "date,builder,diff,dry mass,oil mass,viscosity,runs,result_note\n"
            "2026-05-03,wenceslas,rear-a,12.43 g,1.86 g,5000,,\n"
            "2026-05-03,wenceslas,rear-a,,,,5,Téodor drove\n"
            "2026-05-04,Zdenka,rear-a,,,,nonsense,zdenka says\n"
        )
        write = ("--by", "annalaptop", "record")
        _begun(
            bevelbook,
            book,
            ("--by", "annalaptop", "import", sheet),
            (*write, "person", "name=Oldrich"),
            (*write, "person", "Oldrich", "name=Annika Holmqvist"),
            (*write, "person", "name=Zdenka"),
            (*write, "person", "name=Téodor"),
            (*write, "car", "name=Annika's car"),
            (*write, "venue", "name=hall", "note=ANNIKA HOLMQVIST's uncle owns it, Annika's brother too"),
            (*write, "idea", "text=as wenceslas' one; teodor and annikas way; Holmqvist said no", "venue=hall"),
            (*write, "build", "rear-a/1", f"note={GONE}"),
            (*write, "build", "rear-a/1", "note=zdenka poured, may be too much"),
            (
                *write,
                "run",
                "run_on=2026-05-05",
                "driver=Téodor",
                "note=first out with wenceslas+zdenka",
            ),
        )
    return book


def _begun(bevelbook: Run, db: Path, *commands: tuple[object, ...]) -> None:
    for words in (("new",), *commands):
        done = bevelbook("--db", db, *words)
        assert done.code == (1 if "import" in words else 0), done


def _written_in(folder: Path) -> bytes:
    return b"\n".join(path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file())


def _in_every_encoding(text: str) -> list[bytes]:
    return [text.encode(one) for one in ("utf-8", "utf-16-le", "utf-16-be")]


def test_no_name_is_in_any_byte(team: Path, bevelbook: Run, tmp_path: Path) -> None:
    done = bevelbook("--db", team, "edition", "out", "--without-people", "--yes", "--json")
    assert done.code == 0, done.err
    held = _written_in(tmp_path / "out").lower()
    for name in (*NAMES, "Annika", "Holmqvist", "teodor", GONE, "clickety", "wenceslas notes"):
        for spelled in (name, name.lower(), name.upper()):
            for written in _in_every_encoding(spelled):
                assert written.lower() not in held, name
    assert b"driver 1" in held, "what stands in their place"
    said = json.loads(done.out)
    assert {one["name"] for one in said["names"]} >= {"Téodor", "wenceslas", "Zdenka"}


def test_words_in_the_place_of_names(team: Path, bevelbook: Run, tmp_path: Path) -> None:
    assert bevelbook("--db", team, "edition", "out", "--without-people", "--yes").code == 0
    (file,) = (tmp_path / "out").glob("*.db")
    with closing(sqlite3.connect(file)) as connection:
        note, idea, car, poured = (
            connection.execute(asked).fetchone()[0]
            for asked in (
                "SELECT note FROM venues WHERE name = 'hall'",
                "SELECT text FROM ideas",
                "SELECT name FROM cars",
                "SELECT note FROM builds WHERE label = 'rear-a/1'",
            )
        )
        who = car.removesuffix("'s car")
        assert note == f"{who}'s uncle owns it, {who}'s brother too"
        one, two = idea.split("; ")[0].removeprefix("as ").removesuffix("' one"), idea.split("; ")[1].split(" ")[:2]
        assert idea == f"as {one}' one; {' '.join(two)} and {who}'s way; {who} said no"
        assert len({who, one, " ".join(two)}) == 3
        assert poured.endswith(" poured, may be too much"), "a word that is nobody's name stays"
        for index in ("venues_search", "ideas_search", "builds_search"):
            assert connection.execute(f"SELECT count(*) FROM {index} WHERE {index} MATCH 'driver'").fetchone()[0]
        people = [
            connection.execute(f"SELECT count({field.name}) FROM {kind.table}").fetchone()[0]
            for kind in KINDS
            for field in kind.fields
            if field.target == "person"
        ]
        people += [
            connection.execute(f"SELECT count(updated_by) FROM {kind.table}").fetchone()[0]
            for kind in KINDS
            if kind.own
        ]
        assert set(people) == {0}
        empty = ("people", "history", "entries", "note_files", "note_rejects", "note_extras", "note_bytes", "photos")
        assert {table: connection.execute(f"SELECT count(*) FROM {table}").fetchone()[0] for table in empty} == (
            dict.fromkeys(empty, 0)
        )


def test_numbers_do_not_follow_from_names(team: Path, bevelbook: Run, tmp_path: Path) -> None:
    """The same book with other names gives the same bytes."""
    assert bevelbook("--db", team, "edition", "out", "--without-people", "--yes").code == 0
    renamed = tmp_path / "book.db"
    renamed.write_bytes(team.read_bytes())
    with closing(sqlite3.connect(renamed)) as connection:
        for kind in KINDS:
            for column in (*texts_of(kind), *(("updated_by",) if kind.own else ())):
                for before, after in (("wenceslas", "aaron"), ("Téodor", "Zuzana"), ("teodor", "Zuzana")):
                    connection.execute(
                        f"UPDATE {kind.table} SET {column} = replace({column}, ?, ?) WHERE instr({column}, ?)",
                        (before, after, before),
                    )
        connection.commit()
    assert bevelbook("--db", renamed, "edition", "other", "--without-people", "--yes").code == 0
    one, other = (next((tmp_path / name).glob("*.db")).read_bytes() for name in ("out", "other"))
    assert one == other


def test_a_name_that_is_a_word_is_shown_before_anything_is_written(bevelbook: Run, tmp_path: Path) -> None:
    db = tmp_path / "may.db"
    _begun(
        bevelbook,
        db,
        ("record", "person", "name=May"),
        ("record", "person", "name=Grit"),
        ("record", "venue", "name=hall", "note=it may rain; ask May"),
        ("record", "venue", "name=yard", "note=grit on the line, as Grit said"),
    )
    done = bevelbook("--db", db, "edition", "out", "--without-people")
    assert (done.code, not (tmp_path / "out").exists()) == (2, True)
    assert "May: 2 places, such as it may rain; ask May;" in " ".join(done.err.split())
    assert "Grit: 2 places" in " ".join(done.err.split()), "in lower case elsewhere, so a word as well"
    done = bevelbook("--db", db, "edition", "out", "--without-people", "--yes", "--json")
    assert [(one["name"], one["times"], one["common"]) for one in json.loads(done.out)["names"]] == [
        ("Grit", 2, True),
        ("May", 2, True),
    ]


def test_what_may_still_tell_who_somebody_is_is_said(bevelbook: Run, tmp_path: Path) -> None:
    db = tmp_path / "inside.db"
    _begun(
        bevelbook,
        db,
        ("record", "person", "name=zdenka"),
        ("record", "person", "name=Ira Quill"),
        (
            "record",
            "venue",
            "name=hall",
            "note=the zdenkaesque corner, ask I.Q. or IQ, +49 171 234 56 78, q@kart.example",
        ),
        ("record", "venue", "name=yard", "note=track 0.5 km at 31.5 degrees, 2026-04-05, PTFE, saw i quill"),
    )
    done = bevelbook("--db", db, "edition", "out", "--without-people", "--yes")
    said = " ".join(done.out.split())
    assert "Left inside longer words, which you may want to look at: zdenkaesque (zdenka, 1 time)." in said
    assert "Looks like a phone number, still in it: +49 171 234 56 78 (venue hall)." in said
    assert "Looks like an e-mail address, still in it: q@kart.example (venue hall)." in said
    assert "Looks like initials, still in it: I.Q. (venue hall); IQ (venue hall)." in said
    assert "Looks like an initial, still in it: i driver (venue yard)." in said


_NO_WORDS = {
    "put_by": {"code", "subject_table"},
    "calculation": {"calculator", "subject_table", "package", "package_version"},
    "bench_step": {"step"},
    "bench_job": {"at_step"},
    "picture": {"sha256", "came_sha256"},
}
"""Columns of text that hold words of the tool, written out here again."""


def test_no_name_is_in_any_cell_of_any_table(demo_db: Path, edit: Callable[..., bytes], tmp_path: Path) -> None:
    """Every cell of text of the demo names one person, in a way that people write; also what was typed."""
    db = tmp_path / "named.db"
    ways = ("Wenzla", "wenzlas", "WENZLA'S", "J\u00f6rgin", "JOERGIN", "Jorgin", "jo\u0308rgins", "Joergin’s")
    filled: set[str] = set()
    with closing(sqlite3.connect(demo_db)) as source, closing(sqlite3.connect(db)) as named:
        source.backup(named)
        for (trigger,) in named.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            named.execute(f"DROP TRIGGER {trigger}")
        named.execute("UPDATE people SET name = 'Wenzla J\u00f6rgin' WHERE rowid = (SELECT min(rowid) FROM people)")
        for kind in KINDS:
            aside = _NO_WORDS.get(kind.name, set()) | set(NAMES_A_RECORD.get(kind.name, ()))
            for field in kind.fields:
                if kind.own and kind.name != "person" and field.kind == "text" and field.name not in aside:
                    if field.name.endswith("_at"):
                        continue
                    way = "'" + ways[len(filled) % len(ways)].replace("'", "''") + " x ' || id"
                    named.execute(f"UPDATE {kind.table} SET {field.name} = {way}")
                    filled.add(f"{kind.table}.{field.name}")
            if kind.own and kind.label and kind.name != "person":
                typed = f"json_object('{kind.label}', {kind.label}, 'swap', 'wenzlas', 'day_order', 'JOERGIN')"
                named.execute(f"UPDATE {kind.table} SET entered = {typed}")
        named.commit()
    assert len(filled) > 50
    target = tmp_path / "out.db"
    edit(db, people=False, to=target)
    with closing(sqlite3.connect(target)) as written:
        tables = [row[0] for row in written.execute("SELECT name FROM pragma_table_list WHERE type = 'table'")]
        rows = [(table, row) for table in tables for row in written.execute(f'SELECT * FROM "{table}"')]
    cells = [(table, cell) for table, row in rows for cell in row if isinstance(cell, str)]
    assert len(cells) > 1_000 and any("driver 1" in cell for _, cell in cells)
    found = {(table, cell[:80]) for table, cell in cells for way in ("wenzla", "rgin") if way in cell.casefold()}
    assert not found


def test_two_letters_for_one() -> None:
    """ae, oe, ue and ss stand for ä, ö, ü and ß where a keyboard lacks them (common practice, no source)."""
    names = NeutralNames([("Jörg",), ("Strauß",), ("Mueller",), ("Joe",), ("Jo",)])
    for number, texts in enumerate(
        (("JOERG", "Joergs", "jorg", "Jörg's"), ("Strauss", "STRAUß", "strauß"), ("Müller", "MÜLLERs", "muller"))
    ):
        for text in texts:
            assert names.in_text(f"as {text} said").startswith(f"as \ue000{number}\ue001"), text
    assert names.in_text("Joe, Jo") == "\ue0003\ue001, \ue0004\ue001"
    assert names.in_text("a joint, a jury") == "a joint, a jury"


def test_a_title_or_a_database_that_names_somebody(bevelbook: Run, tmp_path: Path) -> None:
    db = tmp_path / "zdenkas-club.db"
    _begun(bevelbook, db, ("record", "person", "name=zdenka"))
    said = ("--license", "by Zdenka", "--source", "Zdenka & co")
    done = bevelbook("--db", db, "edition", "out", "--without-people", "--title", "Zdenka and others", *said)
    assert (done.code, not (tmp_path / "out").exists()) == (2, True)
    assert "zdenkas-club, Zdenka and others, by Zdenka, Zdenka & co" in " ".join(done.err.split())
    assert bevelbook("--db", db, "edition", "out").code == 0, "with people in it"
    readme = " ".join((tmp_path / "out" / "README.md").read_text(encoding="utf-8").split())
    assert "The names of people are in it" in readme and "but for names" not in readme
