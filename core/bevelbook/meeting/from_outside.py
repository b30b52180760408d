"""The one door for whatever a team mate or a stranger sends: a database of this or an older version."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path

from bevelbook.declare.errors import DatabaseError, Place
from bevelbook.meeting.copied_whole import regular_file
from bevelbook.meeting.vetted import vetted
from bevelbook.store.folder_aside import folder_aside


@contextmanager
def opened_aside(
    path: Path, *, own: Path | None = None, tell: Callable[[str], None] = lambda _line: None
) -> Iterator[Path]:
    """A clean temporary database with what the other one holds, in a folder that is gone afterwards.

    It is of this version's schema, without triggers and views, and nothing of the other side is ever run. ``own`` is
    the database that it is to meet; ``tell`` gets lines for a person: what was left behind, which version it was of.
    Raises DatabaseError for all that cannot be taken as it is; the other side is never changed.
    """
    refuse_itself(path, own)
    regular_file(path)
    with _folder() as folder:
        yield vetted(path, folder, tell=tell)


def refuse_itself(path: Path, own: Path | None) -> None:
    """Raise DatabaseError where both are one file, whatever their names."""
    if own is not None and path.exists() and own.exists() and path.samefile(own):
        raise DatabaseError(
            "this is your own database, so there is nothing to bring together",
            code="same_database",
            place=Place(str(path)),
            remedy="Name the one that you were sent.",
        )


@contextmanager
def _folder() -> Iterator[Path]:
    with ExitStack() as until_used:
        try:
            folder = until_used.enter_context(folder_aside())
        except OSError as fault:
            raise DatabaseError(
                "there is no place to look at it aside",
                code="not_writable",
                found=fault.strerror,
                remedy="Make room on the disk of temporary files and try again. Nothing was changed.",
            ) from fault
        yield folder
