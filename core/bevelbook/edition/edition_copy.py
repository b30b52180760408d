"""A copy of the database aside, made ready for others: what an edition is written from, as often as wanted."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.edition.canonical_file import write_canonical
from bevelbook.edition.edition_rows import Row, change_rows, kinds_of_edition, references_of, take_rows
from bevelbook.edition.how_it_came import (
    forget_bookkeeping,
    keep_valid_results,
    name_results_by_content,
    name_versions_by_content,
    number_again,
    sheets_in_order,
)
from bevelbook.edition.ids_by_content import new_ids, put_in
from bevelbook.edition.neutral_names import LooksPersonal, NeutralNames, Spelled, people_of
from bevelbook.edition.quarter_days import QuarterDays
from bevelbook.facts.renew import FACTS_VERSION, renew_all
from bevelbook.facts.runs import runs_at_weighing_sql
from bevelbook.interchange.clean_database import clean_database
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME, FACTS, Kind
from bevelbook.store.about_table import FACTS as FACTS_MARK
from bevelbook.store.edition_mark import DAYS, EDITION, PEOPLE, edition_of, edition_value
from bevelbook.store.files_elsewhere import ELSEWHERE, without_bytes
from bevelbook.store.folder_aside import folder_aside
from bevelbook.store.invented_mark import INVENTED, is_invented
from bevelbook.store.schema import ALL_KINDS
from bevelbook.store.sqlite_errors import explained
from bevelbook.store.text_not_utf8 import is_undecoded, undecoded
from bevelbook.store.values_refused import values_refused

_KEPT_AS_TYPED: Final = ("label", "day_order", "swap", "after_run")
"""What facts ask of what was typed, if no more is to be said of it."""
_PERSON: Final = "person"


class EditionParts(NamedTuple):
    """What an edition goes without, and whether photographs and kept files go with it."""

    without_people: bool = False
    without_days: bool = False
    with_files: bool = False

    @property
    def needs_new_ids(self) -> bool:
        """Whether ids and sheets would tell what is to be left out."""
        return self.without_people or self.without_days


class EditionCopy:
    """A copy that is ready: what is in it, and what a person should know of it before it is written.

    ``names`` are the people that were named, ``to_look_at`` what may tell who somebody is without a name, or which day
    it was, ``is_named_in`` says whether one of those left out is named in a text that somebody gives, ``relabelled``
    the labels that other records have now, ``differing`` how many facts are not what the database has, ``clashes`` how
    many records were changed in two ways of which the one that is shown is there.
    """

    def __init__(self, aside: sqlite3.Connection, path: Path, parts: EditionParts, registry: Registry) -> None:
        self._aside = aside
        self._path = path
        self._registry = registry
        self.parts = parts
        self.without: frozenset[str] = frozenset()
        self.invented = False
        self.names: list[Spelled] = []
        self.to_look_at: list[LooksPersonal] = []
        self.is_named_in: Callable[[str], bool] = lambda _text: False
        self.relabelled: Mapping[str, str] = {}
        self.differing = 0
        self.clashes = 0
        self.rows: Mapping[str, int] = {}
        self.days: tuple[str, str] | None = None

    def write_file(self, path: Path) -> None:
        """Write the edition as one file: equal content gives equal bytes. Raises DatabaseError."""
        about = {FACTS_MARK: FACTS_VERSION, EDITION: edition_value(self.without)}
        if self.invented:
            about[INVENTED] = "yes"
        missing = sorted(without_bytes(self._aside))
        if missing:
            about[ELSEWHERE] = json.dumps(missing)
        held = {row[0] for row in self._aside.execute("SELECT DISTINCT calculator FROM calculations ORDER BY 1")}
        known = [one.calculator for one in self._registry.with_rows()]
        try:
            write_canonical(self._path, path, about, [one for one in known if one.name in held])
        except sqlite3.Error as fault:
            raise explained(fault, path) from fault


@contextmanager
def edition_copy(
    connection: sqlite3.Connection, path: Path, parts: EditionParts, registry: Registry, *, within: Path | None = None
) -> Iterator[EditionCopy]:
    """A copy of all that goes into an edition, in a folder that is gone afterwards; ``path`` names the database in
    errors, whose connection may be read-only and is read as of one moment. Raises DatabaseError."""
    with folder_aside(within) as folder:
        where = folder / "copy.db"
        with closing(clean_database(where)) as aside:
            made = EditionCopy(aside, where, parts, registry)
            try:
                aside.execute("BEGIN")
                is_open = connection.in_transaction
                if not is_open:
                    connection.execute("BEGIN")
                try:
                    _CopyMaker(connection, aside, made).make()
                finally:
                    if not is_open:
                        connection.rollback()
                aside.execute("COMMIT")
            except sqlite3.Error as fault:
                if is_undecoded(fault):
                    raise undecoded(connection, path) from fault
                if isinstance(fault, sqlite3.IntegrityError) and (refused := _refused(connection, path)) is not None:
                    raise refused from fault
                raise explained(fault, path, written=where) from fault
            yield made


def _refused(connection: sqlite3.Connection, path: Path) -> DatabaseError | None:
    """The fault that names the first record which another program gave a value that it cannot have; None where there
    is none."""
    held = (said for kind in ALL_KINDS if not kind.derived for said in values_refused(connection, kind))
    found = next(held, None)
    if found is None:
        return None
    return DatabaseError(
        f"another program wrote a value that cannot be there: {found}",
        code="refused_by_database",
        place=Place(str(path)),
        remedy="'bevelbook check --deep' lists all such records. Give them a value that can be there, with 'bevelbook "
        "record', then write the edition again. Nothing was changed.",
    )


class _CopyMaker:
    def __init__(self, source: sqlite3.Connection, aside: sqlite3.Connection, made: EditionCopy) -> None:
        self.source = source
        self.aside = aside
        self.made = made
        self.parts = made.parts

    def make(self) -> None:
        source, aside, made, parts = self.source, self.aside, self.made, self.parts
        before = edition_of(source)
        asked = {*((PEOPLE,) if parts.without_people else ()), *((DAYS,) if parts.without_days else ())}
        made.without = frozenset(asked) | (before or frozenset())
        made.invented = is_invented(source)
        made.clashes = source.execute("SELECT count(*) FROM main.clashes").fetchone()[0]
        kinds = kinds_of_edition(with_files=parts.with_files, with_notes=True)
        take_rows(source, aside, kinds, parts.with_files)
        forget_bookkeeping(aside, kinds, keep_times=before is not None)
        made.relabelled = number_again(aside)
        keep_valid_results(aside, kinds, made.relabelled)
        if made.without - (before or frozenset()):
            kinds = self._tell_less(kinds, had_new_ids=bool(before))
        name_results_by_content(aside)
        name_versions_by_content(aside, kinds)
        renew_all(aside)
        made.differing = self._differing()
        made.rows = {kind.table: _count(aside, kind) for kind in kinds}
        first, last = aside.execute("SELECT min(run_on), max(run_on) FROM runs").fetchone()
        made.days = (first, last) if first else None

    def _tell_less(self, kinds: Sequence[Kind], *, had_new_ids: bool) -> tuple[Kind, ...]:
        """Leave out people, days or both, with all by which they could be found: sheets, ids, what was typed."""
        aside = self.aside
        at_weighing = runs_at_weighing_sql("w")
        aside.execute(f"UPDATE weighings AS w SET runs = {at_weighing} WHERE runs IS NULL")
        sheets = sheets_in_order(aside)
        names = None
        if self.parts.without_people:
            names = NeutralNames(people_of(self.source))
            self._drop_people(kinds)
        kept = tuple(
            one
            for one in kinds_of_edition(with_files=self.parts.with_files, with_notes=False)
            if not (names is not None and one.name == _PERSON)
        )
        for kind in kinds:
            if kind not in kept:
                aside.execute(f"DELETE FROM {kind.table}")
            elif kind.own:
                change_rows(aside, kind, _forget_typed)
        if self.parts.without_days:
            days = QuarterDays(aside, kept)
            days.put_into(aside)
            self.made.to_look_at += days.to_look_at
        if names is not None:
            names.take_out_of(aside, kept)
            self.made.names = names.said()
            self.made.to_look_at += names.to_look_at
            self.made.is_named_in = lambda text: names.again_in_text(text) != text
        ids = new_ids(aside, kept, sheets, keep_order=had_new_ids)
        for kind in kept:
            if kind.own:
                aside.execute(f"UPDATE {kind.table} SET note_file = NULL, note_line = NULL")
        put_in(aside, kept, ids)
        if names is not None:
            names.number(aside, kept)
        return kept

    def _drop_people(self, kinds: Sequence[Kind]) -> None:
        table = BY_NAME[_PERSON].table
        for kind in kinds:
            for column, target in references_of(kind).items():
                if target == table:
                    self.aside.execute(f"UPDATE {kind.table} SET {column} = NULL WHERE {column} IS NOT NULL")
        self.aside.execute("DELETE FROM joins WHERE kind = ?", (_PERSON,))
        self.aside.execute("DELETE FROM one_with WHERE kind = ?", (_PERSON,))

    def _differing(self) -> int:
        """How many rows of facts are not as in the database, by what they say without ids, and without days where
        these are left out."""
        left = {"reference", "text"} | ({"date"} if self.parts.without_days else set())
        found = 0
        for kind in FACTS:
            columns = [field.name for field in kind.fields if field.kind not in left]
            asked = f"SELECT {', '.join(columns)} FROM main.{kind.table}"
            here, there = (Counter(map(tuple, one.execute(asked))) for one in (self.aside, self.source))
            found += sum((here - there).values())
        return found


def _forget_typed(row: Row) -> None:
    if row["entered"] is None:
        return
    typed: dict[str, Any] = json.loads(row["entered"])
    kept = {name: typed[name] for name in _KEPT_AS_TYPED if typed.get(name) is not None}
    if kept.pop("label", None) is not None and "label" in row:
        kept = {"label": row["label"], **kept}
    if "after_run" in kept:
        kept["after_run"] = "yes"
    row["entered"] = json.dumps(kept, ensure_ascii=False, separators=(",", ":")) if kept else None


def _count(aside: sqlite3.Connection, kind: Kind) -> int:
    return int(aside.execute(f"SELECT count(*) FROM {kind.table}").fetchone()[0])
