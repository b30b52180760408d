"""The card of a build and the run sheet as HTML: a fragment for a page, or one page with everything inside it."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Final

from bevelbook.card.all_fields_sheet import AllFieldsSheet
from bevelbook.card.contents import Card
from bevelbook.card.fit import left_out_words, paper_of, picture_mm
from bevelbook.card.run_sheet import RunSheet
from bevelbook.store.invented_mark import INVENTED_WORDS

if TYPE_CHECKING:
    from jinja2 import Environment

GENERATOR: Final = '<meta name="generator" content="bevelbook">'
SIGNS: Final = {
    "ok": "M2.5 8.5 6.2 12.5 13.5 3.5",
    "caution": "M8 2 14.6 13.6H1.4Z",
    "stop": "M5.2 1.6h5.6l3.6 3.6v5.6l-3.6 3.6H5.2L1.6 10.8V5.2Z",
    "unclear": "M8 1.8A6.2 6.2 0 1 1 8 14.2A6.2 6.2 0 1 1 8 1.8Z",
}
"""Tick, triangle, octagon and (dashed) circle, drawn in a square of 16: always beside the word of the verdict."""


def card_page(card: Card) -> str:
    """The card as a fragment; it needs :func:`card_styles` on the page around it."""
    return (
        _environment()
        .get_template("card.html")
        .render(
            card=card,
            signs=SIGNS,
            paper=paper_of(card),
            picture_mm=picture_mm,
            left_out_words=left_out_words,
            invented_words=INVENTED_WORDS,
        )
    )


def run_sheet_page(sheet: RunSheet) -> str:
    """The run sheet as a fragment, a sheet of paper for each car; it needs :func:`card_styles` around it."""
    return _environment().get_template("run_sheet.html").render(sheet=sheet, invented_words=INVENTED_WORDS)


def all_fields_page(sheet: AllFieldsSheet) -> str:
    """The run sheet with all fields as a fragment; it needs :func:`card_styles` on the page around it."""
    return _environment().get_template("all_fields_sheet.html").render(sheet=sheet, invented_words=INVENTED_WORDS)


def card_styles() -> str:
    """The style sheet of all of them; every rule is under ``.build-card``, except the margin of the printed page."""
    from bevelbook.reference import read_text

    return "".join(read_text("bevelbook.card", f"templates/{name}.css") for name in ("card", "run_sheet"))


def whole_page(title: str, fragment: str) -> str:
    """One self-contained page around a fragment: it fetches nothing."""
    from markupsafe import Markup

    page = _environment().get_template("page.html")
    return page.render(
        title=title, generator=Markup(GENERATOR), styles=Markup(card_styles()), fragment=Markup(fragment)
    )


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    return Environment(
        loader=PackageLoader("bevelbook.card", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
