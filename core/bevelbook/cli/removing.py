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
    from bevelbook.calculating.recalculate import depending_on, recalculate_depending
    from bevelbook.display.format import wrapped
    from bevelbook.entering.scale_figures import scales_before, set_again
    from bevelbook.facts.renew import renew_touched
    from bevelbook.records import BY_NAME
    from bevelbook.reports.what_changed import shelf_changes, touched_on_shelf
    from bevelbook.store.lookup import find_id
    from bevelbook.store.writing import now_utc
    from bevelbook.taking_back.removal import removal_of, remove

    name, *others = words or ("",)
    _check_words(kind, name, others, why)
    with session.writing(reason=why.strip()) as connection:
        removal = removal_of(connection, kind, find_id(connection, kind, name))
        of_scales = scales_before(connection, kind, removal.row_id, {})
        touched = [(BY_NAME["scale"], one.known.row_id) for one in of_scales]
        depending = depending_on(connection, session.registry, [(kind, removal.row_id), *removal.parts, *touched])
        placed = remove(connection, removal, session.by)
        set_scales = [one.words for one in set_again(connection, of_scales, session.by, now_utc)]
        before = touched_on_shelf(connection)
        renew_touched(connection)
        upkeep = recalculate_depending(connection, session.registry, depending, session.by)
        shelf = [one.line() for one in shelf_changes(connection, before)]
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
                **placed.as_dict(),
                "findings": set_scales,
                "shelf": shelf,
                **session.noticed(),
            }
        )
        return report_failed(upkeep)
    print_text(f"Removed {removal.name}: {why.strip()}")
    if parts:
        print_text(f"  and with it {parts}")
    for line in (*set_scales, *placed.lines(), *shelf, *upkeep.waiting_lines()):
        print_text("\n".join(wrapped(line)))
    return report_failed(upkeep)


def _check_words(kind: Kind, name: str, others: Sequence[str], why: str) -> None:
    command = f"bevelbook record {kind.name.replace('_', '-')} NAME {OPTION} 'why'"
    if not name or "=" in name or others:
        raise InputError(
            "a record is removed by its name alone",
            code="not_for_removal",
            place=Place(column=OPTION),
            remedy=f"{command}. Nothing was removed.",
        )
    if not why.strip():
        raise InputError(
            "no reason was given",
            code="not_for_removal",
            place=Place(column=OPTION),
            remedy=f"{command}. Nothing was removed.",
        )
