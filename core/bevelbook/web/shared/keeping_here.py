"""That a book ran since its last backup, said to who sits at the computer that serves it and to no visitor."""

from __future__ import annotations

from contextlib import suppress
from typing import Any, Final, NamedTuple

from bevelbook.backup.copy_due import copy_due
from bevelbook.backup.keeping import MAKE_ONE
from bevelbook.declare.errors import DatabaseError
from bevelbook.web.host.datasette_state import state_of
from bevelbook.web.pairing.host_names import as_address, name_in
from bevelbook.web.shared.request import PageRequest

_SENT_ON: Final = ("forwarded", "x-forwarded-for", "x-forwarded-host", "x-real-ip", "via")
"""Headers of a server that asks for somebody else."""


class CopyDueHere(NamedTuple):
    """What is said, and the command to copy."""

    words: str
    command: str


async def copy_due_here(page: PageRequest) -> CopyDueHere | None:
    """What is to be said of the backup of the book on its own computer; None elsewhere, and where nothing is."""
    settings = state_of(page.datasette).settings
    if settings is None or not is_asked_here(page.request):
        return None
    path = page.team.is_at
    with suppress(DatabaseError):  # 'bevelbook check' says what is wrong with the list of copies
        due = await page.ask(copy_due, path, settings)
        if due is not None:
            return CopyDueHere(due.words, MAKE_ONE)
    return None


def is_asked_here(request: Any) -> bool:
    """Whether a request comes from this computer itself, by one of the names it has for itself."""
    client = request.scope.get("client")
    came_from = as_address(str(client[0])) if client else None
    if came_from is None or not came_from.is_loopback or any(request.headers.get(one) for one in _SENT_ON):
        return False
    name = name_in(request.host)
    asked_for = as_address(name)
    return name == "localhost" if asked_for is None else asked_for.is_loopback
