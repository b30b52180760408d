"""What the checks of all plugins find worth a look."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from markupsafe import Markup

from bevelbook.plugin.check import Finding
from bevelbook.reports.check import check
from bevelbook.web.host.page import Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.links import Linker
from bevelbook.web.shared.request import page_request

CHECK_PATIENCE: Final = 15
"""How many times the limit for one query all checks together may take."""
_SIGN_OF: Final = {"stop": "stop", "caution": "caution"}


class LookFinding(NamedTuple):
    """A finding on the page: its sign, what it is about, what was found, and what to do."""

    sign: Markup
    subject: Markup | str
    words: str
    remedy: str


class LookDiff(NamedTuple):
    """A diff on the page: how long since it was opened, its counts against the limits, what was found about it."""

    diff: Markup | str
    since: str
    lines: list[str]
    findings: list[LookFinding]


async def look(request: Any, datasette: Any) -> Any:
    """Everything that the checks of all plugins find worth a look."""
    page = await page_request(datasette, request)
    found = await page.ask(check, page.registry, patience=CHECK_PATIENCE)
    links = page.links
    return await page.render(
        PAGE,
        "Worth a look",
        summary=found.summary(),
        diffs=[
            LookDiff(
                links.record("diffs", group.diff, group.label),
                group.service.since.words if group.service else "not built",
                list(group.service.lines()) if group.service else [],
                [_look_finding(links, finding) for finding in group.findings],
            )
            for group in found.diffs
        ],
        team=[_look_finding(links, finding) for finding in found.team],
        bottles=list(found.bottles.lines()),
        left_out=[f"{one.origin.in_words} left out: {one.reason}" for one in found.left_out],
        ideas=[
            (venue, [links.record("ideas", one.id, one.text) for one in ideas]) for venue, ideas in found.ideas.items()
        ],
    )


def _look_finding(links: Linker, finding: Finding) -> LookFinding:
    return LookFinding(
        with_sign(_SIGN_OF.get(finding.severity, finding.severity)),
        links.record(finding.subject_table, finding.subject_id, finding.subject_label),
        finding.words,
        finding.remedy,
    )


PAGE: Final = Page("look", look)
