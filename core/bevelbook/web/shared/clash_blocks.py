"""Clashes as pages show them: what each version says, who wrote it when, and where it is settled."""

from __future__ import annotations

from typing import NamedTuple

from markupsafe import Markup

from bevelbook.records import BY_NAME
from bevelbook.reports.clashes import ClashSaid, VersionSaid, WithOthersSaid
from bevelbook.reports.clashes_there import clashes_about, clashes_of_diff
from bevelbook.web.shared.request import PageRequest
from bevelbook.web.shared.writing_here import is_paired


class ClashBlock(NamedTuple):
    """A clash on a page; ``settle`` is the address where a paired phone settles it, else ``command`` does."""

    name: Markup | str
    what: str
    versions: tuple[VersionSaid, ...]
    both: str
    with_others: tuple[WithOthersSaid, ...]
    settle: str
    command: str


def clash_block(page: PageRequest, clash: ClashSaid) -> ClashBlock:
    """One clash with where to settle it."""
    return ClashBlock(
        page.links.record(clash.kind.table, clash.row_id, clash.name),
        clash.what,
        clash.versions,
        clash.both,
        clash.with_others,
        page.links.page(f"enter/clash/{clash.kind.name}/{clash.row_id}") if is_paired(page) else "",
        clash.command(),
    )


async def clashes_here(page: PageRequest, kind_name: str, row_id: str) -> list[ClashBlock]:
    """The clashes that stand on the page of a record, by its id: of a diff all that are about it."""
    if kind_name == "diff":
        found = await page.ask(clashes_of_diff, row_id)
    else:
        found = await page.ask(clashes_about, BY_NAME[kind_name], row_id)
    return [clash_block(page, one) for one in found]
