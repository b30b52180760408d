"""What a page for reading offers a device that may write: nothing where no entries are taken, pairing where it is not
paired, else links to the forms."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.shared.request import PageRequest
from bevelbook.web.shared.stored_line import StoredLine, last_entry, stored_line_of

FormOffered = tuple[str, str, Mapping[str, str | None]]
"""A form that a page offers: its words, its page below ``enter/``, and what is filled in there."""


class WayToWrite(NamedTuple):
    """A form that a page leads to: its words and its address."""

    words: str
    address: str


class WritingHere(NamedTuple):
    """What a device may do here: ``person`` is who writes with it and ``stored`` what it stored last.

    Where it is not paired, ``pair`` is the address at which it is.
    """

    pair: str
    person: str | None = None
    stored: StoredLine | None = None


def is_paired(page: PageRequest) -> bool:
    """Whether the device that asks may write here."""
    actor: dict[str, Any] = page.request.actor or {}
    return bool(state_of(page.datasette).takes_entries and actor.get("phone"))


async def writing_here(page: PageRequest) -> WritingHere | None:
    """What the device that asks may do; None where nobody writes through these pages."""
    if not state_of(page.datasette).takes_entries:
        return None
    if not is_paired(page):
        return WritingHere(page.links.page("enter/pair"))
    last = last_entry(page.datasette, page.request)
    stored = await page.ask(stored_line_of, last) if last else None
    return WritingHere("", page.request.actor.get("name"), stored)


def ways_to_write(page: PageRequest, *ways: FormOffered) -> list[WayToWrite]:
    """The forms that a page leads to; none for a device that may not write."""
    if not is_paired(page):
        return []
    return [WayToWrite(words, page.links.page(f"enter/{name}", **given)) for words, name, given in ways]
