"""A clash settled by a touch: which version holds, then what that means, then stored."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import BevelbookError, UnknownNameError
from bevelbook.meeting.settled_clash import SettledClash, clash_of, settle_clash, what_holds
from bevelbook.meeting.version_chosen import which_typed
from bevelbook.records import Kind, kind_called
from bevelbook.reports.clashes import BOTH, ClashSaid
from bevelbook.store.ids import new_id
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.entry.said import Said, remember
from bevelbook.web.host.arguments import Argument, any_text
from bevelbook.web.host.page import EntryPage
from bevelbook.web.shared.fault_words import fault_words

WHICH: Final = "which"
"""The number of the version that is to hold, alone or ``+others``, or ``both``."""
SEEN: Final = "seen"
"""The mark of the versions that the page showed."""


class Choice(NamedTuple):
    """A version to touch: where that leads, what it says, and who wrote it."""

    address: str
    words: str
    beside: str


async def clash(request: Any, datasette: Any) -> Any:
    """The versions of a clash; with one chosen what will hold, and the button that stores it."""
    from datasette.utils import tilde_decode
    from datasette.utils.asgi import NotFound

    asked = await entry_request(datasette, request)
    try:
        kind = kind_called(tilde_decode(request.url_vars["kind"]))
    except UnknownNameError as unknown:
        raise NotFound(fault_words(unknown)) from unknown
    row_id = str(tilde_decode(request.url_vars["row"]))
    fault: BevelbookError | None = None
    if asked.is_sent:
        try:
            return await _settled(asked, kind, row_id)
        except BevelbookError as stopped:
            fault = stopped
    try:
        found = await asked.page.ask(clash_of, kind, row_id)
    except BevelbookError as gone:
        return await asked.render(
            PAGE, "No clash", status=400 if fault else 200, fault=fault_words(fault or gone), clash=None
        )
    return await _shown(asked, found, fault)


async def _shown(asked: EntryRequest, found: ClashSaid, fault: BevelbookError | None) -> Any:
    which, holds = which_typed(asked.page.given(WHICH)), ""
    if which is not None and not fault:
        try:
            holds = what_holds(found, which)
        except BevelbookError as stopped:
            fault = stopped
        if asked.page.given(SEEN) != found.seen:
            holds = ""
    address = f"{PAGE.address}/{found.kind.name}/{found.row_id}"
    links = asked.page.links

    def choice(value: str, words: str, beside: str) -> Choice:
        return Choice(links.page(address, **{WHICH: value, SEEN: found.seen}), words, beside)

    ways = [
        choice(str(one.number), one.words, f"{one.by}{', shown now' if one.is_shown else ''}") for one in found.versions
    ]
    if found.both:
        ways.append(choice(BOTH, "Both", found.both))
    joined = [choice(one.typed, f"{one.its_own}, and what the others changed", one.added) for one in found.with_others]
    return await asked.render(
        PAGE,
        f"Which holds: {found.name}",
        status=400 if fault else 200,
        fault=fault_words(fault),
        clash=found,
        holds=holds,
        ways=[*joined, *ways],
        again=links.page(address),
        unseen=[("key", new_id()), (WHICH, asked.page.given(WHICH)), (SEEN, found.seen)],
    )


async def _settled(asked: EntryRequest, kind: Kind, row_id: str) -> Any:
    """Settle the clash as it was shown. Raises BevelbookError where it is another one by now."""
    which = which_typed(asked.form.text(WHICH))

    def act(connection: sqlite3.Connection) -> SettledClash:
        return settle_clash(
            connection,
            asked.page.registry,
            kind,
            row_id,
            0 if which is None else which,
            by=asked.person,
            seen=asked.form.text(SEEN),
        )

    done = await asked.write(act, asked="from the browser: settle a clash")
    if done.value is not None:
        settled = done.value
        lines = (
            f"{settled.clash.name} settled: {settled.holds}.",
            *settled.scales,
            *settled.placed.lines(),
            *settled.shelf,
            *settled.upkeep.waiting_lines(),
            *settled.upkeep.sentences(),
        )
        remember(asked.page.datasette, done.entry, Said(kind.name, row_id, lines))
    return asked.stored(asked.page.links.page(f"enter/stored/{done.entry}"), done)


PAGE: Final = EntryPage(
    "clash",
    clash,
    r"/(?P<kind>[^/]+)/(?P<row>[^/]+)",
    takes=(
        Argument(WHICH, "the number of a version, or both", lambda given: which_typed(given) is not None),
        any_text(SEEN),
    ),
)
