"""What the plugin knows of one Datasette: which are bevelbook databases, the registry, the metadata, once each."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterable
from contextlib import suppress
from contextvars import ContextVar
from functools import cached_property
from pathlib import Path
from typing import Any, Final
from weakref import WeakKeyDictionary

from bevelbook.card.procedure import Procedure, bundled_procedure
from bevelbook.declare.fields import Field
from bevelbook.examining.admit import admitted
from bevelbook.planning.packing_list import PackingList
from bevelbook.plugin.registry import Registry, load
from bevelbook.scale_port.listening import ScaleListening
from bevelbook.store.calculation_views import row_columns, view_columns, view_names
from bevelbook.store.edition_mark import DAYS
from bevelbook.web.host.copy_to_read import CopyToRead, EditionWords, edition_words
from bevelbook.web.host.database_marks import DatabaseMarks
from bevelbook.web.host.page import ENTER, NavigationEntry, Page
from bevelbook.web.host.private_datasette import take_settings_of_tables
from bevelbook.web.host.readonly import TeamDatabase, is_ours
from bevelbook.web.pairing.host_names import HostNames
from bevelbook.web.pairing.who_may_write import WhoMayWrite

PLUGIN_NAME: Final = "bevelbook"


class DatasetteState:
    """Kept beside a Datasette for as long as that lives."""

    def __init__(
        self,
        registry: Registry | None = None,
        entry: WhoMayWrite | None = None,
        procedure: Procedure | None = None,
        copy: CopyToRead | None = None,
    ) -> None:
        self._registry = registry
        self._procedure = procedure
        self.entry = entry
        """Who may write; None where nothing can be written."""
        self.own_names: HostNames | None = None
        """Under which names this machine may be asked where nothing can be written; None where nobody said."""
        self.is_for_this_computer = False
        """Whether it is known that no other device is let in."""
        self.port: int | None = None
        """The port at which phones know it; None where nobody said."""
        self.is_found_by_search = False
        """Whether search engines may take in its pages."""
        self.copy = copy
        """What its pages say where they are written as files, to be read without a server; None where they are
        served."""
        self.packing: PackingList | None = None
        """The team's own list of what to pack; None for the bundled one."""
        self.scale: ScaleListening | None = None
        """The scale that speaks; None where there is none."""
        self.settings: Path | None = None
        """The folder of what a person of this computer keeps beside a book; None where no command of ours serves it."""
        self.when_stopping: list[Callable[[], None]] = []
        """What is called when a person stops it, before the answers under way are waited for."""
        self._index: bool | None = None
        self._seen: object = None
        self._names: tuple[str, ...] = ()
        self._metadata: dict[str, Any] = {}
        self._marks: dict[str, DatabaseMarks] = {}
        self._showing: dict[str, Page] = {}
        self._page_names: frozenset[str] = frozenset()
        self._in_copy: frozenset[str] = frozenset()
        self.navigation: tuple[tuple[str, NavigationEntry], ...] = ()

    @cached_property
    def procedure(self) -> Procedure:
        """The steps of the bench: the team's own, else the bundled ones."""
        return self._procedure or bundled_procedure()

    @property
    def takes_entries(self) -> bool:
        """Whether paired phones may write: only under ``bevelbook enter``."""
        return self.entry is not None

    @property
    def host_names(self) -> HostNames | None:
        """Under which names this machine may be asked; None where each name will do."""
        return self.entry.names if self.entry is not None else self.own_names

    def may_be_indexed(self, datasette: Any) -> bool:
        """Whether search engines may take in its pages: as the command says, else the setting ``index`` of the plugin
        that whoever starts Datasette gives."""
        if self._index is None:
            said = (datasette.plugin_config(PLUGIN_NAME) or {}).get("index")
            self._index = self.is_found_by_search or said is True
        return self._index

    def is_alone(self, datasette: Any) -> bool:
        """Whether every database is ours."""
        names = self.names(datasette)
        return bool(names) and len(names) == sum(1 for one in datasette.databases.values() if not one.is_memory)

    def add_pages(self, pages: Iterable[Page]) -> None:
        """Take the declared pages: those of the navigation in their order, and those that show rows of a table."""
        pages = tuple(pages)
        self._in_copy = frozenset(page.name for page in pages if page.in_copy)
        entries = [(one.name, one.navigation) for one in pages if one.navigation and (one.in_copy or not self.copy)]
        self.navigation = tuple(sorted(entries, key=lambda entry: entry[1].place))
        self._showing = {page.shows: page for page in pages if page.shows}
        self._page_names = frozenset(page.name for page in pages)

    def has_page(self, name: str) -> bool:
        """Whether a page of ours has that name."""
        return name in self._page_names or name == ENTER

    def is_in_copy(self, name: str) -> bool:
        """Whether the page of that name stands in a copy that is read without a server."""
        return name in self._in_copy

    @property
    def pages_of_records(self) -> frozenset[str]:
        """The names of the pages that show one record each."""
        return frozenset(page.name for page in self._showing.values())

    def page_showing(self, table: str) -> Page | None:
        """The page that shows a row of a table; None where Datasette shows it."""
        return self._showing.get(table)

    @cached_property
    def registry(self) -> Registry:
        """The calculators and charts: those of the command that serves, else of the installed plugins."""
        if self._registry is not None:
            return self._registry
        folder = os.environ.get("BEVELBOOK_PLUGINS")
        return load(folder=Path(folder) if folder else None, admitted=admitted)

    @cached_property
    def _fields_of_results(self) -> dict[tuple[str, str], Field]:
        found: dict[tuple[str, str], Field] = {}
        for offered in self.registry.with_rows():
            views = view_names(offered.calculator.name)
            for view in (views.every, views.latest):
                found |= {(view, column): field for column, _, field in view_columns(offered.calculator)}
            for view in (views.rows, views.rows_latest):
                found |= {(view, column): field for column, field in row_columns(offered.calculator)}
        return found

    def field_of_result(self, view: str | None, column: str) -> Field | None:
        """The field that a column of a calculator's view has; None for a column of anything else."""
        return self._fields_of_results.get((view, column)) if view and view.startswith("calc_") else None

    def names(self, datasette: Any) -> tuple[str, ...]:
        """The names of the bevelbook databases, looked up again only where one was added or removed."""
        if self._seen is not datasette.databases:
            self._names = tuple(name for name, one in datasette.databases.items() if is_ours(one))
            self._metadata = {}
            self._seen = datasette.databases
        return self._names

    def metadata(self, datasette: Any) -> dict[str, Any]:
        """Titles, descriptions, facets and order for every table of a bevelbook database: one dictionary, made once."""
        names = self.names(datasette)
        if names and not self._metadata:
            from bevelbook.web.host.metadata import metadata_of

            self._metadata = {
                "title": "bevelbook",
                "databases": {
                    name: metadata_of(
                        name,
                        self.registry,
                        self.is_invented(name),
                        self.is_large(name),
                        takes_entries=self.takes_entries,
                    )
                    for name in names
                },
            }
        return self._metadata

    def look_again(self, datasette: Any) -> None:
        """Ask every bevelbook database that has changed whether it is invented. Cheap: done once for each request.

        Where one cannot be read meanwhile, its pages say so.
        """
        before = self._metadata
        for name in self.names(datasette):
            with suppress(sqlite3.Error):
                self.look_at(datasette, name)
        if self._metadata is not before:
            self.hand_over(datasette)

    def hand_over(self, datasette: Any) -> None:
        """Give Datasette the settings of our tables where it does not ask for them."""
        found = self.metadata(datasette)
        if found:
            take_settings_of_tables(datasette, found["databases"])

    def look_at(self, datasette: Any, name: str) -> None:
        """The same for one of them. Raises sqlite3.Error where it cannot be read."""
        team = team_database(datasette, name)
        if team is None:
            return
        mark = self._marks.get(name)
        if mark is None or mark.database is not team:
            mark = self._marks[name] = DatabaseMarks(team)
        if mark.look():
            self._metadata = {}

    def is_invented(self, name: str) -> bool:
        """Whether a database says that everything in it is invented, as of the last request."""
        return name in self._marks and self._marks[name].is_invented

    def is_without_days(self, name: str) -> bool:
        """Whether a database is an edition of whose days only the quarter is left, as of the last request."""
        return name in self._marks and DAYS in (self._marks[name].edition or ())

    def numbered_up_to(self, name: str) -> str | None:
        """Up to which day the days of a database are numbered, not real ones, as of the last request."""
        return self._marks[name].numbered_up_to if name in self._marks else None

    def edition_words(self, name: str) -> EditionWords | None:
        """What the pages of an edition say of it; None for a database that is none."""
        mark = self._marks.get(name)
        if mark is None or mark.edition is None:
            return None
        return edition_words(mark.database.is_at, mark.edition)

    def is_other_book(self, name: str) -> bool:
        """Whether another book is in the place of the one that paired phones write to, as of the last request."""
        return self.entry is not None and name in self._marks and self._marks[name].book != self.entry.phones.book

    def is_large(self, name: str) -> bool:
        """Whether a database is too large for facets of a view, as of the last request."""
        return name in self._marks and self._marks[name].is_large


_STATES: Final[WeakKeyDictionary[Any, DatasetteState]] = WeakKeyDictionary()
_BEING_MADE: Final[ContextVar[DatasetteState | None]] = ContextVar("_BEING_MADE", default=None)


def state_of(datasette: Any) -> DatasetteState:
    """What is known of a Datasette."""
    found = _STATES.get(datasette)
    if found is None:
        found = _STATES[datasette] = _BEING_MADE.get() or DatasetteState()
    return found


def made_with(
    make: Callable[[], Any],
    registry: Registry,
    entry: WhoMayWrite | None = None,
    procedure: Procedure | None = None,
    *,
    copy: CopyToRead | None = None,
) -> Any:
    """A Datasette that has the registry that the command has built already, who may write, if anybody, a team's own
    steps of the bench, and what a copy says of itself. It asks for them while it is made."""
    token = _BEING_MADE.set(DatasetteState(registry, entry, procedure, copy))
    try:
        made = make()
        state_of(made)
    finally:
        _BEING_MADE.reset(token)
    return made


def team_database(datasette: Any, name: str) -> TeamDatabase | None:
    """One of our databases by its name, or None."""
    found = datasette.databases.get(name)
    return found if isinstance(found, TeamDatabase) else None
