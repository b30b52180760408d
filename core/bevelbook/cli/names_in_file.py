"""Names out of a database for completing what is typed: read quickly, without a lock, and nothing at all where the file
is missing, damaged, busy or not ours."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable
from contextlib import closing, suppress
from functools import partial
from pathlib import Path
from time import monotonic
from typing import TYPE_CHECKING, Final, TypeVar

from bevelbook.declare.late_pattern import late_pattern

if TYPE_CHECKING:
    from bevelbook.records import Kind

T = TypeVar("T")
LONGEST_S: Final = 0.1
"""After which a question is given up."""
MOST: Final = 200
"""Names that are offered at most."""
_STEPS_BETWEEN: Final = 2_000
_ENTRIES: Final = 20
_DIGITS: Final = late_pattern(r"(\d+)")


def labels(path: Path, kind: Kind, begun: str) -> list[str]:
    """The names of records of a kind that have a label, as far as they go on from what was typed."""
    return _beginning(path, f'SELECT "{kind.label}" AS name FROM {kind.table}', begun) if kind.label else []


def names(path: Path, kind: Kind, begun: str) -> list[str]:
    """The same also for records that are named by the one that they belong to, once that one is typed."""
    from bevelbook.store.record_names import is_named_by_label, near

    if is_named_by_label(kind):
        return labels(path, kind, begun)
    found = _going_on(_asked(path, lambda connection: [one.name for one in near(connection, kind, begun)]), begun)
    if found:
        return found
    from bevelbook.records import BY_NAME

    owner = next((BY_NAME[field.target] for field in kind.needed if field.target), None)
    return labels(path, owner, begun) if owner is not None else []


def people(path: Path, begun: str) -> list[str]:
    """Who is recorded, and who has written."""
    return _beginning(path, "SELECT name FROM people UNION SELECT made_by AS name FROM entries", begun)


def views(path: Path, begun: str) -> list[str]:
    """The views of the database."""
    return _beginning(path, "SELECT name FROM sqlite_master WHERE type = 'view'", begun)


def entries(path: Path, begun: str) -> list[tuple[str, str]]:
    """The numbers of the newest entries, each with what was asked for and by whom."""
    asked = (
        "SELECT (SELECT count(*) FROM entries o WHERE o.rowid <= e.rowid) AS number, e.asked, e.made_by "
        f"FROM entries e ORDER BY e.rowid DESC LIMIT {_ENTRIES}"
    )
    found = _asked(path, lambda connection: connection.execute(asked).fetchall())
    said = [(str(number), f"{words} ({who})" if who else str(words)) for number, words, who in found]
    return [one for one in said if one[0].startswith(begun)]


def _beginning(path: Path, every: str, begun: str) -> list[str]:
    """The names of all those that go on from what was typed, else that do so in letters of another case."""
    beginning = "substr(name, 1, length(?1)) = ?1"
    for is_one in (beginning, f"{beginning} COLLATE NOCASE"):
        asked = f"SELECT name FROM ({every}) WHERE {is_one} ORDER BY name LIMIT {MOST}"
        found = _asked(path, partial(_first_column, asked=asked, given=begun))
        if found:
            return _in_order(found)
    return []


def _first_column(connection: sqlite3.Connection, asked: str, given: str) -> list[object]:
    return [row[0] for row in connection.execute(asked, (given,))]


def _going_on(found: Iterable[str], begun: str) -> list[str]:
    known = [*found]
    exact = [name for name in known if name.startswith(begun)]
    return _in_order(exact or [name for name in known if name.casefold().startswith(begun.casefold())])


def _in_order(found: Iterable[object]) -> list[str]:
    """Those that can be typed, 2 before 10."""
    typed = {name for name in found if isinstance(name, str) and name and name.isprintable()}
    return sorted(typed, key=lambda name: [part.zfill(9) if part.isdecimal() else part for part in _DIGITS.split(name)])


def _asked(path: Path, ask: Callable[[sqlite3.Connection], list[T]]) -> list[T]:
    """What a question gives, without a word where SQLite refuses it. Nothing is written, no file is left beside the
    database, and nobody is waited for."""
    with suppress(sqlite3.Error, OSError, ValueError), closing(_opened(path)) as connection:
        return ask(connection)
    return []


def _opened(path: Path) -> sqlite3.Connection:
    """A connection to read from. Changes that are beside the file are read where a program has it open, and the file is
    taken for busy where they cannot be. Raises OSError, ValueError, Error."""
    from bevelbook.store.schema import APPLICATION_ID

    with path.open("rb") as file:
        head = file.read(100)
    if int.from_bytes(head[68:72], "big") != APPLICATION_ID:
        raise ValueError(path)
    log, index = (path.with_name(f"{path.name}{ending}") for ending in ("-wal", "-shm"))
    is_alone = not log.exists() or log.stat().st_size == 0
    if not is_alone and not index.exists():
        raise ValueError(path)
    address = f"{path.absolute().as_uri()}?{'immutable=1' if is_alone else 'mode=ro'}"
    connection = sqlite3.connect(address, uri=True, timeout=0)
    ends = monotonic() + LONGEST_S
    connection.set_progress_handler(lambda: monotonic() > ends, _STEPS_BETWEEN)
    connection.row_factory = sqlite3.Row
    return connection
