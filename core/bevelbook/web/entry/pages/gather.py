"""A weekend gathered from another laptop: fetched with its code, looked at, and then taken in or left."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any, BinaryIO, Final

from bevelbook.declare.errors import BevelbookError
from bevelbook.interchange.export_words import size_in_words
from bevelbook.plugin.registry import Registry
from bevelbook.store.sqlite_errors import in_words
from bevelbook.web.entry.entry_fields import EntryField
from bevelbook.web.entry.gathered_weekends import WAITS_S, GatheredWeekend, gathered_weekends
from bevelbook.web.entry.other_laptop import laptop_address
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.entry.weekend_met import WeekendMet, meet, would_meet
from bevelbook.web.host.page import NAME_OR_NONE, EntryPage
from bevelbook.web.pairing.host_names import as_address
from bevelbook.web.shared.fault_words import fault_words

ADDRESS: Final = "address"
CODE: Final = "code"
_FIELD_OF: Final = {"laptop_address": ADDRESS, "weekend_code_wrong": CODE}


async def gather(request: Any, datasette: Any) -> Any:
    """Ask for address and code; fetch; say what would come; take it in or leave it."""
    asked = await entry_request(datasette, request)
    named = request.url_vars.get("name")
    if named:
        return await _one(asked, named)
    return await (_fetched(asked) if asked.is_sent else _ask(asked))


async def _ask(asked: EntryRequest, *, fault: BevelbookError | None = None, said: str = "") -> Any:
    words, where = fault_words(fault), _FIELD_OF.get(fault.code) if fault else None

    def field(name: str, label: str, about: str, keypad: str) -> EntryField:
        beside = words if name == where else ""
        return EntryField(name, label, "", about, "text", "text", asked.form.text(name), keypad=keypad, fault=beside)

    return await asked.render(
        PAGE,
        "Gather from another laptop",
        status=400 if fault or said else 200,
        screen="ask",
        fields=(
            field(ADDRESS, "Its address", "such as 192.168.1.7:8002, as that laptop shows it", "url"),
            field(CODE, "Its code", "eight digits, for once", "numeric"),
        ),
        said=said or ("" if where else words),
    )


async def _fetched(asked: EntryRequest) -> Any:
    """Fetch it, look at it, and go on to what would come."""
    weekends = gathered_weekends(asked.page.datasette)
    gathered = None
    try:
        there = laptop_address(asked.form.text(ADDRESS), may_be_here=_is_on_this_laptop(asked))
        gathered = await weekends.fetch(asked.phone.id, there, asked.form.text(CODE), asked.person or asked.phone.name)
        met = await weekends.with_file(gathered, _meeting(asked, would_meet))
    except BevelbookError as stopped:
        if gathered is not None:
            weekends.leave(gathered, "left")
        return await _ask(asked, fault=stopped)
    except OSError:
        return await _ask(asked, said="The laptop has no room left for it. Make room there, and ask for a new code.")
    if met is not None:
        gathered.lines = met.lines
        if not met.is_new:
            weekends.leave(gathered, "known")
    return _on_to(asked, gathered)


def _is_on_this_laptop(asked: EntryRequest) -> bool:
    """Whether the page was asked for on this machine itself: only from here its other books are reached."""
    client = asked.page.request.scope.get("client")
    address = as_address(client[0]) if client else None
    return address is not None and address.is_loopback


async def _one(asked: EntryRequest, gathered_id: str) -> Any:
    weekends = gathered_weekends(asked.page.datasette)
    gathered = weekends.find(asked.phone.id, gathered_id)
    if gathered is None:
        said = "What was fetched is gone: it is kept for a while, and not over a restart of the laptop. "
        return await _ask(asked, said=f"{said}Have a new code shown on the other laptop.")
    if not asked.is_sent:
        return await _render(asked, gathered)
    if asked.form.text("leave"):
        weekends.leave(gathered, "left")
    elif asked.form.text("take"):
        try:
            met = await weekends.with_file(gathered, _meeting(asked, meet))
        except BevelbookError as stopped:
            return await _render(asked, gathered, fault_words(stopped))
        if met is not None:
            gathered.lines, gathered.has_clashes, gathered.copy = met.lines, met.has_clashes, met.copy
            weekends.leave(gathered, "taken in")
    return _on_to(asked, gathered)


async def _render(asked: EntryRequest, gathered: GatheredWeekend, fault: str = "") -> Any:
    return await asked.render(
        PAGE,
        "Taken in" if gathered.state == "taken in" else "Gather from another laptop",
        status=400 if fault else 200,
        screen=gathered.state,
        gathered=gathered,
        size=size_in_words(gathered.byte_count),
        minutes=round(WAITS_S / 60),
        fault=fault,
    )


def _meeting(
    asked: EntryRequest, act: Callable[[sqlite3.Connection, Path, BinaryIO, Registry], WeekendMet]
) -> Callable[[BinaryIO], WeekendMet]:
    path = Path(asked.page.team.path)

    def of_file(file: BinaryIO) -> WeekendMet:
        with in_words(path), closing(asked.open_for_writing()) as connection:
            return act(connection, path, file, asked.page.registry)

    return of_file


def _on_to(asked: EntryRequest, gathered: GatheredWeekend) -> Any:
    from datasette.utils.asgi import Response

    return Response.redirect(asked.page.links.page(f"{PAGE.address}/{gathered.id}"), status=303)


PAGE: Final = EntryPage("gather", gather, NAME_OR_NONE)
