"""The runs after which nothing was decided, each with its remark first."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.reports.questions import WithoutCall, count_without_call
from bevelbook.reports.runs_without_call import RunWithoutCall, runs_to_decide
from bevelbook.web.host.page import Page
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.request import page_request

SHOWN: Final = 200


class CallsPage(NamedTuple):
    """The newest runs that have no call, and how many there are."""

    runs: list[RunWithoutCall]
    without_call: WithoutCall


class CallLine(NamedTuple):
    """A run as the page shows it: its remark, its name, where and in which conditions, and the diffs in the car."""

    remark: str
    run: Markup | str
    about: str
    diffs: list[str]


def calls_page_of(connection: sqlite3.Connection) -> CallsPage:
    """What the page asks of the database."""
    return CallsPage(runs_to_decide(connection, most=SHOWN), count_without_call(connection))


async def calls(request: Any, datasette: Any) -> Any:
    """The runs that have no call, the newest day first."""
    page = await page_request(datasette, request)
    found = await page.ask(calls_page_of)
    return await page.render(
        PAGE,
        "Runs without a call",
        counted=f"{found.without_call.words}.",
        more=max(0, found.without_call.notes - SHOWN),
        runs=[_line(page.links, run) for run in found.runs],
    )


def _line(links: Linker, run: RunWithoutCall) -> CallLine:
    about = ", ".join(part for part in (run.venue, run.conditions) if part)
    return CallLine(
        run.remark or "", links.record("runs", run.run, run.label), about, [diff.words for diff in run.diffs]
    )


PAGE: Final = Page("calls", calls)
