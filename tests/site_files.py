"""The files of a copy, read as a browser would: where each address on them leads, and what is wrong with any."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any, Final
from urllib.parse import unquote, urlsplit

CALL: Final = re.compile(r'bevelbookSearch\("(\w+)","([^"]*)",(.*)\);\n', re.DOTALL)
ADDRESSES: Final = frozenset({"href", "src", "action", "srcset", "data", "poster", "formaction"})


class _Page(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.addresses: list[str] = []
        self.places: list[str] = []
        self.elements: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements.append((tag, dict(attrs)))
        for name, value in attrs:
            if name == "id" and value:
                self.places.append(value)
            if name in ADDRESSES:
                self.addresses.append(value or "")


def page_at(path: Path) -> _Page:
    """A page with its addresses, places and elements."""
    page = _Page()
    page.feed(path.read_text(encoding="utf-8"))
    return page


def files_of(folder: Path) -> dict[str, bytes]:
    """Every file below a folder by its name there."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }


def broken_addresses(folder: Path) -> Iterator[tuple[str, str]]:
    """Each address on a page that leads to no file of the folder, or to no place in it."""
    pages = {path.relative_to(folder).as_posix(): page_at(path) for path in folder.rglob("*.html")}
    for name, page in pages.items():
        for address in page.addresses:
            parts = urlsplit(address)
            target = (folder / name).parent / unquote(parts.path) if parts.path else folder / name
            inside = target.resolve().is_relative_to(folder.resolve())
            place = target.resolve().relative_to(folder.resolve()).as_posix() if inside else ""
            leads_out = parts.scheme or parts.netloc or parts.query or not inside or not target.is_file()
            if leads_out or (parts.fragment and parts.fragment not in pages[place].places):
                yield name, address


def search_file(folder: Path, name: str) -> Any:
    """What a file of the search hands over."""
    call = CALL.fullmatch((folder / "search" / f"{name}.js").read_text(encoding="ascii"))
    assert call is not None, name
    return json.loads(call[3])


def pages_with(folder: Path, word: str) -> list[str]:
    """The files that the search finds for one whole word."""
    about = search_file(folder, "kinds")
    places, place = [], 0
    for step in search_file(folder, f"words-{word[0]}")["words"].get(word, []):
        place += step
        places.append(place)
    return [search_file(folder, f"pages-{one // about['each']}")[one % about["each"]][0] for one in places]
