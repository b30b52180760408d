"""Sheets of labels as one page that prints: what it says around them is not printed."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape
from typing import Final

from bevelbook.labels import sheet_words
from bevelbook.labels.pages import LabelsOnSheet
from bevelbook.labels.sheets import LabelSheet
from bevelbook.labels.svg import sheet_svg

GENERATOR: Final = '<meta name="generator" content="bevelbook labels">'
_PRINTED: Final = """
@page { size: %s; margin: 0 }
.sheet { width: fit-content; max-width: 100%%; margin: 1rem auto; overflow-x: auto }
.sheet { background: #fff; color: #000; outline: 1px solid #999 }
.sheet svg { display: block }
@media print {
  .sheet { margin: 0; max-width: none; outline: none; overflow: hidden; break-after: page }
  .sheet:last-of-type { break-after: auto }
}
"""
_STYLES: Final = """
body { margin: 0; background: #fff; color: #000; font: 17px/1.45 system-ui, sans-serif }
main { max-width: 46rem; margin: 0 auto; padding: 1rem }
h1 { font-size: 1.3rem }
@media print { .not-printed { display: none } }
"""


def printed_styles(sheet: LabelSheet) -> str:
    """The style sheet with which elements of the class ``sheet`` print as large as their paper."""
    return _PRINTED % f"{sheet.paper.width_mm:g}mm {sheet.paper.height_mm:g}mm"


def labels_page(
    pages: Sequence[LabelsOnSheet], *, title: str, said: Iterable[str] = (), with_ruler: bool = False
) -> str:
    """One self-contained page with every sheet at its size; ``said`` is what to know before it is printed."""
    paper = pages[0].sheet.paper
    words = (f"{sheet_words.AT_FULL_SIZE}, on {paper.shown}.", *said, *sheet_words.ALL)
    lines = "".join(f"<li>{escape(one, quote=False)}</li>" for one in words)
    sheets = "\n".join(
        f'<div class="sheet" tabindex="0" role="group" aria-label="sheet {number} of {len(pages)}">'
        f"{sheet_svg(page, with_ruler=with_ruler)}</div>"
        for number, page in enumerate(pages, 1)
    )
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8">{GENERATOR}
<meta name="viewport" content="width=device-width, initial-scale=1"><title>{escape(title)}</title>
<style>{_STYLES}{printed_styles(pages[0].sheet)}</style></head>
<body><main class="not-printed"><h1>{escape(title)}</h1><p>{escape(pages[0].sheet.words)}.</p><ul>{lines}</ul></main>
{sheets}
</body></html>
"""
