"""What the checks of all plugins find worth a look."""

from __future__ import annotations

import sqlite3
from typing import Any, Final

from markupsafe import Markup

from bevelbook.web.host.page import Page
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.request import page_request

CHECK_PATIENCE: Final = 15
"""How many times the limit for one query all checks together may take."""


_SIGN_OF: Final = {"stop": "stop", "caution": "caution"}


async def look(request: Any, datasette: Any) -> Any:
    """Everything that the checks of all plugins find worth a look."""
    from bevelbook.reports.check import check
    from bevelbook.web.shared.links import Linker

    page = await page_request(datasette, request)
    registry = page.registry

    def gather(connection: sqlite3.Connection) -> Any:
        return check(connection, registry)

    found = await page.ask(gather, patience=CHECK_PATIENCE)
    links: Linker = page.links

    def told(one: Any) -> tuple[Markup, Any, str, str]:
        sign = with_sign(_SIGN_OF.get(one.severity, one.severity))
        return sign, links.record(one.subject_table, one.subject_id, one.subject_label), one.words, one.remedy

    return await page.render(
        PAGE,
        "Worth a look",
        summary=found.summary(),
        diffs=[
            (
                links.record("diffs", group.diff, group.label),
                group.standing.since.words if group.standing else "not built",
                list(group.standing.lines()) if group.standing else [],
                [told(one) for one in group.findings],
            )
            for group in found.diffs
        ],
        team=[told(one) for one in found.team],
        bottles=list(found.bottles.lines()),
        left_out=[f"{one.origin.in_words} left out: {one.reason}" for one in found.left_out],
        ideas=[
            (venue, [links.record("ideas", one.id, one.text) for one in ideas]) for venue, ideas in found.ideas.items()
        ],
    )


PAGE: Final = Page("look", look)
