"""``bevelbook export --rescue``: what can still be read of a damaged database, as an export, and what is missing."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from bevelbook.cli import print_json, print_text
from bevelbook.declare.counting import counted
from bevelbook.declare.in_command import command_of

if TYPE_CHECKING:
    from bevelbook.cli.session import Session
    from bevelbook.rescuing.own_agreement import OwnAgreement
    from bevelbook.rescuing.rescue import Rescued

_NEW: Final = "rescued.db"


def export_rescue(session: Session, folder: Path, as_json: bool) -> int:
    """Rescue into a new folder; the exit code: 1 where anything is missing, or does not agree with itself."""
    from bevelbook.rescuing.own_agreement import own_agreement
    from bevelbook.rescuing.rescue import rescue

    done = rescue(session.path, folder)
    agreement = own_agreement(session.path, session.registry)
    if as_json:
        print_json(_as_dict(done, agreement, session.path, folder))
    else:
        for line in _lines(done, agreement, session.path, folder):
            print_text(line)
    return 1 if done.lost or agreement.disagreeing else 0


def _lines(done: Rescued, agreement: OwnAgreement, path: Path, folder: Path) -> list[str]:
    from bevelbook.display.format import wrapped
    from bevelbook.interchange.export_source import RESCUED_IN
    from bevelbook.interchange.export_words import held_in_words
    from bevelbook.rescuing.rescue import LEFT_OVER, LOST

    lines = [f"Read {counted(done.row_count, 'row')} of {path}: {held_in_words(done.export.rows)}."]
    if done.with_log:
        lines.append("The changes beside it (-wal) are taken in.")
    if done.lost:
        lines.append(
            f"Missing, or not as it was: {counted(len(done.lost), 'thing')}. {folder / LOST} has each with its table, "
            "its record or page, and why."
        )
    else:
        lines += [] if agreement.disagreeing else ["Nothing is missing."]
    if agreement.disagreeing:
        nothing = "" if done.lost else "Nothing is missing, but "
        lines += wrapped(
            f"{nothing or 'And '}what was read does not agree with itself: it is damaged, or another program changed "
            "it. A merge names each record that says something else than your book, and leaves yours as it is."
        )
        for one in agreement.disagreeing:
            lines += wrapped(one, indent="  ")
        lines += wrapped(
            "Look into it before 'bevelbook check --rebuild' makes it agree: then nothing shows any more that records "
            "were changed."
        )
    if agreement.unchecked:
        lines += wrapped(f"Whether it agrees with itself could not all be looked at: {'; '.join(agreement.unchecked)}.")
    if done.left_over:
        many = counted(len(done.left_over), "row")
        lines.append(f"Beside the export, in {folder / LEFT_OVER}, as read: {many} that no database can hold.")
    command = command_of("--db", _NEW, "new", "--from", str(folder / RESCUED_IN))
    lines.append(f"The file itself was only read: keep it. To go on in a new database:\n  {command}")
    return lines


def _as_dict(done: Rescued, agreement: OwnAgreement, path: Path, folder: Path) -> dict[str, object]:
    return {
        "database": str(path),
        "folder": str(folder),
        "rows": dict(done.export.rows),
        "lost": [one._asdict() for one in done.lost],
        "left_over": len(done.left_over),
        "not_agreeing": list(agreement.disagreeing),
        "agreement_not_looked_at": list(agreement.unchecked),
        "with_log": done.with_log,
    }
