"""Links to what goes on by itself at the bench, for a page of a paired device."""

from __future__ import annotations

from typing import Final

from bevelbook.reports.bench_waits import open_waits
from bevelbook.store.ids import now_utc
from bevelbook.web.shared.request import PageRequest
from bevelbook.web.shared.waiting import after_minutes, wait_line
from bevelbook.web.shared.writing_here import WayToWrite

SHOWN_FOR_MIN: Final = 24 * 60
"""How long a wait that has ended is shown; then it is among what is to finish."""


async def waits_here(page: PageRequest, build: str | None = None) -> list[WayToWrite]:
    """What goes on or ended lately, each with the address of its step: of the job that made a build (by id), or of all
    jobs."""
    now = now_utc()
    since = after_minutes(now, -SHOWN_FOR_MIN)
    found = [one for one in await page.ask(open_waits, build) if one.until_at >= since]
    return [WayToWrite(wait_line(one, now), page.links.page(f"enter/bench/{one.job}/{one.step}")) for one in found]
