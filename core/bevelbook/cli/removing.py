"""``bevelbook record KIND NAME --remove WHY``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from bevelbook.cli import print_json, print_text, report_failed
from bevelbook.declare.errors import InputError, Place

if TYPE_CHECKING:
    from collections.abc import Sequence

    from bevelbook.cli.session import Session
    from bevelbook.records import Kind

OPTION = "--remove"


def remove_record(session: Session, kind: Kind, words: Sequence[str], why: str, as_json: bool) -> int:
    """Remove the record that the words name, with the reason; returns the exit code."""
    from bevelbook.display.format import wrapped
    from bevelbook.saving.removal import remove_record as remove_with_all
    from bevelbook.store.lookup import find_id

    name, *others = words or ("",)
    _check_words(kind, name, others, why)
    with session.writing(reason=why.strip()) as connection:
        removed = remove_with_all(
            connection, session.registry, kind, find_id(connection, kind, name, itself=True), session.by
        )
    removal = removed.removal
    parts = removal.parts_in_words()
    if as_json:
        print_json(
            {
                "record": kind.name,
                "id": removal.row_id,
                "label": removal.name,
                "done": "removed",
                "why": why.strip(),
                "with_it": parts or None,
                **removed.placed.as_dict(),
                "findings": list(removed.scales),
                "shelf": list(removed.shelf),
                **session.noticed(),
            }
        )
        return report_failed(removed.upkeep)
    print_text(f"Removed {removal.name}: {why.strip()}")
    if parts:
        print_text(f"  and with it {parts}")
    for line in (*removed.scales, *removed.placed.lines(), *removed.shelf, *removed.upkeep.waiting_lines()):
        print_text("\n".join(wrapped(line)))
    return report_failed(removed.upkeep)


def _check_words(kind: Kind, name: str, others: Sequence[str], why: str) -> None:
    command = f"bevelbook record {kind.name.replace('_', '-')} NAME {OPTION} WHY"
    if not name or "=" in name or others:
        raise InputError(
            "a record is removed by its name alone",
            code="not_for_removal",
            place=Place(column=OPTION),
            remedy=f"'{command}'. Nothing was removed.",
        )
    if not why.strip():
        raise InputError(
            "no reason was given",
            code="not_for_removal",
            place=Place(column=OPTION),
            remedy=f"'{command}'. Nothing was removed.",
        )
