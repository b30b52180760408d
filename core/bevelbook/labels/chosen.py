"""Which labels are asked for: by names of records, or by the words for all bags, bottles or tins."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Final, NamedTuple

from bevelbook.declare.errors import InputError, Place, UnknownNameError
from bevelbook.declare.in_command import in_command
from bevelbook.display.quarters import in_quarters
from bevelbook.facts.builds import last_build_sql
from bevelbook.labels.bag import bag_labels, builds_in_bags
from bevelbook.labels.bottle import bottle_labels, bottles_at_hand
from bevelbook.labels.contents import PaperLabel, Words
from bevelbook.labels.tin import kinds_in_tins, tin_labels
from bevelbook.records import BY_NAME
from bevelbook.store.called import RecordCalled, called
from bevelbook.store.edition_mark import DAYS, edition_of
from bevelbook.store.lookup import labels_of

GROUPS: Final = ("bags", "bottles", "tins")
"""The words for all labels of a kind."""
_LABELLED: Final = ("diff", "build", "bottle", "fluid", "seal")
"""The kinds of record that a label may be asked of: of a diff its last build has one, of a fluid each bottle in use."""


class _Group(NamedTuple):
    """How the labels of a kind are made, and which there are."""

    make: Callable[[sqlite3.Connection, Iterable[str]], Iterator[PaperLabel]]
    all: Callable[[sqlite3.Connection], list[str]]


_OF: Final = {
    "bags": _Group(bag_labels, builds_in_bags),
    "bottles": _Group(bottle_labels, bottles_at_hand),
    "tins": _Group(tin_labels, kinds_in_tins),
}
_GROUP_OF: Final = {"build": "bags", "bottle": "bottles", "seal": "tins"}


def chosen_labels(connection: sqlite3.Connection, asked: Sequence[str]) -> list[PaperLabel]:
    """The labels of what is asked for, each once, in that order; without anything those of the builds in use.

    Raises UnknownNameError, or InputError for a name of several records, or where there is nothing to print.
    """
    wanted: dict[tuple[str, str], None] = {}
    for one in asked or ("bags",):
        if one in GROUPS:
            wanted.update(dict.fromkeys((one, row_id) for row_id in _OF[one].all(connection)))
        else:
            wanted.update(dict.fromkeys(_of_name(connection, one)))
    labels = [label for group, row_id in wanted for label in _OF[group].make(connection, [row_id])]
    if not labels:
        raise InputError(
            "there is nothing to print labels of",
            code="no_labels",
            found=", ".join(asked) if asked else None,
            remedy="Name a build, a bottle or a kind of seal: 'bevelbook labels rear-a/3 --html labels.html'.",
        )
    return [_in_quarters(label) for label in labels] if DAYS in (edition_of(connection) or ()) else labels


def _in_quarters(label: PaperLabel) -> PaperLabel:
    """The label of a copy without days: what stands for a day is said as one of its quarter."""
    rows = tuple(row._replace(text=in_quarters(row.text)) if isinstance(row, Words) else row for row in label.rows)
    return label._replace(rows=rows)


def _of_name(connection: sqlite3.Connection, typed: str) -> list[tuple[str, str]]:
    """The groups and the records that a name means, with or without its kind in front: ``rear-a/3``, ``bottle B2``;
    the name of a fluid means its bottles in use."""
    kind, _, rest = typed.partition(" ")
    kinds = (kind,) if kind in _LABELLED and rest else _LABELLED
    found = called(connection, rest if kinds == (kind,) else typed, kinds)
    if not found and kinds == (kind,):
        found = called(connection, typed, _LABELLED)
    fluids = [one for one in found if one.kind.name == "fluid"]
    if fluids:  # its bottle without a lot is called the same
        found = [one for one in found if one.kind.name != "bottle"]
    if len(found) > 1:
        names = " or ".join(f"'{one.kind.name} {one.name}'" for one in found)
        raise InputError(
            f"{len(found)} records have that name", code="ambiguous_name", found=typed, remedy=f"Name {names}."
        )
    if not found:
        known = [name for one in ("build", "diff", "fluid", "seal") for name in labels_of(connection, BY_NAME[one])]
        raise UnknownNameError("build", typed, known, noun="build, diff, bottle, oil or kind of seal")
    return _bottles(connection, fluids[0]) if fluids else [_labelled(connection, found[0])]


def _bottles(connection: sqlite3.Connection, fluid: RecordCalled) -> list[tuple[str, str]]:
    """The bottles of a fluid that are in use. Raises InputError where it has none."""
    found = bottles_at_hand(connection, fluid.row_id)
    if not found:
        raise InputError(
            "no bottle of it is in use, so there is none to print a label of",
            code="no_labels",
            place=Place(),
            found=fluid.name,
            remedy=f"Write it down first: 'bevelbook record bottle {in_command(f'fluid={fluid.name}')}'.",
        )
    return [("bottles", bottle) for bottle in found]


def _labelled(connection: sqlite3.Connection, found: RecordCalled) -> tuple[str, str]:
    if found.kind.name != "diff":
        return _GROUP_OF[found.kind.name], found.row_id
    last = connection.execute(
        f"SELECT {last_build_sql('d.id')} FROM diffs d WHERE d.id = ?", (found.row_id,)
    ).fetchone()
    if last is None or last[0] is None:
        raise InputError(
            "it was never built, so there is no build to print a label of",
            code="no_labels",
            place=Place(),
            found=found.name,
            remedy="Write its build down first: 'bevelbook record build diff=...'.",
        )
    return "bags", str(last[0])
