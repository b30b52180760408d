"""``bevelbook export --rescue``: what can still be read of a damaged database, as an export, and what is missing."""

from __future__ import annotations

import shlex
from pathlib import Path
from typing import TYPE_CHECKING, Final

from bevelbook.cli import print_json, print_text
from bevelbook.declare.counting import counted

if TYPE_CHECKING:
    from bevelbook.cli.session import Session
    from bevelbook.rescuing.rescue import Rescued

_NEW: Final = "rescued.db"


def export_rescue(session: Session, folder: Path, as_json: bool) -> int:
    """Rescue into a new folder; the exit code: 1 where anything is missing."""
    from bevelbook.rescuing.rescue import rescue

    done = rescue(session.path, folder)
    if as_json:
        print_json(_as_dict(done, session.path, folder))
    else:
        for line in _lines(done, session.path, folder):
            print_text(line)
    return 1 if done.lost else 0


def _lines(done: Rescued, path: Path, folder: Path) -> list[str]:
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
        lines.append("Nothing is missing.")
    if done.left_over:
        many = counted(len(done.left_over), "row")
        lines.append(f"Beside the export, in {folder / LEFT_OVER}, as read: {many} that no database can hold.")
    command = shlex.join(["bevelbook", "--db", _NEW, "new", "--from", str(folder / RESCUED_IN)])
    lines.append(f"The file itself was only read: keep it. To go on in a new database:\n  {command}")
    return lines


def _as_dict(done: Rescued, path: Path, folder: Path) -> dict[str, object]:
    return {
        "database": str(path),
        "folder": str(folder),
        "rows": dict(done.export.rows),
        "lost": [one._asdict() for one in done.lost],
        "left_over": len(done.left_over),
        "with_log": done.with_log,
    }
