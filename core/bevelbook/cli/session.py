"""What the commands of one process share: the database's path, who writes, what was typed, and the registry."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache, cached_property, partial
from pathlib import Path
from typing import TYPE_CHECKING, Final

import click

from bevelbook.cli import say_beside, say_quarters
from bevelbook.cli.files import wrong_name
from bevelbook.cli.global_options import DEFAULT_DATABASE
from bevelbook.declare.counting import counted
from bevelbook.declare.in_command import words_of_command

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.plugin.admitting import LeftOutOfPlugin
    from bevelbook.plugin.elsewhere import Elsewhere
    from bevelbook.plugin.origin import Origin
    from bevelbook.plugin.registry import Registry

WAITS_FOR_ITS_TURN_S: Final = 60.0
"""How long a command waits for other programs that write; it says so, and Ctrl+C stops it. Our own figure."""
WHILE_STORING_S: Final = 5.0
"""How long plugins may take in all while one command stores something; nobody waits for it but who typed it. Our own
figure."""


class Session:
    """Handed from the group to every command.

    ``given`` are the options of every command, by name; those that are not given are what the environment says.
    ``asked_words`` are the words from the command on, without these.
    """

    def __init__(self, given: Mapping[str, str] | None = None, asked_words: Sequence[str] = ()) -> None:
        self.asked_words = [*asked_words]
        self.plugin_folder: Path | None = None
        self.take_given(given or {})
        self.notices: list[str] = []
        """Notices from opening the database, as printed on standard error."""
        self.invented = False
        """Whether the database says that all it holds is invented; False until it is opened."""

    def take_given(self, given: Mapping[str, str]) -> None:
        """Take the options of every command, of which some may stand after the command."""
        self.path = _named(_said(given, "--db", "BEVELBOOK_DB") or DEFAULT_DATABASE, "--db")
        self.by = _said(given, "--by", "BEVELBOOK_BY")
        self._was = _state_of(self.path)
        plugins = _said(given, "--plugins", "BEVELBOOK_PLUGINS")
        folder = _named(plugins, "--plugins") if plugins else None
        if folder != self.plugin_folder:
            self.plugin_folder = folder
            for kept in ("loaded", "registry"):
                self.__dict__.pop(kept, None)

    @property
    def asked(self) -> str:
        """The command as it was typed, without ``bevelbook`` and the options of every command."""
        return words_of_command(self.asked_words)

    @property
    def is_unchanged(self) -> bool:
        """Whether the file of the database is for certain as it was when the command began."""
        return _state_of(self.path) == self._was

    @cached_property
    def loaded(self) -> Registry:
        """The plugins, without a word about those that did not load or were left out."""
        from bevelbook.plugin.registry import load

        registry = load(folder=self.plugin_folder, admitted=_admitted, when_asked=True)
        if registry.plugins_not_bundled():
            registry.elsewhere_for_upkeep = cache(partial(elsewhere_while_storing, registry))
        return registry

    @cached_property
    def registry(self) -> Registry:
        """The plugins; what did not load is named on standard error in one line."""
        if self.loaded.failures:
            count = len(self.loaded.failures)
            say_beside(f"bevelbook: {counted(count, 'plugin fault')}; 'bevelbook calculators' lists them.")
        return self.loaded

    def all_looked_at(self) -> Registry:
        """The plugins, with everything looked at that they offer, charts, tables and profiles too; what is left out,
        and why, is for the caller to say."""
        from bevelbook.drawing.unfit_charts import leave_out_unfit
        from bevelbook.notes.known_profiles import known_profiles

        registry = self.loaded
        registry.load_all()
        leave_out_unfit(registry)
        registry.datasets()
        known_profiles(registry)
        return registry

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """A connection to read from. Raises DatabaseError for what SQLite refuses meanwhile."""
        from bevelbook.store.opened_to_read import open_for_reading
        from bevelbook.store.sqlite_errors import in_words

        self.say_if_it_waits()
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

        self.say_if_it_waits()
        return open_for_writing(self.path, busy_seconds=WAITS_FOR_ITS_TURN_S, tell=self.notice)

    def say_if_it_waits(self) -> None:
        """Have it said, once, where another program that writes is waited for."""
        from bevelbook.store.turn import say_waiting

        waiting = f"bevelbook: waiting for another program that writes to {self.path.name} ..."
        say_waiting.set(partial(say_beside, waiting))

    def notice(self, line: str) -> None:
        """Print a notice from opening the database."""
        self.notices.append(line)
        say_beside(f"bevelbook: {line}")

    def noticed(self) -> dict[str, list[str]]:
        """The notices for programs; empty where there is none."""
        return {"notices": self.notices} if self.notices else {}

    def look_whether_invented(self, connection: sqlite3.Connection) -> None:
        """Note whether the database says that all it holds is invented, and whether its days stand for others."""
        from bevelbook.store.edition_mark import DAYS, edition_of
        from bevelbook.store.invented_mark import is_invented

        self.invented = is_invented(connection)
        say_quarters(DAYS in (edition_of(connection) or ()))


def elsewhere_while_storing(registry: Registry) -> Elsewhere | None:
    """Where plugins that are not bundled are called while a record is stored: a process that they end would take the
    record along. It is started once it is asked for."""
    from bevelbook.web.worker.kept_out import KeptOut
    from bevelbook.web.worker.process import CalculatingProcess

    loaded = registry.loaded_from
    return loaded and KeptOut(loaded, (CalculatingProcess(loaded),), WHILE_STORING_S)


def _admitted(origins: Sequence[Origin]) -> dict[str, LeftOutOfPlugin]:
    """What is left out of plugins that did not come with the program; loaded where there are any."""
    from bevelbook.examining.admit import admitted

    return admitted(origins)


def _named(name: str, option: str) -> Path:
    """A name as a path. Raises UsageError for what can be none."""
    wrong = wrong_name(name)
    if wrong:
        raise click.UsageError(f"{option}: {wrong}")
    return Path(name)


def _said(given: Mapping[str, str], option: str, variable: str) -> str | None:
    return given.get(option, os.environ.get(variable) or None)


def _state_of(path: Path) -> tuple[object, ...]:
    """What differs once anything was stored in a database: of its file, and of changes that are beside it."""
    found: list[object] = []
    for file in (path, path.with_name(f"{path.name}-wal") if path.name else path):
        try:
            now = file.stat()
        except (OSError, ValueError):
            found.append(None)
        else:
            found.append((now.st_ino, now.st_size, now.st_mtime_ns) if now.st_size else None)
    return tuple(found)
