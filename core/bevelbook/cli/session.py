"""What the commands of one process share: the database's path, who writes, what was typed, and the registry."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from bevelbook.cli import print_text, say_quarters
from bevelbook.declare.counting import counted

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.plugin.registry import Registry


class Session:
    """Handed from the group to every command."""

    def __init__(self, db: str, by: str | None, plugins: str | None, asked: str = "") -> None:
        self.path = Path(db)
        self.by = by
        self.asked = asked
        self.plugin_folder = Path(plugins) if plugins else None
        self.notices: list[str] = []
        """Notices from opening the database, as printed on standard error."""
        self.invented = False
        """Whether the database says that all it holds is invented; False until it is opened."""

    @cached_property
    def registry(self) -> Registry:
        """The plugins; what did not load is named on standard error in one line."""
        from bevelbook.plugin.registry import load

        registry = load(folder=self.plugin_folder)
        if registry.failures:
            count = len(registry.failures)
            print_text(
                f"bevelbook: {counted(count, 'plugin fault')}; 'bevelbook calculators' lists them.",
                err=True,
            )
        return registry

    def all_looked_at(self) -> Registry:
        """The plugins, with everything looked at that they offer, charts, tables and profiles too; what is left out,
        and why, is for the caller to say."""
        from bevelbook.drawing.unfit_charts import leave_out_unfit
        from bevelbook.notes.known_profiles import known_profiles
        from bevelbook.plugin.registry import load

        registry = load(folder=self.plugin_folder)
        leave_out_unfit(registry)
        registry.datasets()
        known_profiles(registry)
        return registry

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection to read from. Raises DatabaseError for what SQLite refuses meanwhile."""
        from bevelbook.store.opening import open_for_reading
        from bevelbook.store.sqlite_errors import in_words

        connection = open_for_reading(self.path)
        try:
            with in_words(self.path):
                self.look_whether_invented(connection)
                yield connection
        finally:
            connection.close()

    @contextmanager
    def writing(self, *, reason: str | None = None) -> Iterator[sqlite3.Connection]:
        """A connection inside one transaction, committed at the end; its entry keeps the reason, if there is one."""
        from bevelbook.store.opening import transaction

        connection = self.open_for_writing()
        try:
            with transaction(connection, self.path, asked=self.asked, by=self.by) as entry:
                entry.reason = reason
                self.look_whether_invented(connection)
                yield connection
        finally:
            connection.close()

    def open_for_writing(self) -> sqlite3.Connection:
        """A connection to write with; an older database is brought to this version first, with a notice."""
        from bevelbook.store.opening import open_for_writing

        return open_for_writing(self.path, tell=self.notice)

    def notice(self, line: str) -> None:
        """Print a notice from opening the database."""
        self.notices.append(line)
        print_text(f"bevelbook: {line}", err=True)

    def noticed(self) -> dict[str, list[str]]:
        """The notices for programs; empty where there is none."""
        return {"notices": self.notices} if self.notices else {}

    def look_whether_invented(self, connection: sqlite3.Connection) -> None:
        """Note whether the database says that all it holds is invented, and whether its days stand for others."""
        from bevelbook.store.edition_mark import DAYS, edition_of
        from bevelbook.store.invented_mark import is_invented

        self.invented = is_invented(connection)
        say_quarters(DAYS in (edition_of(connection) or ()))
