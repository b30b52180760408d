"""A page as one file that is read away from the server: style sheet and pictures inside, no script, no address."""

from __future__ import annotations

from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any, Final

from markupsafe import Markup

from bevelbook.web.host.page import Page
from bevelbook.web.shared.request import PageRequest

_STYLES: Final = Path(__file__).parent.parent / "static" / "bevelbook.css"


async def as_file(page: PageRequest, which: Page, title: str, name: str, **context: Any) -> Any:
    """The answer that a browser saves under ``name``: the page's template in the frame of a file.

    The context must hold no link: make it with ``NamesOnly``.
    """
    from datasette.utils.asgi import Response

    text = await page.datasette.render_template(
        which.template,
        {
            "frame": "bevelbook_file.html",
            "title": title,
            "database": page.team.name,
            "styles": _styles(),
            "made": f"{datetime.now():%Y-%m-%d %H:%M}",
            **context,
        },
        request=page.request,
        view_name=f"bevelbook_{which.name}",
    )
    saved = {"Cache-Control": "no-cache", "Content-Disposition": f'attachment; filename="{name}"'}
    return Response.html(text, headers=saved)


@cache
def _styles() -> Markup:
    """The style sheet of the pages, which holds no address."""
    return Markup(_STYLES.read_text(encoding="utf-8"))
