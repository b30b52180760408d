"""The calculators that a page offers: those declared for it, with what the page knows filled in."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from markupsafe import Markup

from bevelbook.calculating.binding import LISTINGS, answers
from bevelbook.declare.errors import BevelbookError
from bevelbook.plugin.calculator import Calculator
from bevelbook.plugin.registry import Registry
from bevelbook.records import Kind
from bevelbook.store.lookup import find_id, label_of
from bevelbook.web.shared.links import Linker


class OfferedHere(NamedTuple):
    """A calculator that a page offers: its name, its title, and what the page knows of its form."""

    name: str
    title: str
    given: dict[str, str]


def offered_links(links: Linker, offered: Iterable[OfferedHere]) -> list[Markup]:
    """Links to calculators with their forms filled in; none in a copy to read, where nothing works them out."""
    if links.is_in_copy:
        return []
    return [links.to(f"calc/{one.name}", one.title, **one.given) for one in offered]


def offered_for(connection: sqlite3.Connection, registry: Registry, kind: Kind, row_id: str) -> list[OfferedHere]:
    """The calculators that the page of a record offers for it.

    One that needs a listing of such a record is offered where the records have rows of it.
    """
    offered = [one for one in registry.on_page(kind.name) if _has_its_listing(connection, one, kind, row_id)]
    if not offered:
        return []
    label = label_of(connection, kind, row_id)
    named = f"{kind.name}:{label if _leads_here(connection, kind, row_id, label) else row_id}"
    return [OfferedHere(one.name, one.title, {"for": named}) for one in offered]


def _has_its_listing(connection: sqlite3.Connection, calculator: Calculator[Any, Any], kind: Kind, row_id: str) -> bool:
    listing = calculator.listing_in
    if listing is None or not listing.required or listing.same_as not in LISTINGS:
        return True
    return LISTINGS[listing.same_as].subject != kind.name or bool(answers(connection, listing.same_as, row_id))


def offered_for_conditions(
    registry: Registry, grip: str, track_temp_c: float, position: str | None
) -> Iterator[OfferedHere]:
    """The calculators that take the conditions asked for."""
    for one in registry.for_conditions():
        inputs = one.for_conditions
        if inputs is None:
            continue
        given = {inputs.grip: grip, inputs.track_temp_c: f"{track_temp_c:g}"}
        if inputs.position and position:
            given[inputs.position] = position
        yield OfferedHere(one.name, one.title, given)


def _leads_here(connection: sqlite3.Connection, kind: Kind, row_id: str, label: str) -> bool:
    """Whether the label leads to this record alone; a comma would split it into two names."""
    try:
        return "," not in label and find_id(connection, kind, label) == row_id
    except BevelbookError:
        return False
