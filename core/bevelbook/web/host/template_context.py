"""What the templates are given: words for columns, the columns worth showing, the tables in groups, the navigation."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final, NamedTuple
from urllib.parse import parse_qsl, urlencode, urlsplit, urlunsplit

from markupsafe import Markup

from bevelbook.display.begun import begun
from bevelbook.display.format import SHOWN_UNIT
from bevelbook.facts.views import VIEWS
from bevelbook.pictures.reader import pictures_can_be_read
from bevelbook.records import BY_TABLE, FACTS, Kind
from bevelbook.records.joins import JOINED_KINDS, NOT_IN_A_FORM
from bevelbook.records.photos import HUNG_ON
from bevelbook.reports.joined import also_written_or_stands
from bevelbook.reports.photographs import photographs_of_record
from bevelbook.reports.stock import left_of_record
from bevelbook.store.column_words import TECHNICAL
from bevelbook.store.ids import now_utc
from bevelbook.store.invented_mark import INVENTED_WORDS
from bevelbook.store.numbered_days_mark import numbered_words
from bevelbook.store.record_names import is_named_by_label, names_of, with_kind
from bevelbook.web.host.addresses import as_visitors_see, page_address
from bevelbook.web.host.asked_rows import asked_rows
from bevelbook.web.host.cells import PICTURES, link, target_of, thumbnail_cell, unit_of
from bevelbook.web.host.commands_of_book import command_naming_book, is_for_readers
from bevelbook.web.host.copy_to_read import CopyToRead, EditionWords, aside_words
from bevelbook.web.host.datasette_state import state_of, team_database
from bevelbook.web.host.page import ENTER
from bevelbook.web.host.phone_of_request import phone_in
from bevelbook.web.host.photographs_shown import PHOTOGRAPH, PhotographSection, photograph_section, photographs_with
from bevelbook.web.host.policy import STAY_OUT, ScriptsOfOthers, scripts_of_others
from bevelbook.web.host.private_datasette import HAS_SQL_PAGE, as_dictionary, path_with_added_args
from bevelbook.web.host.readonly import TeamDatabase
from bevelbook.web.host.row_names import name as name_of_row
from bevelbook.web.host.signs import with_sign
from bevelbook.web.host.turns import let_others
from bevelbook.web.pairing.pairings_file import Phone

ASIDE: Final = {
    "shelf": {"label", "build_label"},
    "build_sheet": {"label"},
    "what_worked": {"build_label", "run_diff"},
    "imported_notes": {"note_file"},
    "latest_calculations": {"place"},
    "current_builds": {"place"},
}
"""Columns of views that repeat in words what a linked column beside them says."""
OTHER_BOOK: Final = (
    "Another book is in the place of this one now: what these pages show is of that one, and nothing can be stored. "
    "Put the right file back on the laptop, or stop 'bevelbook enter' and start it again with the one that is there."
)
FIRST_ROW: Final = "_from"
"""The word of an address that says which row of all a page begins with."""
BRING_IN: Final = "bevelbook import FILE"
BOOK_LETTERS: Final = 8
"""So many letters of a book's mark say on a phone which book an entry waits for."""
SHORT: Final = 22
LONGEST: Final = 240
"""Letters of a cell up to which it is kept on one line, and from which it is cut; the row's own page shows all."""
_FACT_TABLES: Final = tuple(kind.table for kind in FACTS)
_COUNTED_AT: Final = {"stock_part": "stock", "bottle": "record/bottle_check"}
"""Where a record of these kinds is counted or weighed, below ``enter/``."""
_PLAIN_VIEWS: Final = ("shelf", "build_sheet", "what_worked", "imported_notes")


class ShownColumn(NamedTuple):
    """A column of a page: its place among Datasette's, its name, and its heading in words."""

    place: int
    name: str
    heading: str
    numeric: bool
    sortable: bool


class ShownTable(NamedTuple):
    """A cell of a table, and the sort of its content for the style sheet."""

    value: Any
    sort: str

    @property
    def is_empty(self) -> bool:
        if isinstance(self.value, Markup):
            return not self.value.striptags().strip() and "<img" not in self.value
        return not str(self.value).strip()


class ListedTable(NamedTuple):
    """A table or view in the list of a database."""

    name: str
    title: str
    about: str
    row_count: int | None


class EntryAddresses(NamedTuple):
    """Where a device is paired, where a phone's own page is, and where it hands over what waits on it; ``kept`` is the
    name under which a browser keeps the phone's own code, ``book`` how the book's mark begins, ``scale`` where a
    scale is heard, empty where none speaks; ``bring_in`` is the command for what a phone gave as a file."""

    pair: str
    phone: str
    waiting: str
    kept: str
    book: str
    scale: str
    bring_in: str


