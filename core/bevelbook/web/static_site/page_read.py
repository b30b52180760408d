"""What a copy needs to know of a served page: its title, where it leads, its places, its pictures, its words."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import Final, NamedTuple

IN_A_LINE: Final = frozenset({"a", "abbr", "b", "code", "em", "i", "mark", "small", "span", "strong", "sub", "sup"})
"""Elements whose words stand in the line that they are in."""
NOT_READ: Final = frozenset({"script", "style", "svg", "noscript", "form"})
"""Elements without words that anybody searches."""
CHART: Final = "chart"
"""The class of a chart with its table of figures."""


class PageRead(NamedTuple):
    """A page as it was read; addresses as they are written on it, ``words`` of what it is about without its frame."""

    title: str
    links: tuple[str, ...]
    pictures: tuple[str, ...]
    places: frozenset[str]
    words: str


def read_page(html: str) -> PageRead:
    """Read a page."""
    reading = _Reading()
    reading.feed(html)
    reading.close()
    return PageRead(
        " ".join("".join(reading.title).split()),
        tuple(dict.fromkeys(reading.links)),
        tuple(dict.fromkeys(reading.pictures)),
        frozenset(reading.places),
        " ".join("".join(reading.words).split()),
    )


class _Reading(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.title: list[str] = []
        self.links: list[str] = []
        self.pictures: list[str] = []
        self.places: list[str] = []
        self.words: list[str] = []
        self._in_title = False
        self._in_main = False
        self._unread: list[str] = []
        """The element whose words are passed over, and those of its name inside it."""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self._end_line(tag)
        if given.get("id"):
            self.places.append(str(given["id"]))
        if tag == "a" and given.get("href"):
            self.links.append(str(given["href"]))
        if tag == "img" and given.get("src"):
            self.pictures.append(str(given["src"]))
        self._in_title |= tag == "title" and not self._unread
        self._in_main |= tag == "main"
        if self._unread:
            if tag == self._unread[0]:
                self._unread.append(tag)
        elif tag in NOT_READ or (tag == "section" and CHART in str(given.get("class") or "").split()):
            self._unread.append(tag)

    def _end_line(self, tag: str) -> None:
        if tag not in IN_A_LINE:
            self.words.append(" ")

    def handle_endtag(self, tag: str) -> None:
        self._end_line(tag)
        if self._unread and tag == self._unread[0]:
            self._unread.pop()
        if tag == "title":
            self._in_title = False
        if tag == "main":
            self._in_main = False

    def handle_data(self, data: str) -> None:
        if self._in_title:
            self.title.append(data)
        elif self._in_main and not self._unread:
            self.words.append(data)
