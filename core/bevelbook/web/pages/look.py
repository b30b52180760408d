"""What the checks find worth a look: what to see to now, and folded what is about the past or was put by."""

from __future__ import annotations

import sqlite3
from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.reports.before_next_time_out import MOST_LINES, MostUrgent, most_urgent
from bevelbook.reports.check import DiffFindings, check
from bevelbook.reports.every_finding import CheckedFinding
from bevelbook.reports.shelf import shelf_without_advice
from bevelbook.web.host.page import Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.job_lines import job_line
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.request import PageRequest, page_request
from bevelbook.web.shared.writing_here import is_paired

CHECK_PATIENCE: Final = 15
"""How many times the limit for one query all checks together may take."""
CHECKS_LEFT_OUT: Final = (
    "Left out: what the checks find. On so many records all of them together take longer than a page may; "
    "'bevelbook check' runs them without a limit."
)
_SIGN_OF: Final = {"stop": "stop", "caution": "caution"}


class LookFinding(NamedTuple):
    """A finding on the page: its sign, what it is about, what was found, what to do, why it was put by, and the
    plugin whose check found it; empty where it came with the program."""

    sign: Markup
    subject: Markup | str
    words: str
    remedy: str
    put_by: str
    plugin: str


class LookDiff(NamedTuple):
    """A diff on the page: how long since it was opened, what to do about it, its runs left, and its parts."""

    diff: Markup | str
    since: str
    findings: list[LookFinding]
    runs_left: list[str]
    parts: list[str]


async def look(request: Any, datasette: Any) -> Any:
    """What to see to before the next time out; about the past and put by, folded, the rest that the checks find."""
    page = await page_request(datasette, request)
    try:
        found = await page.ask(check, page.registry, patience=CHECK_PATIENCE)
    except sqlite3.OperationalError as fault:
        if "interrupted" not in str(fault):
            raise
        return await _without_checks(page)
    links = page.links
    return await page.render(
        PAGE,
        "Worth a look",
        summary=found.summary(),
        jobs=[job_line(links, job, may_write=is_paired(page)) for job in found.jobs[:MOST_LINES]],
        more=max(0, len(found.jobs) - MOST_LINES),
        diffs=[_look_diff(links, group) for group in found.diffs],
        team=[_look_finding(links, finding) for finding in found.team if not finding.is_past],
        passed_over=found.passed_over_in_words(),
        past_words=found.past_in_words(),
        past=[_look_finding(links, finding) for finding in found.past],
        resting_words=found.resting_in_words(),
        resting=[_look_finding(links, finding) for finding in found.resting],
        bottles=list(found.bottles.lines()),
        left_out=[f"{one.origin.in_words} left out: {one.reason}" for one in found.left_out],
        ideas=[
            (venue, [links.record("ideas", one.id, one.text) for one in ideas]) for venue, ideas in found.ideas.items()
        ],
    )


async def _without_checks(page: PageRequest) -> Any:
    """The page where all checks together take too long: what is to be done before the next time out, and that the rest
    is left out."""
    found = await page.ask(_to_do)
    return await page.render(
        PAGE,
        "Worth a look",
        summary=CHECKS_LEFT_OUT,
        jobs=[job_line(page.links, job, may_write=is_paired(page)) for job in found.jobs],
        more=found.more,
        passed_over="",
        **dict.fromkeys(("diffs", "team", "past", "resting", "bottles", "left_out", "ideas"), ()),
    )


def _to_do(connection: sqlite3.Connection) -> MostUrgent:
    return most_urgent(connection, shelf_without_advice(connection), MOST_LINES)


def _look_diff(links: Linker, group: DiffFindings) -> LookDiff:
    return LookDiff(
        links.record("diffs", group.diff, group.label),
        group.service.since.words if group.service else "not built",
        [_look_finding(links, finding) for finding in group.due],
        list(group.service.lines_of_runs_left()) if group.service else [],
        list(group.service.lines_of_parts()) if group.service else [],
    )


def _look_finding(links: Linker, finding: CheckedFinding) -> LookFinding:
    return LookFinding(
        with_sign(_SIGN_OF.get(finding.severity, finding.severity)),
        links.record(finding.subject_table, finding.subject_id, finding.subject_label),
        finding.words,
        finding.remedy,
        finding.put_by.words if finding.put_by else "",
        finding.plugin,
    )


PAGE: Final = Page("look", look, in_copy=True)
