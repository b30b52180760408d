"""What the library drew, written again with only what a picture needs: shapes, text, places and colours.

A note's text can become nothing but text here: elements and attributes that are not listed are left out, among them
links, pictures, styles and scripts.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from html import escape
from typing import Final
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.drawing.looks import ROOM_FOR_TEXT, SMALLEST_PX

_SPACE: Final = "{http://www.w3.org/2000/svg}"
_ELEMENTS: Final = frozenset(
    {"g", "path", "rect", "line", "circle", "text", "tspan", "defs", "clipPath", "linearGradient", "stop"}
)
_PLACES: Final = frozenset(
    {"d", "transform", "x", "y", "x1", "x2", "y1", "y2", "dx", "dy", "cx", "cy", "r", "width", "height", "offset"}
)
_PLAIN: Final = _PLACES | {
    "class",
    "display",
    "fill-opacity",
    "font-style",
    "font-weight",
    "gradientUnits",
    "opacity",
    "stop-opacity",
    "stroke-dasharray",
    "stroke-dashoffset",
    "stroke-linecap",
    "stroke-linejoin",
    "stroke-miterlimit",
    "stroke-opacity",
    "stroke-width",
    "text-anchor",
}
_COLOURS: Final = frozenset({"fill", "stroke", "stop-color"})
_COLOUR: Final = late_pattern(r"#[0-9a-fA-F]{3,8}|[a-zA-Z]+|var\(--[a-z]+\)|(?:rgb|hsl)a?\([\d.,%/ deg-]+\)")
_VARIABLE: Final = late_pattern(r"var\(--([a-z]+)\)")
_OF_THIS_PICTURE: Final = late_pattern(r"url\([\"']?#([\w-]+)[\"']?\)")
_PIXELS: Final = late_pattern(r"(?<![\d.])([\d.]+)px")
_LONG_DECIMALS: Final = late_pattern(r"(?<!\d)(\d+\.\d\d)\d+")
_NOTHING: Final = {"path": ("", "M0,0h0v0h0Z")}


def tidied(drawn: str, key: str, colours: Mapping[str, str], title: str) -> str:
    """The picture as an ``svg`` element that takes the width it is given.

    ``key`` begins the names of its parts, unlike in another picture on the page. ``colours`` are put in place of the
    variables of those names. With a ``title`` it is announced as an image of that name, else passed over.
    """
    root = ElementTree.fromstring(drawn)
    box = root.get("viewBox", "0 0 1 1")
    inside = "".join(_written(part, key, colours) for part in root)
    named = f'role="img" aria-label="{escape(title)}"' if title else 'aria-hidden="true"'
    font = 'font-family="system-ui, sans-serif" ' if colours else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="drawing" viewBox="{escape(box)}" width="{box.split()[2]}" '
        f'{font}{named} fill="none">{inside}</svg>'
    )


def _written(part: Element, key: str, colours: Mapping[str, str]) -> str:
    name = part.tag.removeprefix(_SPACE) if isinstance(part.tag, str) else ""
    if name not in _ELEMENTS or part.get("opacity") == "0" or part.get("d") in _NOTHING.get(name, ()):
        return ""
    inside = escape(part.text or "", quote=False) if name in ("text", "tspan") else ""
    inside += "".join(_written(one, key, colours) for one in part)
    if name == "g" and not inside:
        return ""
    attributes = "".join(f' {one}="{escape(value)}"' for one, value in _attributes(part, key, colours))
    return f"<{name}{attributes}>{inside}</{name}>" if inside else f"<{name}{attributes}/>"


def _attributes(part: Element, key: str, colours: Mapping[str, str]) -> Iterator[tuple[str, str]]:
    for name, value in part.attrib.items():
        if name in _PLACES:
            yield name, _LONG_DECIMALS.sub(r"\1", value)
        elif name == "font-size" and (size := _PIXELS.fullmatch(value)):
            yield name, f"{max(SMALLEST_PX, float(size[1]) / ROOM_FOR_TEXT):.4g}px"
        elif name in _PLAIN:
            if (name, value) != ("opacity", "1"):
                yield name, value
        elif name == "id":
            yield name, f"{key}-{value}"
        elif own := _OF_THIS_PICTURE.fullmatch(value):
            if name in _COLOURS or name == "clip-path":
                yield name, f"url(#{key}-{own[1]})"
        elif name in _COLOURS and _COLOUR.fullmatch(value):
            yield name, _VARIABLE.sub(lambda found: colours.get(found[1], found[0]), value)
