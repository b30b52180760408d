"""Where a chosen record would hold what a calculation lacks, and the command that writes it there."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from bevelbook.calculating.binding import LISTINGS, holders, reachable
from bevelbook.calculating.known import Subject
from bevelbook.declare.counting import plural
from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.in_command import in_command
from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.plugin.calculator import Formula
from bevelbook.records import BY_NAME, BY_TABLE, Kind
from bevelbook.store.lookup import label_of


class Holder(NamedTuple):
    """A field of a record that is empty and would give an input: the record's kind and name, and the field."""

    kind: str
    label: str
    field: str

    def command(self) -> str:
        """How it is written down."""
        return f"bevelbook record {self.kind.replace('_', '-')} {in_command(self.label)} {self.field}=..."


class ShortListing(NamedTuple):
    """What is missing of a listing, and how to write it down."""

    what: str
    remedy: str


def where_written(
    connection: sqlite3.Connection, formula: Formula[Any, Any], subjects: Iterable[Subject], names: Iterable[str]
) -> list[Holder]:
    """For inputs by name: the fields of the chosen records, or of those they point to, that would give them."""
    fields = {field.name: field for field in formula.inputs}
    subjects = list(subjects)
    found = (_holder(connection, fields[name], subjects) for name in names if name in fields)
    return list(dict.fromkeys(one for one in found if one is not None))


def in_words(holders: Iterable[Holder]) -> str:
    """What to write down and how, as a sentence; empty where no record would hold it."""
    by_record: dict[tuple[str, str], list[Holder]] = {}
    for one in holders:
        by_record.setdefault((one.kind, one.label), []).append(one)
    said = (
        f"{' or '.join(one.field for one in ones)} of {kind.replace('_', ' ')} {label} ('{ones[0].command()}')"
        for (kind, label), ones in by_record.items()
    )
    text = ", or ".join(said)
    return f"Or write down {text}." if text else ""


def short_listing(
    connection: sqlite3.Connection, formula: Formula[Any, Any], subjects: Iterable[Subject]
) -> ShortListing | None:
    """What the records of a chosen record lack for the formula's listing; None where no chosen record fills it."""
    listing = formula.listing_in
    source = LISTINGS.get(listing.same_as or "") if listing else None
    subject = next((one for one in subjects if source and one.kind.name == source.subject), None)
    if listing is None or source is None or subject is None:
        return None
    if source.columns:
        return _short_of_columns(connection, formula, source.columns, subject)
    if source.made_of is None:
        return None
    kind = BY_NAME[source.made_of.kind]
    (count,) = connection.execute(
        f"SELECT count(*) FROM {kind.table} WHERE {subject.kind.name} = ?", (subject.row_id,)
    ).fetchone()
    name = kind.name.replace("_", " ")
    asked = [part.stem for part in fields_of(listing.item) if part.required]
    asked += [field.stem for field in kind.fields if field.required and field.stem not in (*asked, subject.kind.name)]
    words = [f"{subject.kind.name}={in_command(subject.label)}", *_same_basis(connection, kind, subject)]
    command = " ".join(["bevelbook", "record", kind.name.replace("_", "-"), *words, *(f"{one}=..." for one in asked)])
    return ShortListing(
        f"{formula.name} needs {source.made_of.needs}; {subject.label} has {count or 'no'} {plural(count or 1, name)}",
        f"{source.made_of.another if count else source.made_of.first}: '{command}'.",
    )


def _short_of_columns(
    connection: sqlite3.Connection, formula: Formula[Any, Any], columns: tuple[str, ...], subject: Subject
) -> ShortListing:
    """What a record lacks of the columns that a listing is made of."""
    kind = subject.kind
    row = connection.execute(
        f"SELECT {', '.join(columns)} FROM {kind.table} WHERE id = ?", (subject.row_id,)
    ).fetchone()
    empty = [kind.field(column) for column, value in zip(columns, tuple(row), strict=True) if value is None]
    name = kind.name.replace("_", " ")
    words = " ".join(
        [
            "bevelbook",
            "record",
            kind.name.replace("_", "-"),
            in_command(subject.label),
            *(f"{one.stem}=..." for one in empty),
        ]
    )
    return ShortListing(
        f"{formula.name} needs {', '.join(one.about[0].lower() + one.about[1:] for one in empty)}: not written down "
        f"for {name} {subject.label}",
        f"Write it down: '{words}'.",
    )


def _holder(connection: sqlite3.Connection, field: Field, subjects: list[Subject]) -> Holder | None:
    for subject in subjects:
        joins = reachable(subject.kind)
        for table, column in holders(field.same_as):
            kind = BY_TABLE.get(table)
            if kind is None or not kind.own or table not in joins:
                continue
            row = connection.execute(
                f"SELECT {table}.id FROM {subject.kind.table} {' '.join(joins.values())} "
                f"WHERE {subject.kind.table}.id = ?",
                (subject.row_id,),
            ).fetchone()
            if row is not None and row[0] is not None:
                return Holder(kind.name, label_of(connection, kind, row[0]), kind.field(column).stem)
    return None


def _same_basis(connection: sqlite3.Connection, kind: Kind, subject: Subject) -> Iterator[str]:
    """Of a weighing: the mass basis of the build's others, so that the next one compares with them."""
    if kind.name == "weighing":
        row = connection.execute(
            "SELECT coalesce(k.weighed_as, w.mass_basis) FROM weighings w LEFT JOIN build_facts k ON k.build = w.build "
            "WHERE w.build = ? ORDER BY w.id DESC",
            (subject.row_id,),
        ).fetchone()
        if row is not None and row[0] not in (None, NOT_SAID):
            yield f"mass_basis={in_command(row[0])}"
