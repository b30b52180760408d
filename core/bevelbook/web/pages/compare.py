"""Two builds side by side on a page: what differs, and how they did in turn."""

from __future__ import annotations

import asyncio
from typing import Any, Final

from bevelbook.declare.errors import BevelbookError
from bevelbook.reports import questions
from bevelbook.reports.compare import Comparison, side_by_side
from bevelbook.reports.runs_in_turn import on_track
from bevelbook.web.host.page import Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.build_differences import build_differences
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.request import PageRequest, page_request

BUILDS_OFFERED: Final = 60


async def comparison(request: Any, datasette: Any) -> Any:
    """The form for two builds, and their comparison."""
    page = await page_request(datasette, request)
    a, b = page.given("a"), page.given("b")
    found, fault = await _found(page, a, b)
    track = found.on_track if found else None
    return await page.render(
        PAGE,
        f"{found.a} and {found.b}" if found else "Compare two builds",
        typed=(a, b),
        fault=fault,
        builds=await page.ask(questions.build_labels, BUILDS_OFFERED),
        found=found,
        names=[page.links.record("builds", row, label) for row, label in _builds(found)],
        differences=build_differences(found.a, found.b, found.differences) if found else None,
        track=track,
        verdict=with_sign(track.result.verdict) if track and track.result else "",
        working=_working(page, found),
    )


def _working(page: PageRequest, found: Comparison | None) -> str:
    """The page that shows how the comparison was worked out, where a calculator offers it."""
    if found is None or found.on_track is None or found.on_track.result is None:
        return ""
    names = [offered.calculator.name for offered in page.registry.resting_on(found.on_track.result.formula)]
    pair = f"build:{found.build_a},build:{found.build_b}"
    return page.links.page(f"calc/{names[0]}", **{"for": pair}) if names else ""


def _builds(found: Comparison | None) -> list[tuple[str, str]]:
    return [(found.build_a, found.a), (found.build_b, found.b)] if found else []


async def _found(page: PageRequest, a: str, b: str) -> tuple[Comparison | None, str]:
    if not a and not b:
        return None, ""
    if not a or not b:
        return None, "Name two builds."
    try:
        comparison, runs = await page.ask(side_by_side, a, b, page.registry)
    except BevelbookError as problem:
        return None, fault_words(problem)
    track = await asyncio.to_thread(on_track, runs) if runs else None
    return comparison._replace(on_track=track), ""


PAGE: Final = Page("compare", comparison)
