"""The demo once for all tests of editions, and editions of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from hashlib import sha256
from pathlib import Path
from shutil import copyfile, copymode
from typing import Any, NamedTuple

import pytest

from bevelbook.demo.make import demo
from bevelbook.edition.edition_copy import EditionCopy, EditionParts, edition_copy
from bevelbook.plugin.registry import Registry, load
from bevelbook.store.opened_to_read import open_for_reading

Edit = Callable[..., bytes]


def _nobody(_copy: EditionCopy) -> None:
    """Looks at no copy."""


@pytest.fixture(scope="session")
def bundled() -> Registry:
    return load()


@pytest.fixture(scope="session")
def demo_db(tmp_path_factory: pytest.TempPathFactory, bundled: Registry) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.db"
    demo(path, bundled, "ana")
    return path


class _Asked(NamedTuple):
    """What an edition is made of, and how."""

    of: str
    parts: EditionParts


@pytest.fixture(scope="session")
def _made(tmp_path_factory: pytest.TempPathFactory) -> Callable[[_Asked], Path]:
    """Where the edition of such bytes is kept, once it was made."""
    folder = tmp_path_factory.mktemp("editions")
    places: dict[_Asked, Path] = {}
    return lambda asked: places.setdefault(asked, folder / f"{len(places)}.db")


@pytest.fixture
def edit(tmp_path: Path, demo_db: Path, bundled: Registry, _made: Callable[[_Asked], Path]) -> Edit:
    """Writes the file of an edition and gives its bytes; its copy is handed to ``look``.

    An edition of the demo itself is made once, where nobody looks at its copy: equal bytes give equal bytes.
    """
    number = iter(range(1_000))

    def make(
        path: Path,
        *,
        people: bool = True,
        days: bool = True,
        files: bool = False,
        to: Path | None = None,
        look: Callable[[EditionCopy], Any] = _nobody,
    ) -> bytes:
        target = to or tmp_path / f"edition-{next(number)}.db"
        parts = EditionParts(not people, not days, files)
        kept = (
            _made(_Asked(sha256(path.read_bytes()).hexdigest(), parts)) if path == demo_db and look is _nobody else None
        )
        if kept is not None and kept.exists():
            copyfile(kept, target)
            copymode(kept, target)
            return target.read_bytes()
        with closing(open_for_reading(path)) as connection, edition_copy(connection, path, parts, bundled) as copy:
            copy.write_file(target)
            look(copy)
        if kept is not None:
            copyfile(target, kept)
            copymode(target, kept)
        return target.read_bytes()

    return make


def held_in(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """All rows of the declared tables."""
    with closing(sqlite3.connect(path)) as connection:
        names = [row[0] for row in connection.execute("SELECT name FROM pragma_table_list WHERE type = 'table'")]
        return {name: connection.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall() for name in sorted(names)}
