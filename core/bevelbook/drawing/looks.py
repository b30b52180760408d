"""How a chart looks: ink on paper with one accent, at two widths, in the colours of a page or of paper."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, NamedTuple


class DrawnWidth(NamedTuple):
    """How wide a drawing is, in CSS pixels, and how large its smaller and its larger text is there."""

    width_px: int
    label_px: float
    title_px: float


NARROW: Final = DrawnWidth(358, 13, 13.5)
"""What a phone that is 390 px wide has room for."""
WIDE: Final = DrawnWidth(760, 14, 15)
"""For larger screens, paper and files."""

ROOM_FOR_TEXT: Final = 1.12
"""Text is drawn smaller by this than it was laid out: a reader's font may be wider than the one it was measured in."""
SMALLEST_PX: Final = 11.0
"""No text is smaller than this."""

_NAMES: Final = ("ink", "quiet", "line", "act", "ok", "caution", "stop")
ON_PAGE: Final[Mapping[str, str]] = {}
"""The variables of the page's style sheet stay in the drawing, which then follows light, dark and paper."""
ON_PAPER: Final[Mapping[str, str]] = {
    "ink": "#000000",
    "quiet": "#333333",
    "line": "#bbbbbb",
    "act": "#000000",
    "ok": "#000000",
    "caution": "#000000",
    "stop": "#000000",
}
"""Black on white, for what is printed or stands alone without our style sheet."""


def variable(name: str) -> str:
    """The colour of that name as the style sheet has it.

    >>> variable("ink")
    'var(--ink)'
    """
    return f"var(--{name})"


_INK, _QUIET, _LINE, _ACT = (variable(name) for name in _NAMES[:4])


def config_for(width: DrawnWidth) -> dict[str, Any]:
    """Colours and sizes of all parts of a drawing, as Vega-Lite's ``config``."""
    label_px, title_px = width.label_px * ROOM_FOR_TEXT, width.title_px * ROOM_FOR_TEXT
    text = {
        "labelColor": _QUIET,
        "titleColor": _INK,
        "labelFontSize": label_px,
        "titleFontSize": title_px,
        "titleFontWeight": "normal",
    }
    return {
        "background": None,
        "font": "sans-serif",
        "aria": False,
        "view": {"stroke": None},
        "axis": {
            **text,
            "gridColor": _LINE,
            "domainColor": _QUIET,
            "tickColor": _QUIET,
            "labelOverlap": True,
            "tickCount": 5 if width == NARROW else 8,
        },
        "legend": {
            **text,
            "orient": "bottom",
            "symbolStrokeColor": _INK,
            "symbolFillColor": "transparent",
            "columns": 1 if width == NARROW else 2,
        },
        "header": text,
        "title": {"color": _INK, "fontSize": title_px, "fontWeight": "normal"},
        "mark": {"color": _ACT, "tooltip": False},
        "line": {"color": _ACT},
        "area": {"color": _ACT},
        "rule": {"color": _INK},
        "point": {"color": _INK, "fill": _INK},
        "text": {"color": _INK, "fontSize": label_px},
        "range": {"category": [variable(name) for name in _NAMES if name != "line"]},
    }
