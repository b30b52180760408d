"""A weekend given to another laptop: since when, what would go, and the code with which it is fetched there."""

from __future__ import annotations

from contextlib import closing
from datetime import date, timedelta
from pathlib import Path
from typing import Any, BinaryIO, Final

from bevelbook.declare.errors import BevelbookError
from bevelbook.display.clock import clock_in_words
from bevelbook.display.days import day_in_words
from bevelbook.interchange.export_words import size_in_words
from bevelbook.interchange.part_words import PartHolds
from bevelbook.interchange.since import read_since
from bevelbook.interchange.zipped import PartZip
from bevelbook.store.sqlite_errors import in_words
from bevelbook.web.entry.entry_fields import EntryField
from bevelbook.web.entry.given_weekends import CODE_LASTS_S, GivenWeekend, given_weekends
from bevelbook.web.entry.other_laptop import is_gathered_from
from bevelbook.web.entry.request import EntryRequest, entry_request
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.host.enter import opened_to_networks_by
from bevelbook.web.host.page import NAME_OR_NONE, EntryPage
from bevelbook.web.shared.fault_words import fault_words

SINCE: Final = "since"
WITH_FILES: Final = "with_files"
_FRIDAY: Final = 4
_WITHOUT: Final = "no"
_CHOICES: Final = ((_WITHOUT, "Without pictures and files: small"), ("yes", "With pictures and files"))


async def give(request: Any, datasette: Any) -> Any:
    """Choose since when; look at what would go; show the code; say who fetched it."""
    asked = await entry_request(datasette, request)
    named = request.url_vars.get("name")
    if named:
        return await _one(asked, named)
    return await (_made(asked) if asked.is_sent else _choose(asked, _last_friday(date.today()).isoformat(), _WITHOUT))


async def _choose(asked: EntryRequest, since: str, with_files: str, *, fault: str = "", said: str = "") -> Any:
    fields = (
        EntryField(SINCE, "Since when", "", "", "date", "day", typed=since, fault=fault),
        EntryField(
            WITH_FILES, "Pictures and files of notes", "", "", "choice", "choices", typed=with_files, choices=_CHOICES
        ),
    )
    return await asked.render(
        PAGE, "Give my weekend", status=400 if fault else 200, screen="choose", fields=fields, said=said
    )


async def _made(asked: EntryRequest) -> Any:
    """Have the file made that would go, and go on to what is in it."""
    typed, files = asked.form.text(SINCE), asked.form.text(WITH_FILES)
    try:
        since = read_since(typed)
        given = await given_weekends(asked.page.datasette).make(
            asked.phone.id, lambda file: _write(asked, file, since, with_files=files == "yes")
        )
    except BevelbookError as stopped:
        return await _choose(asked, typed, files, fault=fault_words(stopped))
    except OSError:
        return await _choose(asked, typed, files, fault="The laptop has no room left for it. Make room there.")
    return _on_to(asked, given)


def _write(asked: EntryRequest, file: BinaryIO, since: str, *, with_files: bool) -> PartHolds:
    path = Path(asked.page.team.path)
    with (
        in_words(path),
        closing(asked.open_for_writing()) as connection,
        PartZip(connection, path, since, with_files=with_files) as part,
    ):
        if not part.holds.is_empty:
            part.write_into(file)
        return part.holds


async def _one(asked: EntryRequest, given_id: str) -> Any:
    weekends = given_weekends(asked.page.datasette)
    given = weekends.find(asked.phone.id, given_id)
    if given is None:
        said = "What was looked at is gone: it is kept for some minutes, and not over a restart of the laptop."
        return await _choose(asked, _last_friday(date.today()).isoformat(), _WITHOUT, said=said)
    if asked.is_sent:
        if asked.form.text("stop"):
            weekends.stop(given)
        elif asked.form.text("show") and not given.holds.is_empty:
            weekends.show_code(given)
        return _on_to(asked, given)
    fetched = given.fetched
    entry = state_of(asked.page.datasette).entry
    assert entry is not None, "without entry this page has no address"
    shown = entry.addresses()
    return await asked.render(
        PAGE,
        "Fetched" if given.state == "fetched" else "Give my weekend",
        screen=given.state,
        given=given,
        sentences=[*given.holds.sentences()],
        since=day_in_words(given.holds.since),
        size=size_in_words(given.byte_count),
        minutes=max(1, round(weekends.seconds_left(given) / 60)),
        lasts=round(CODE_LASTS_S / 60),
        addresses=[one for one in shown if is_gathered_from(one)],
        elsewhere=shown,
        opened_by=opened_to_networks_by(asked.page.datasette),
        since_day=given.holds.since,
        fetched=None if fetched is None else (fetched.person, fetched.address, clock_in_words(fetched.at)),
    )


def _on_to(asked: EntryRequest, given: GivenWeekend) -> Any:
    from datasette.utils.asgi import Response

    return Response.redirect(asked.page.links.page(f"{PAGE.address}/{given.id}"), status=303)


def _last_friday(today: date) -> date:
    """The day on which a weekend begins: the last Friday, today if it is one.

    >>> str(_last_friday(date(2026, 5, 3))), str(_last_friday(date(2026, 5, 1)))
    ('2026-05-01', '2026-05-01')
    """
    return today - timedelta(days=(today.weekday() - _FRIDAY) % 7)


PAGE: Final = EntryPage("give", give, NAME_OR_NONE)
