"""What a form has stored: what it means, and the ways on."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import Any, Final, NamedTuple

from bevelbook.entering.dated_build import is_dated
from bevelbook.pictures.reader import pictures_can_be_read
from bevelbook.reading.dates import today_iso
from bevelbook.records import BY_NAME, Kind
from bevelbook.records.joins import NOT_IN_A_FORM
from bevelbook.records.photos import HUNG_ON
from bevelbook.reports.photographs import Photograph, photograph
from bevelbook.reports.what_changed import news_of
from bevelbook.store.entry_contents import EntryBook
from bevelbook.taking_back.words import came_of
from bevelbook.web.entry.given_texts import BACK_TO, TO_FINISH, YES
from bevelbook.web.entry.own_pages import OWN_PAGES
from bevelbook.web.entry.photograph_of import photograph_of
from bevelbook.web.entry.record_form import SEEN_FIRST, stored_texts
from bevelbook.web.entry.request import entry_request
from bevelbook.web.entry.said import remembered
from bevelbook.web.host.arguments import one_of
from bevelbook.web.host.page import NAME, EntryPage
from bevelbook.web.host.photographs_shown import PHOTOGRAPH, shown_photograph
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.short_text import short

_CORRECTED_ON: Final = {"run": "run"}
"""The pages of their own that also correct such a record, by kind."""
_ANOTHER: Final = {"car_diff": "Put another diff into it", "run": "Next run", "photo": "Another one"}
"""What leads to another record of a kind, where it is not one like it."""
_SHARED: Final = {"run": frozenset({"car", "run_on"}), "photo": frozenset({"piece", "side", *HUNG_ON})}
"""What the next record of a kind has in common with this one, where that is not all that one like it would have; a day
only where it is another than today."""
_TO_PHOTOGRAPH: Final = {"opening": "Photograph what was found"}
"""What leads to a photograph of a record of a kind, where it is not just of it."""
_OF_ONE_TIME: Final = frozenset(
    {"mass_g", "closed_mass_g", "note", "text", "mass_basis", "ratio", "label", "name", "diff", "instead"}
)
"""Fields that another record like this one does not share."""


class StoredEntry(NamedTuple):
    """What the page asks of the database: what an entry wrote, in words, the record that it was about by kind and id,
    what its weighings say, what another record like it has too, the diff of a weighing by its id and
    name; and of a photograph what it shows, with the open job at the bench that it is part of by id and diff."""

    words: tuple[str, ...]
    kind: str | None
    row_id: str
    is_there: bool
    is_taken_back: bool
    news: tuple[str, ...]
    alike: dict[str, str]
    diff: tuple[str, str] | None = None
    photo: Photograph | None = None
    job: tuple[str, str] | None = None


def stored_entry_of(connection: sqlite3.Connection, entry_id: str) -> StoredEntry | None:
    """What an entry stored; None where there is no such entry."""
    entries = EntryBook(connection)
    entry = entries.by_id.get(entry_id)
    if entry is None:
        return None
    touches = entries.contents_of(entry)
    words = tuple(short(line) for line in came_of(connection, touches))
    first = next((one for one in touches if one.kind.own), None)
    if first is None:
        return StoredEntry(words, None, "", False, entry.taken_back_by is not None, (), {})
    kind, row_id = first.kind, first.row_id
    is_there = connection.execute(f"SELECT 1 FROM {kind.table} WHERE id = ?", (row_id,)).fetchone() is not None
    texts = stored_texts(connection, kind, row_id) if is_there else {}
    photo = photograph(connection, row_id) if is_there and kind.name == "photo" else None
    hung_on = {photo.hung_on: photo.hung_on_id} if photo else {}
    return StoredEntry(
        words,
        kind.name,
        row_id,
        is_there,
        entry.taken_back_by is not None,
        tuple(news_of(connection, kind, row_id, {}).lines()) if is_there else (),
        {**_alike(connection, kind, row_id, texts), **hung_on},
        _diff_of(connection, row_id) if is_there and kind.name == "weighing" else None,
        photo,
        photograph_of(connection, photo.hung_on, photo.hung_on_id).job if photo else None,
    )


def _diff_of(connection: sqlite3.Connection, weighing: str) -> tuple[str, str]:
    """The id and the name of the diff that was weighed."""
    diff, label = connection.execute(
        "SELECT d.id, d.label FROM weighings w JOIN builds b ON b.id = w.build JOIN diffs d ON d.id = b.diff "
        "WHERE w.id = ?",
        (weighing,),
    ).fetchone()
    return str(diff), str(label)


def _alike(connection: sqlite3.Connection, kind: Kind, row_id: str, texts: dict[str, str]) -> dict[str, str]:
    """What another record like this one has too; a build of a day by the name of its diff."""
    seen_first = SEEN_FIRST.get(kind.name, ())
    found = {name: text for name, text in texts.items() if name in seen_first and name not in _OF_ONE_TIME}
    if is_dated(kind) and "build" in found:
        (found["build"],) = connection.execute(
            f"SELECT d.label FROM {kind.table} t JOIN builds b ON b.id = t.build JOIN diffs d ON d.id = b.diff "
            "WHERE t.id = ?",
            (row_id,),
        ).fetchone()
    if kind.name == "run" and texts["run_on"] != today_iso():
        found["run_on"] = texts["run_on"]
    return found


async def stored(request: Any, datasette: Any) -> Any:
    """What an entry of this database stored."""
    from datasette.utils.asgi import NotFound

    asked = await entry_request(datasette, request)
    entry_id = request.url_vars["name"]
    found = await asked.page.ask(stored_entry_of, entry_id)
    if found is None:
        raise NotFound("There is no such entry: it changed nothing, or its database is another one.")
    said = remembered(datasette, entry_id)
    links = asked.page.links
    ways = []
    if found.kind is not None and found.is_there and found.kind not in NOT_IN_A_FORM:
        page = _CORRECTED_ON.get(found.kind, f"record/{found.kind}")
        ways.append((links.page(f"enter/{page}/{found.row_id}"), "Correct it", ""))
        page = OWN_PAGES.get(found.kind, f"record/{found.kind}")
        noun = BY_NAME[found.kind].name.replace("_", " ")
        shared = _SHARED.get(found.kind, frozenset(found.alike))
        alike = {name: text for name, text in found.alike.items() if name in shared}
        another = (links.page(f"enter/{page}", **alike), _ANOTHER.get(found.kind, f"Add another {noun} like it"), "")
        ways.insert(0 if found.kind in _SHARED else len(ways), another)
    if found.diff is not None:
        diff, label = found.diff
        ways.append((links.page(f"diff/{diff}"), f"See {label}", ""))
        ways.append((links.page("enter/bench", diff=label), f"To the bench with {label}", ""))
    if found.kind == "event" and found.is_there:
        ways.insert(0, (links.page(f"plan/{found.row_id}"), "Its plan", ""))
    ways += _of_photographs(links, found)
    if asked.page.given(BACK_TO) == TO_FINISH:
        ways.insert(0, (links.page(f"enter/{TO_FINISH}"), "Back to To finish", ""))
    return await asked.render(
        PAGE,
        "Taken back" if found.is_taken_back else "Stored",
        entry=entry_id,
        found=found,
        lines=said.lines if said else found.news,
        is_again=bool(asked.page.given("again")),
        ways=ways,
        photographs=[shown_photograph(links.page, found.photo)] if found.photo else [],
    )


def _of_photographs(links: Linker, found: StoredEntry) -> Iterator[tuple[str, str, str]]:
    """Where a photograph leads, and where one of the record that was stored is taken."""
    if found.photo is not None:
        yield links.page(f"{PHOTOGRAPH}/{found.photo.id}"), "See it", ""
    if found.job is not None:
        job, diff = found.job
        yield links.page(f"enter/bench/{job}"), f"Back to the bench with {diff}", ""
    if found.is_there and found.kind in HUNG_ON and pictures_can_be_read():
        words = _TO_PHOTOGRAPH.get(found.kind, "Photograph it")
        yield links.page(f"enter/{PHOTOGRAPH}", **{found.kind: found.row_id}), words, ""


PAGE: Final = EntryPage("stored", stored, NAME, takes=(one_of(BACK_TO, TO_FINISH), one_of("again", YES)))
