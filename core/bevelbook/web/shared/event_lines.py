"""An event that is to come, as a line of a list."""

from __future__ import annotations

from bevelbook.display.days import days_in_words
from bevelbook.reports.race_events import EventAhead
from bevelbook.web.shared.blocks import Words, joined
from bevelbook.web.shared.links import Linker


def event_line(links: Linker, one: EventAhead, *, venue: bool = True) -> Words:
    """``spring race, North Quay, 3 to 4 May 2026``; a page of one venue need not name it."""
    where = links.record("venues", one.venue, one.venue_name) if venue and one.venue else ""
    return joined(links.record("events", one.event, one.name), where, days_in_words(one.first_on, one.last_on))
