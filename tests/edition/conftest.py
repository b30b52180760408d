"""The demo once for all tests of editions, and editions of it."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from bevelbook.demo.make import demo
from bevelbook.edition.edition_copy import EditionCopy, EditionParts, edition_copy
from bevelbook.plugin.registry import Registry, load
from bevelbook.store.opened_to_read import open_for_reading

Edit = Callable[..., bytes]


@pytest.fixture(scope="session")
def bundled() -> Registry:
    return load()


@pytest.fixture(scope="session")
def demo_db(tmp_path_factory: pytest.TempPathFactory, bundled: Registry) -> Path:
    path = tmp_path_factory.mktemp("demo") / "demo.db"
    demo(path, bundled, "ana")
    return path


@pytest.fixture
def edit(tmp_path: Path, bundled: Registry) -> Edit:
    """Writes the file of an edition and gives its bytes; its copy is handed to ``look``."""
    number = iter(range(1_000))

    def make(
        path: Path,
        *,
        people: bool = True,
        days: bool = True,
        files: bool = False,
        to: Path | None = None,
        look: Callable[[EditionCopy], Any] = lambda _copy: None,
    ) -> bytes:
        target = to or tmp_path / f"edition-{next(number)}.db"
        parts = EditionParts(not people, not days, files)
        with closing(open_for_reading(path)) as connection, edition_copy(connection, path, parts, bundled) as copy:
            copy.write_file(target)
            look(copy)
        return target.read_bytes()

    return make


def held_in(path: Path) -> dict[str, list[tuple[Any, ...]]]:
    """All rows of the declared tables."""
    with closing(sqlite3.connect(path)) as connection:
        names = [row[0] for row in connection.execute("SELECT name FROM pragma_table_list WHERE type = 'table'")]
        return {name: connection.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall() for name in sorted(names)}