class TemplateContext:
    """Given to every template as ``bevelbook``; on a page of another database it knows only the names of ours."""

    def __init__(self, datasette: Any, database: str | None, table: str | None, request: Any) -> None:
        self._datasette = datasette
        self._request = request
        self.names = state_of(datasette).names(datasette)
        self.database = database if database in self.names else self.names[0] if len(self.names) == 1 else None
        self.asked = database
        self.table = table
        self.kind = BY_TABLE.get(table or "")
        self.with_sign = with_sign
        self._rows: Sequence[Any] = ()
        self._names: dict[str, str] | None = None

    @property
    def address(self) -> str:
        """The database's own address."""
        return str(self._datasette.urls.database(self.database))

    @property
    def entry(self) -> EntryAddresses | None:
        """The addresses of pairing, where the book can be written to."""
        entry = state_of(self._datasette).entry
        if entry is None or self.database is None:
            return None
        pair, phone, waiting, scale = (
            page_address(self._datasette, self.database, f"{ENTER}/{name}")
            for name in ("pair", "phone", "waiting", "scale")
        )
        heard = scale if state_of(self._datasette).scale is not None else ""
        kept, book = entry.phones.cookie, entry.phones.book[:BOOK_LETTERS]
        bring_in = command_naming_book(self._datasette, self.database, BRING_IN)
        return EntryAddresses(pair, phone, waiting, kept, book, heard, bring_in)

    @property
    def now(self) -> str:
        """The laptop's time while the page is drawn."""
        return now_utc()

    @property
    def phone(self) -> Phone | None:
        """The paired phone that asks; None for any other device."""
        return None if self._request is None else phone_in(self._request)

    @property
    def navigation(self) -> list[tuple[str, str, bool]]:
        """Address, words, and whether it is the page that is shown."""
        if self.database is None:
            return []
        entries = state_of(self._datasette).navigation
        links = [(page_address(self._datasette, self.database, name), entry.words) for name, entry in entries]
        if self.copy is None:
            links.append((self.address, "Tables"))
        here = as_visitors_see(self._datasette, self._request.path) if self._request else ""
        if here == self._datasette.urls.instance() and len(self.names) == 1:
            here = links[0][0]
        return [(address, words, here == address) for address, words in links]

    @property
    def copy(self) -> CopyToRead | None:
        """What the page says where it is written as a file; None where it is served."""
        return state_of(self._datasette).copy

    @property
    def is_for_readers(self) -> bool:
        """Whether those who read this page cannot write to its database, so that no command that writes helps them."""
        return is_for_readers(self._datasette, self.asked or self.database)

    @property
    def invented(self) -> str:
        """The line under the header: that everything in this page's database is invented, or nothing."""
        return self.invented_words(self.asked or self.database or "")

    @property
    def edition(self) -> EditionWords | None:
        """What the page says where its database is an edition."""
        return state_of(self._datasette).edition_words(self.asked or self.database or "")

    @property
    def numbered_days(self) -> str:
        """That days of this page's database are numbered, where it began with a copy without days; else nothing."""
        last = state_of(self._datasette).numbered_up_to(self.asked or self.database or "")
        return numbered_words(last) if last else ""

    @property
    def copied_aside(self) -> str:
        """That this page's database is a copy of the team's as of a moment, where it is one; else nothing."""
        name = self.asked or self.database
        team = team_database(self._datasette, name) if name else None
        return aside_words(team.aside.made_at) if team is not None and team.aside is not None else ""

    @property
    def other_book(self) -> str:
        """That another book is in the place of the one that was entered, or nothing."""
        return OTHER_BOOK if state_of(self._datasette).is_other_book(self.asked or self.database or "") else ""

    def invented_words(self, database: str) -> str:
        """That everything in a database is invented, where it says so itself; else nothing."""
        return INVENTED_WORDS if state_of(self._datasette).is_invented(database) else ""

    @property
    def robots(self) -> str:
        """What is said to search engines on a page; empty where they may take it in."""
        return "" if state_of(self._datasette).may_be_indexed(self._datasette) else STAY_OUT

    def scripts_of_others(self, files: Sequence[Any], inline: Sequence[Any]) -> ScriptsOfOthers:
        """What other plugins add to this page, let in by its policy; nothing on a page of our own."""
        return scripts_of_others(self._request).take(files, inline)

    def described(self, given: Mapping[str, Any] | None) -> dict[str, Any]:
        """Title, description and columns of the table or the database of this page, under what Datasette has of it."""
        found = state_of(self._datasette).metadata(self._datasette)["databases"].get(self.asked, {})
        ours = found.get("tables", {}).get(self.table, {}) if self.table else found
        return {**ours, **(given or {})}

    @property
    def are_more_rows(self) -> bool:
        """Whether what was asked for this page left some of its rows."""
        asked = asked_rows()
        return asked is not None and asked.are_more

    @property
    def sql_address(self) -> str:
        """Where Datasette answers a question in SQL."""
        return f"{self._datasette.urls.database(self.asked)}{'/-/query' if HAS_SQL_PAGE else ''}"

    def words(self, column: str) -> str:
        """A column's heading: ``Dry mass [g]``."""
        field = unit_of(self._datasette, self.table, column)
        if field is None or not field.unit or field.unit in ("1", "runs"):
            stem = field.stem if field else column
            return _capital(stem.replace("_", " "))
        return f"{_capital(field.words)} [{SHOWN_UNIT.get(field.unit, field.unit)}]"

    def title(self, table: str) -> str:
        """The title of a table."""
        found = state_of(self._datasette).metadata(self._datasette)
        known = found["databases"][self.database]["tables"] if self.database else {}
        return str(known.get(table, {}).get("title") or table)

    def columns(self, columns: Sequence[dict[str, Any]], rows: Sequence[Any]) -> list[ShownColumn]:
        """The columns worth showing: the name first, none that is empty in every row of the page, no bookkeeping."""
        self._rows = rows
        places = list(range(len(columns)))
        if self.kind and self.kind.label:
            named = [place for place in places if columns[place]["name"] == self.kind.label]
            places = named + [place for place in places if place not in named and columns[place]["name"] != "id"]
        if self.kind and self.kind.from_file:
            pictures = [place for place in places if columns[place]["name"] == self.kind.from_file]
            places = [*places[:1], *pictures, *(place for place in places[1:] if place not in pictures)]
        if not self.shows_all:
            places = [place for place in places if not self._left_out(columns[place]["name"], place, rows)]
        return [
            ShownColumn(
                place,
                columns[place]["name"],
                self.words(columns[place]["name"]),
                unit_of(self._datasette, self.table, columns[place]["name"]) is not None,
                bool(columns[place]["sortable"]),
            )
            for place in places
        ]

    async def narrowed_to(self) -> str:
        """What the rows of a page are narrowed down to, by name: ``rear-a``; empty for all rows."""
        team = team_database(self._datasette, self.database) if self.database else None
        said = []
        for column, value in parse_qsl(self._request.query_string):
            if team is None or column.startswith("_"):
                continue
            target = target_of(self.table, column)
            said.append((await name_of_row(team, target, value) if target else None) or value)
        return ", ".join(said)

    @property
    def shows_all(self) -> bool:
        """Whether the visitor has chosen the columns."""
        return any(key in self._request.args for key in ("_all", "_col", "_nocol"))

    def _left_out(self, column: str, place: int, rows: Sequence[Any]) -> bool:
        if self.kind and column in TECHNICAL and column != "id" and (self.kind.own or column != "version"):
            return True
        if column in ASIDE.get(self.table or "", ()):
            return True
        return bool(rows) and all(_raw(row, place) in (None, "") for row in rows)

    async def named_cell(self, row: Any, column: ShownColumn) -> Any:
        """A cell as shown; the name of a record links to it."""
        cells = list(row)
        shown = cells[column.place]["value"]
        if self.database is None:
            return shown
        team = team_database(self._datasette, self.database)
        if team is not None and self.table in _FACT_TABLES and column.place == 0:
            return await self._about(team, column.name, str(cells[0]["raw"]))
        if team is not None and self.kind and cells[0].get("value_type") == "pk":
            row_id = str(cells[0]["raw"])
            if column.name == self.kind.label:
                return link(self._datasette, team, self.kind.table, row_id, cells[column.place]["raw"])
            if self.kind.table == PICTURES and column.name == "id":
                return await thumbnail_cell(self._datasette, team, row_id) or shown
            if column.name == "id":
                return link(
                    self._datasette, team, self.kind.table, row_id, await self._name_of(team, self.kind, row_id)
                )
        return shown

    async def _name_of(self, team: TeamDatabase, kind: Kind, row_id: str) -> str | None:
        """The name of a record without a label; those of all rows of the page are asked for at once."""
        if self._names is None:
            ids = [str(next(iter(row))["raw"]) for row in self._rows]
            self._names = await team.ask(names_of, kind, ids)
        return self._names.get(row_id)

    async def _about(self, team: TeamDatabase, column: str, row_id: str) -> Any:
        """A link to the record that a row of facts is about: its key is the record's."""
        target = target_of(self.table, column)
        return (
            link(self._datasette, team, target, row_id, await name_of_row(team, target, row_id)) if target else row_id
        )

    async def short_cell(self, row: Any, column: ShownColumn) -> ShownTable:
        """A cell for a row among others: long words cut, short ones kept on one line."""
        await let_others()
        value = await self.named_cell(row, column)
        if column.numeric:
            return ShownTable(value, "number")
        if isinstance(value, Markup):
            return ShownTable(value, "short" if len(value.striptags()) <= SHORT else "words")
        text = str(value)
        if len(text) > LONGEST:
            return ShownTable(text[:LONGEST] + "…", "words")
        return ShownTable(text, "short" if len(text) <= SHORT else "words")

    def rows_here(self, shown: int, counted: int | None, next_address: str | None) -> str:
        """Which of how many rows a page shows: ``Rows 51 to 100 of 3,100``."""
        first = self._first_row
        if not next_address and first == 1:
            return f"{shown:,} row{'' if shown == 1 else 's'}"
        whole = "" if counted is None else f" of {counted:,}"
        if first is None:
            return f"{shown:,} more rows{whole}"
        return f"Rows {first:,} to {first + shown - 1:,}{whole or '; there are more'}"

    @property
    def page_sql(self) -> str | None:
        """The SQL of a page of a table, with the order that it was asked in."""
        asked = asked_rows()
        return asked.page_sql if asked else None

    @property
    def _first_row(self) -> int | None:
        """The number of the page's first row in its order; None where the address does not say."""
        if "_next" not in self._request.args:
            return 1
        given = str(self._request.args.get(FIRST_ROW) or "")
        return int(given) if given.isdecimal() and len(given) < 10 else None

    def next_page(self, address: str, shown: int) -> str:
        """The address of the next page, with the number of its first row."""
        first = self._first_row
        return _with_query(address, {FIRST_ROW: None if first is None else str(first + shown)})

    def all_rows(self, address: str) -> str:
        """The address of a CSV file of a page's rows, made that of the rows of all pages."""
        return _with_query(address, {"_next": None, FIRST_ROW: None, "_stream": "on", "_dl": "on"})

    @property
    def with_all_columns(self) -> str:
        """This page's address with every column shown."""
        return str(self._datasette.urls.path(path_with_added_args(self._request, {"_all": 1})))

    async def row_title(self, row: Any, keys: Sequence[str]) -> str:
        """The heading of one row's page: the name people use."""
        team = team_database(self._datasette, self.database) if self.database else None
        if team is not None and self.table in _FACT_TABLES:
            return f"{self.title(self.table)}: {(await self._about(team, row.keys()[0], keys[0])).striptags()}"
        if self.kind is None:
            return f"{self.table} {', '.join(keys)}"
        if team is None or is_named_by_label(self.kind):
            name = row[self.kind.label] if self.kind.label else None
            return f"{_capital(self.kind.name.replace('_', ' '))} {name or keys[0][-6:]}"
        name = (await team.ask(names_of, self.kind, [keys[0]])).get(keys[0]) or keys[0][-6:]
        return _capital(with_kind(self.kind, name))

    def correct_address(self, keys: Sequence[str]) -> str:
        """Where a paired phone corrects one row; empty for any other device, and for rows that nobody types."""
        actor: dict[str, Any] = self._request.actor or {}
        may_write = state_of(self._datasette).takes_entries and actor.get("phone")
        if not may_write or self.database is None or self.kind is None:
            return ""
        if not self.kind.own or self.kind.name in NOT_IN_A_FORM:
            return ""
        return page_address(self._datasette, self.database, f"{ENTER}/record/{self.kind.name}/{keys[0]}", {})

    @property
    def clashes_address(self) -> str:
        """The page that says what stands in the table of clashes; empty on any other table."""
        if self.database is None or self.table != "clashes":
            return ""
        return page_address(self._datasette, self.database, "clashes")

    def mend_address(self, keys: Sequence[str]) -> str:
        """Where a paired phone mends the rejected rows of a kept file; empty for any other device and row."""
        actor: dict[str, Any] = self._request.actor or {}
        may_write = state_of(self._datasette).takes_entries and actor.get("phone")
        if not may_write or self.database is None or self.kind is None or self.kind.name != "note_file":
            return ""
        return page_address(self._datasette, self.database, f"{ENTER}/rejected/{keys[0]}", {})

    async def also_written(self, keys: Sequence[str]) -> Sequence[str]:
        """What else the record of one row is called, where it is one with others; or what stands for it."""
        team = team_database(self._datasette, self.database) if self.database else None
        if team is None or self.kind is None or self.kind.name not in JOINED_KINDS:
            return ()
        return await team.ask(also_written_or_stands, self.kind, keys[0])

    async def left_here(self, keys: Sequence[str]) -> str:
        """What is left of the part, or in the bottle, of one row; empty for any other."""
        team = team_database(self._datasette, self.database) if self.database else None
        if team is None or self.kind is None or self.kind.name not in _COUNTED_AT:
            return ""
        return await team.ask(left_of_record, self.kind.table, keys[0])

    def count_address(self, keys: Sequence[str]) -> str:
        """Where a paired phone counts the part, or weighs the bottle, of one row; empty for any other."""
        page = _COUNTED_AT.get(self.kind.name) if self.kind is not None else None
        if page is None or self.kind is None or not self.correct_address(keys):
            return ""
        return self._page(f"{ENTER}/{page}", **({} if page == "stock" else {self.kind.name: keys[0]}))

    async def photographs(self, keys: Sequence[str]) -> PhotographSection:
        """The photographs that hang on one row, or of one picture the newest that show it."""
        team = team_database(self._datasette, self.database) if self.database else None
        if team is not None and self.kind is not None and self.kind.table == PICTURES:
            return photograph_section(self._page, await team.ask(photographs_with, keys[0]), {})
        if team is None or self.kind is None or self.kind.name not in HUNG_ON:
            return PhotographSection()
        found = await team.ask(photographs_of_record, self.kind.name, keys[0])
        return photograph_section(self._page, found, {self.kind.name: keys[0]})

    def photograph_address(self, keys: Sequence[str]) -> str:
        """Where a paired phone hangs a photograph on one row; empty for any other device, for rows that take none, and
        where pictures cannot be read."""
        if self.kind is None or self.kind.name not in HUNG_ON or not self.correct_address(keys):
            return ""
        return self._page(f"{ENTER}/{PHOTOGRAPH}", **{self.kind.name: keys[0]}) if pictures_can_be_read() else ""

    def _page(self, page: str, **given: Any) -> str:
        return page_address(self._datasette, str(self.database), page, given)

    def groups(self, tables: Iterable[Any], views: Iterable[Any]) -> list[tuple[str, list[ListedTable]]]:
        """A database's tables and views in groups that a person looks for."""
        counts = {one["name"]: one["count"] for one in map(as_dictionary, tables) if not one["hidden"]}
        there = {one["name"] for one in map(as_dictionary, views)}
        ours = {view.name for view in VIEWS}
        known = [*BY_TABLE, *_FACT_TABLES]
        groups = (
            ("Overviews", [name for name in _PLAIN_VIEWS if name in there]),
            ("Records", [kind.table for kind in BY_TABLE.values() if kind.own and kind.table in counts]),
            ("Kept by the tool", [kind.table for kind in BY_TABLE.values() if not kind.own and kind.table in counts]),
            ("Results of calculators", sorted(name for name in there - ours if name.startswith("calc_"))),
            (
                "Behind the overviews",
                [table for table in _FACT_TABLES if table in counts]
                + [view.name for view in VIEWS if view.name in there - set(_PLAIN_VIEWS)],
            ),
            (
                "Others",
                [name for name in counts if name not in known]
                + sorted(name for name in there - ours if not name.startswith("calc_")),
            ),
        )
        return [(words, [self._entry(name, counts.get(name)) for name in names]) for words, names in groups if names]

    def _entry(self, name: str, count: int | None) -> ListedTable:
        found = state_of(self._datasette).metadata(self._datasette)["databases"].get(self.database, {})
        described = found.get("tables", {}).get(name, {})
        return ListedTable(name, described.get("title", name), described.get("description", ""), count)


def template_variables(datasette: Any, database: str | None, table: str | None, request: Any) -> dict[str, Any]:
    """Nothing where no database is a bevelbook file."""
    if not state_of(datasette).names(datasette):
        return {}
    return {"bevelbook": TemplateContext(datasette, database, table, request)}


def _with_query(address: str, changed: dict[str, str | None]) -> str:
    """An address with values of its query put in place of others; None takes one out."""
    parts = urlsplit(address)
    kept = [one for one in parse_qsl(parts.query, keep_blank_values=True) if one[0] not in changed]
    added = [(name, value) for name, value in changed.items() if value is not None]
    return urlunsplit(parts._replace(query=urlencode([*kept, *added])))


def _raw(row: Any, place: int) -> Any:
    return list(row)[place]["raw"]


def _capital(words: str) -> str:
    return begun(words)
