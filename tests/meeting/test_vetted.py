"""What a stranger sends is only data: read by column, or refused with table and record. All of it is invented."""

from __future__ import annotations

import shutil
import sqlite3
import stat
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from released import DUMPS, released

from bevelbook.declare.error_codes import code_in_words
from bevelbook.declare.errors import DatabaseError
from bevelbook.declare.vocabulary import PHOTO_PIECES
from bevelbook.meeting.from_outside import opened_aside
from bevelbook.meeting.their_schema import tables_of_step
from bevelbook.pictures.prepare import prepared_picture
from bevelbook.records import BY_NAME
from bevelbook.store.migrate import LAST_STEP
from bevelbook.store.opening import open_for_writing, transaction
from bevelbook.store.pictures import keep_picture
from bevelbook.store.structure import structure
from bevelbook.store.writing import Writer

Rows = dict[str, list[tuple[Any, ...]]]


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rows of every kind that 0.1.0 had, brought to this version, and a photograph of a build."""
    path = released(tmp_path_factory.mktemp("sound") / "bo.db")
    with closing(open_for_writing(path)) as connection:
        (build,) = connection.execute("SELECT id FROM builds ORDER BY id LIMIT 1").fetchone()
        with transaction(connection, path, asked="a photograph", by="bo"):
            picture = keep_picture(connection, prepared_picture(drawn()))
            Writer(connection, "bo").insert(
                BY_NAME["photo"],
                {"build": build, "picture": picture, "piece": PHOTO_PIECES[0], "taken_on": "2026-05-03"},
            )
    return path


def drawn() -> bytes:
    from io import BytesIO

    from PIL import Image

    out = BytesIO()
    Image.new("RGB", (40, 30), "grey").save(out, "PNG")
    return out.getvalue()


@pytest.fixture
def sent(sound: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy(sound, tmp_path / "bo.db"))


def spoil(path: Path, *statements: str) -> None:
    """Change a file as another program may, without its triggers and checks."""
    with closing(sqlite3.connect(path, isolation_level=None)) as connection:
        for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'").fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("PRAGMA writable_schema = ON")
        for statement in statements:
            connection.execute(statement)


def rows_in(path: Path) -> Rows:
    """All rows of the tables that are taken, but those of a table that says how things stand in one file."""
    with closing(sqlite3.connect(path)) as connection:
        return {
            name: connection.execute(f"SELECT * FROM {name} ORDER BY 1, 2").fetchall()
            for name in sorted(tables_of_step(LAST_STEP))
            if name != "about"
        }


def refused(path: Path, code: str, *words: str) -> str:
    """The sentence with which a file is refused; the file is as it was, and nothing lies beside it."""
    before = path.read_bytes(), sorted(path.parent.iterdir())
    with pytest.raises(DatabaseError) as caught, opened_aside(path):
        pass
    said = str(caught.value)
    assert caught.value.code == code, said
    assert code_in_words(code)
    for word in words:
        assert word in said
    assert (path.read_bytes(), sorted(path.parent.iterdir())) == before
    return said


def test_a_sound_database_comes_through_whole_without_triggers_and_views(sent: Path) -> None:
    said: list[str] = []
    with opened_aside(sent, tell=said.append) as clean:
        assert stat.S_IMODE(clean.parent.stat().st_mode) == 0o700
        assert rows_in(clean) == rows_in(sent)
        assert all(rows_in(clean)[name] for name in ("builds", "history", "entries", "note_bytes", "picture_bytes"))
        with closing(sqlite3.connect(clean)) as connection:
            sorts = {sort for (sort,) in connection.execute("SELECT type FROM sqlite_master")}
            assert sorts == {"table", "index"}
            made = structure(connection)
        with closing(sqlite3.connect(sent)) as connection:
            ours = structure(connection)
        for name, table in tables_of_step(LAST_STEP).items():
            assert (
                made[name]._replace(indexes=())
                == ours[name]._replace(indexes=())
                == table.structure._replace(indexes=())
            )
    assert not clean.exists()
    assert said == []


@pytest.mark.parametrize("dump", DUMPS, ids=[dump.stem for dump in DUMPS])
def test_every_release_is_brought_to_this_version_as_its_own_upgrade_would(dump: Path, tmp_path: Path) -> None:
    path = released(tmp_path / "old.db", dump)
    said: list[str] = []
    with opened_aside(path, tell=said.append) as clean:
        came = rows_in(clean)
    open_for_writing(path).close()
    own = rows_in(path)
    assert {name: len(rows) for name, rows in came.items()} == {name: len(rows) for name, rows in own.items()}
    without_version = [[row[:1] + row[3:] for row in found["builds"]] for found in (came, own)]
    assert without_version[0] == without_version[1] != []
    assert "older version" in said[0]
    assert path.name in said[0]
