"""Which entry is to be taken back: a named one, else the last of the person who writes."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from bevelbook.declare.errors import InputError, UnknownNameError
from bevelbook.store.entry_contents import OF_ERASING, OF_UPGRADE, EntryBook, PastEntry
from bevelbook.taking_back.refusals import TakeBackRefusedError
from bevelbook.taking_back.words import entry_words, when

_SHORTEST: Final = 4
"""Letters of an id that may name an entry."""
_LONGEST_NUMBER: Final = 18


class AnotherPersonsEntryError(TakeBackRefusedError):
    """Entries that other people made, who have to be named before those are taken back.

    ``chosen`` is the entry whose taking back would take the others along.
    """

    def __init__(self, what: str, owners: Sequence[str | None], chosen: PastEntry | None = None) -> None:
        super().__init__(what, code="entry_of_another", remedy="Nothing was changed.")
        self.owners = tuple(owners)
        self.chosen = chosen


def chosen(entries: EntryBook, named: str | None, *, by: str | None, of: Sequence[str]) -> PastEntry:
    """The entry to take back: ``named`` by its number, its id or the beginning of that, else the last one.

    The last one is that of the first of ``of``, else of ``by``; what was taken back already, and what took others back,
    is passed over. A named one may be of anybody in ``of``, of ``by``, or without a name. Raises UnknownNameError, or
    TakeBackRefusedError where there is none, it was taken back already, or it is another person's.
    """
    if named is None:
        return _last(entries, of[0] if of else by)
    entry = _named(entries, named.strip())
    _refuse_erasing(entry)
    if entry.taken_back_by is not None:
        taker = entries.by_id[entry.taken_back_by]
        raise TakeBackRefusedError(
            f"{entry_words(entry)} was taken back already, by entry {taker.number} on {when(taker.made_at)}",
            code="taken_back_already",
            remedy=f"To bring it back, take back entry {taker.number}. Nothing was changed.",
        )
    if entry.made_by and not any(_same(entry.made_by, one) for one in (by, *of)):
        raise AnotherPersonsEntryError(f"{entry_words(entry)} is another person's", [entry.made_by])
    return entry


def refuse_unnamed(entries: Sequence[PastEntry], chosen: PastEntry, *, by: str | None, of: Sequence[str]) -> None:
    """Raise AnotherPersonsEntryError where others than ``by`` and those in ``of`` made any of these entries."""
    of_others = [one for one in entries if one.made_by and not any(_same(one.made_by, name) for name in (by, *of))]
    if of_others:
        owners = list({(one.made_by or "").casefold(): one.made_by for one in of_others}.values())
        verb = "is another person's" if len(of_others) == 1 else "are other people's"
        raise AnotherPersonsEntryError(
            f"{' and '.join(map(entry_words, of_others))} {verb}, and would be taken back with {entry_words(chosen)}",
            owners,
            chosen,
        )


def _last(entries: EntryBook, owner: str | None) -> PastEntry:
    open_ones = [
        one for one in entries.all if one.taken_back_by is None and one.took_back is None and one.asked != OF_UPGRADE
    ]
    own = [one for one in open_ones if _same(one.made_by, owner)]
    if own:
        _refuse_erasing(own[-1])
        return own[-1]
    if open_ones:
        last = open_ones[-1]
        _refuse_erasing(last)
        who = f"no entry of {owner}" if owner else "no entry without a name"
        if not last.made_by:
            raise TakeBackRefusedError(
                f"there is {who} to take back; the last is {entry_words(last)} on {when(last.made_at)}",
                code="entry_of_another",
                remedy=f"Name it to take it back: 'bevelbook take-back {last.number}'. Nothing was changed.",
            )
        raise AnotherPersonsEntryError(
            f"there is {who} to take back; the last is {entry_words(last)} on {when(last.made_at)}", [last.made_by]
        )
    raise TakeBackRefusedError(
        "there is nothing to take back", code="nothing_to_take_back", remedy="No entry is left that wrote anything."
    )


def _refuse_erasing(entry: PastEntry) -> None:
    """Raise TakeBackRefusedError for an entry that erased."""
    if entry.asked in OF_ERASING:
        raise TakeBackRefusedError(
            f"{entry_words(entry)} cannot be taken back: erasing is for good",
            code="nothing_to_take_back",
            remedy="Name another entry by its number: 'bevelbook history' lists them. Nothing was changed.",
        )


def _named(entries: EntryBook, named: str) -> PastEntry:
    is_number = named.isascii() and named.isdigit() and len(named) <= _LONGEST_NUMBER
    numbered = entries.numbered(int(named)) if is_number else None
    if numbered is not None:
        return numbered
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
