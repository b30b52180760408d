"""Which entry is to be taken back: a named one, else the last of the person who writes."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.store.entry_contents import EntryBook, PastEntry
from bevelbook.taking_back.refusals import TakeBackRefusedError
from bevelbook.taking_back.words import entry_words, when

_SHORTEST: Final = 4
"""Letters of an id that may name an entry."""


class AnotherPersonsEntryError(TakeBackRefusedError):
    """An entry that another person made, who has to be named before it is taken back."""

    def __init__(self, what: str, owner: str | None) -> None:
        super().__init__(what, code="entry_of_another", remedy="Nothing was changed.")
        self.owner = owner


def chosen(entries: EntryBook, named: str | None, *, by: str | None, of: str | None) -> PastEntry:
    """The entry to take back: ``named`` by its number, its id or the beginning of that, else the last one.

    The last one is that of ``of``, else of ``by``; what was taken back already, and what took others back, is passed
    over. Raises UnknownNameError, or TakeBackRefusedError where there is none, it was taken back already, or it is
    another person's.
    """
    owner = by if of is None else of
    if named is None:
        return _last(entries, owner)
    entry = _named(entries, named.strip())
    if entry.taken_back_by is not None:
        taker = entries.by_id[entry.taken_back_by]
        raise TakeBackRefusedError(
            f"{entry_words(entry)} was taken back already, by entry {taker.number} on {when(taker.made_at)}",
            code="taken_back_already",
            remedy=f"To bring it back, take back entry {taker.number}. Nothing was changed.",
        )
    if not _same(entry.made_by, owner):
        raise AnotherPersonsEntryError(f"{entry_words(entry)} is another person's", entry.made_by)
    return entry


def _last(entries: EntryBook, owner: str | None) -> PastEntry:
    open_ones = [one for one in entries.all if one.taken_back_by is None and one.took_back is None]
    own = [one for one in open_ones if _same(one.made_by, owner)]
    if own:
        return own[-1]
    if open_ones:
        last = open_ones[-1]
        who = f"no entry of {owner}" if owner else "no entry without a name"
        raise AnotherPersonsEntryError(
            f"there is {who} to take back; the last is {entry_words(last)} on {when(last.made_at)}", last.made_by
        )
    raise TakeBackRefusedError(
        "there is nothing to take back", code="nothing_to_take_back", remedy="No entry is left that wrote anything."
    )


def _named(entries: EntryBook, named: str) -> PastEntry:
    if named.isascii() and named.isdigit() and int(named) <= len(entries.all) and int(named) > 0:
        return entries.all[int(named) - 1]
    found = [one for one in entries.all if one.id == named.lower()]
    if not found and len(named) >= _SHORTEST:
        found = [one for one in entries.all if one.id.startswith(named.lower())]
    if len(found) > 1:
        raise InputError(
            f"{len(found)} entries begin with that",
            code="ambiguous_name",
            found=named,
            remedy="Name one by its number: " + ", ".join(str(one.number) for one in found[-5:]) + ".",
        )
    if not found:
        raise UnknownNameError(
            "entry", named, (), by_command="'bevelbook history' lists the entries with their numbers."
        )
    return found[0]


def _same(one: str | None, other: str | None) -> bool:
    return (one or "").casefold() == (other or "").casefold()
