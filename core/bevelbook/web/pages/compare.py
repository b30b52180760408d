"""Two builds side by side on a page: what differs, and how they did in turn."""

from __future__ import annotations

import asyncio
from typing import Any, Final

from markupsafe import Markup

from bevelbook.declare.errors import BevelbookError
from bevelbook.formulas.lap_standing import ASK, COUNT, LEAVE_OUT
from bevelbook.reports import questions
from bevelbook.reports.build_outcome import BuildOutcome
from bevelbook.reports.compare import CAME_OF_IT, Comparison, side_by_side
from bevelbook.reports.runs_in_turn import on_track
from bevelbook.web.host.arguments import any_text, one_of
from bevelbook.web.host.page import Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.blocks import ListedBlock, block
from bevelbook.web.shared.build_differences import build_differences
from bevelbook.web.shared.fault_words import fault_words
from bevelbook.web.shared.reasons_begun import sentences_begun
from bevelbook.web.shared.request import PageRequest, page_request

BUILDS_OFFERED: Final = 60


async def comparison(request: Any, datasette: Any) -> Any:
    """The form for two builds, and their comparison."""
    page = await page_request(datasette, request)
    a, b = page.given("a"), page.given("b")
    odd_times = page.given("odd_times")
    found, fault = await _found(page, a, b, odd_times if odd_times in (COUNT, LEAVE_OUT) else ASK)
    track = found.on_track if found else None
    answer = await page.render(
        PAGE,
        f"{found.a} and {found.b}" if found else "Compare two builds",
        typed=(a, b),
        fault=fault,
        builds=await page.ask(questions.build_labels, BUILDS_OFFERED),
        found=found,
        names=[page.links.record("builds", row, label) for row, label in _builds(found)],
        differences=build_differences(found.a, found.b, found.differences) if found else None,
        outcomes=_outcomes(page, found),
        came_of_it=CAME_OF_IT,
        track=track,
        reasons=sentences_begun(track.result) if track and track.result else (),
        verdict=with_sign(track.result.verdict) if track and track.result else "",
        working=_working(page, found),
        odd_times=_odd_times(page, found),
    )
    if fault and a and b:
        answer.status = 400
    return answer


def _outcomes(page: PageRequest, found: Comparison | None) -> list[ListedBlock]:
    """What came of each build."""
    if found is None:
        return []
    ids = (found.build_a, found.build_b)
    return [
        block(page.links.record("builds", build, label), _oil_lost(outcome), *outcome.lines())
        for build, (label, outcome) in zip(ids, found.came_of_it, strict=False)
    ]


def _oil_lost(outcome: BuildOutcome) -> Markup | str:
    if outcome.leak_found or not outcome.verdict:
        return outcome.oil_lost_words
    return Markup('<span class="quiet">oil lost</span> {}').format(with_sign(outcome.verdict))


def _working(page: PageRequest, found: Comparison | None) -> str:
    """The page that shows how the comparison was worked out, where a calculator offers it."""
    if found is None or found.on_track is None or found.on_track.result is None:
        return ""
    names = [offered.calculator.name for offered in page.registry.resting_on(found.on_track.result.formula)]
    pair = f"build:{found.build_a},build:{found.build_b}"
    return page.links.page(f"calc/{names[0]}", **{"for": pair}) if names else ""


def _odd_times(page: PageRequest, found: Comparison | None) -> list[tuple[str, str]]:
    """Where a time far off the others is asked about: an address for each answer, with its words."""
    if found is None or found.on_track is None or not found.on_track.asks_about_a_time:
        return []
    answers = ((COUNT, "It was timed right: count it"), (LEAVE_OUT, "It was not: leave it out"))
    return [(page.links.page("compare", a=found.a, b=found.b, odd_times=what), words) for what, words in answers]


def _builds(found: Comparison | None) -> list[tuple[str, str]]:
    return [(found.build_a, found.a), (found.build_b, found.b)] if found else []


async def _found(page: PageRequest, a: str, b: str, odd_times: str) -> tuple[Comparison | None, str]:
    if not a and not b:
        return None, ""
    if not a or not b:
        return None, "Name two builds."
    try:
        comparison, runs = await page.ask(side_by_side, a, b, page.registry)
    except BevelbookError as problem:
        return None, fault_words(problem)
    track = await asyncio.to_thread(on_track, runs, odd_times) if runs else None
    return comparison._replace(on_track=track), ""


PAGE: Final = Page(
    "compare", comparison, takes=(any_text("a"), any_text("b"), one_of("odd_times", COUNT, LEAVE_OUT, ASK))
)
