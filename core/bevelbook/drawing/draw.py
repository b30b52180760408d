"""Draw a chart: specification and rows in, SVG out."""

from __future__ import annotations

import json
import threading
from collections import OrderedDict
from collections.abc import Mapping, Sequence
from hashlib import sha256
from math import inf
from time import monotonic
from typing import Any, Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.drawing.faults import SpecRefused, TookTooLong
from bevelbook.drawing.looks import ON_PAPER, WIDE, DrawnWidth, config_for
from bevelbook.drawing.process import PROCESS
from bevelbook.drawing.svg import tidied

Rows = Sequence[Mapping[str, Any]]

LONGEST_TEXT: Final = 200
"""Longer texts of a row are cut: no chart has room for more."""
HEIGHT_PX: Final = 300
PANEL_PX: Final = (96, 160)
"""What is beside a panel: the numbers of its axis, and with a name at the left that too."""
NARROWEST_PANEL_PX: Final = 180
TRIED_AGAIN_S: Final = 60.0
KEPT_BYTES: Final = 16_000_000
"""Pictures kept in memory, so that a page asked for again draws nothing."""
_NOT_IN_XML: Final = late_pattern("[^\\t\\n\\x20-\\ud7ff\\ue000-\\ufffd\\U00010000-\\U0010ffff]")


def svg_of(
    spec: Mapping[str, Any],
    rows: Rows,
    *,
    width: DrawnWidth = WIDE,
    colours: Mapping[str, str] = ON_PAPER,
    title: str = "",
) -> str:
    """A chart as one ``svg`` element that needs no script, style sheet or font of ours.

    ``spec`` is the ``spec`` of a ``plugin.chart.Chart``: Vega-Lite without data; ``rows`` are what it draws (of a
    chart of ours ``reports.mass_chart.masses_of_diff``, of a plugin's what ``web.shared.drawing`` gathers). For paper
    and for a file that stands alone leave ``colours``, and give a ``title``, which a screen reader says; put a table of
    the figures beside it. For a page take ``colours=ON_PAGE`` and one drawing in ``NARROW`` and one in ``WIDE``, as the
    macro ``chart`` of bevelbook_shared.html does. Both shrink and grow with the room they are given.

    Takes 20 to 100 ms, and half a second more the first time: call it in a thread where others wait. A picture asked
    for again comes from memory. Raises SpecRefused where the specification cannot be drawn, CannotDraw where nothing
    can, and ValueError for a number that is not finite.
    """
    text = json.dumps(_sized(spec, rows, width), allow_nan=False)
    key = sha256(json.dumps((text, sorted(colours.items()), title)).encode()).hexdigest()[:16]
    held = _KEPT.found(key)
    if held is None:
        with _ONE_AT_A_TIME:
            held = _KEPT.found(key) or _newly_drawn(text, key, colours, title)
    if isinstance(held, SpecRefused):
        raise SpecRefused(str(held))
    return held


def _newly_drawn(text: str, key: str, colours: Mapping[str, str], title: str) -> str | SpecRefused:
    """A picture that is kept from now on, or that it cannot be drawn."""
    held: str | SpecRefused
    try:
        held = tidied(PROCESS.draw(text), f"c{key}", colours, title)
    except SpecRefused as refused:
        held = refused
    _KEPT.keep(key, held)
    return held


def _sized(spec: Mapping[str, Any], rows: Rows, width: DrawnWidth) -> dict[str, Any]:
    """The whole specification: rows, config and a width put in."""
    whole = {**_without_links(spec), "data": {"values": [_clean(row) for row in rows]}, "config": config_for(width)}
    inner = whole.get("spec")
    if "facet" in whole and isinstance(inner, dict):
        beside = PANEL_PX[isinstance(whole["facet"], Mapping) and "row" in whole["facet"]]
        widest = _number(inner.get("width"), width.width_px)
        inner["width"] = max(NARROWEST_PANEL_PX, min(widest, width.width_px - beside))
    elif "mark" in whole or "layer" in whole:
        whole["width"] = min(_number(whole.get("width"), width.width_px), width.width_px)
        whole.setdefault("height", HEIGHT_PX)
        whole["autosize"] = {"type": "fit-x", "contains": "padding"}
    return whole


def _without_links(part: Any) -> Any:
    """A copy of a specification; a picture holds no links, and the library refuses one that a note spoils."""
    if isinstance(part, Mapping):
        return {name: _without_links(value) for name, value in part.items() if name != "href"}
    return [_without_links(value) for value in part] if isinstance(part, (list, tuple)) else part


def _number(value: object, otherwise: float) -> float:
    return value if isinstance(value, (int, float)) and not isinstance(value, bool) else otherwise


def _clean(row: Mapping[str, Any]) -> dict[str, Any]:
    return {name: _text(value) if isinstance(value, str) else value for name, value in row.items()}


def _text(value: str) -> str:
    """A text that a picture can hold: cut, and without characters that XML does not allow."""
    cut = value if len(value) <= LONGEST_TEXT else f"{value[: LONGEST_TEXT - 1]}…"
    if cut.isprintable():
        return cut
    return _NOT_IN_XML.sub(" ", cut)


class _Kept:
    """The pictures drawn last, and the specifications that were refused, up to a number of bytes.

    A drawing that took too long is tried again after ``TRIED_AGAIN_S``, so that a page opened again and again does not
    hold up all others meanwhile.
    """

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._held: OrderedDict[str, str | SpecRefused] = OrderedDict()
        self._given_up: dict[str, float] = {}
        self._bytes = 0

    def found(self, key: str) -> str | SpecRefused | None:
        with self._lock:
            if monotonic() - self._given_up.get(key, inf) > TRIED_AGAIN_S:
                return None
            if key in self._held:
                self._held.move_to_end(key)
            return self._held.get(key)

    def keep(self, key: str, held: str | SpecRefused) -> None:
        with self._lock:
            self._bytes += len(str(held)) - len(str(self._held.get(key, "")))
            self._held[key] = held
            self._given_up.pop(key, None)
            if isinstance(held, TookTooLong):
                self._given_up[key] = monotonic()
            while self._bytes > KEPT_BYTES and len(self._held) > 1:
                oldest, held = self._held.popitem(last=False)
                self._bytes -= len(str(held))
                self._given_up.pop(oldest, None)


_KEPT: Final = _Kept()
_ONE_AT_A_TIME: Final = threading.Lock()
"""Who waits for a drawing finds that of who asked for the same before: many visitors open a page at once."""
