"""Links to what goes on by itself at the bench, for a page of a paired device."""

from __future__ import annotations

from bevelbook.reports.bench_waits import open_waits
from bevelbook.store.ids import now_utc
from bevelbook.web.shared.request import PageRequest
from bevelbook.web.shared.waiting import wait_line
from bevelbook.web.shared.writing_here import WayToWrite


async def waits_here(page: PageRequest, build: str | None = None) -> list[WayToWrite]:
    """What goes on, each with the address of its step: of the job that made a build (by id), or of all jobs."""
    now = now_utc()
    found = await page.ask(open_waits, build)
    return [WayToWrite(wait_line(one, now), page.links.page(f"enter/bench/{one.job}/{one.step}")) for one in found]
