"""Records that were changed in two places before they came together: what each version says, and which one is shown."""

from __future__ import annotations

from typing import Any, Final

from bevelbook.declare.counting import counted
from bevelbook.reports.clashes import said_clashes
from bevelbook.web.host.page import Page
from bevelbook.web.shared.clash_blocks import clash_block
from bevelbook.web.shared.request import page_request


async def clashes(request: Any, datasette: Any) -> Any:
    """All clashes, each with its versions and where it is settled."""
    page = await page_request(datasette, request)
    found = await page.ask(said_clashes)
    return await page.render(
        PAGE,
        counted(len(found), "clash") if found else "No clash",
        clashes=[clash_block(page, one) for one in found],
    )


PAGE: Final = Page("clashes", clashes)
