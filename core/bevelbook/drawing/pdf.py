"""A picture as a page of a PDF, and which letters can be drawn in one."""

from __future__ import annotations

from functools import cache
from html import escape

_NO_SHAPE = "\ue0f1"
"""A letter of nobody's, which no face has: what stands for a letter that is missing is drawn for it."""


def page_of_svg(svg: str) -> bytes:
    """A PDF of one page, as large as the picture, of which 72 are an inch. Raises ValueError for another text."""
    from vl_convert import svg_to_pdf

    return bytes(svg_to_pdf(svg))


def has_shape(letter: str, faces: str) -> bool:
    """Whether one of the faces, or any other on this machine, has a shape for a letter."""
    return _drawn(letter, faces) != _drawn(_NO_SHAPE, faces)


@cache
def _drawn(letter: str, faces: str) -> bytes:
    from vl_convert import svg_to_png

    return bytes(
        svg_to_png(
            '<svg xmlns="http://www.w3.org/2000/svg" width="24" height="24">'
            f'<text x="2" y="18" font-size="16" font-family="{escape(faces)}">{escape(letter)}</text></svg>'
        )
    )
