"""A served page as a file of the copy: links lead to files, and what needs a server is left out."""

from __future__ import annotations

from collections.abc import Callable
from html import escape
from html.parser import HTMLParser
from typing import Final

Attributes = list[tuple[str, str | None]]
Leads = Callable[[str], str | None]
"""The address of a file, from the page that it is written on, for an address there; None where no file has it."""

_NEEDS_SERVER: Final = frozenset({"form", "iframe", "object", "embed"})
"""Left out with all inside."""
STAYS: Final = "site-search"
"""The form of the search in the page, which sends nothing."""


class _Rewriting(HTMLParser):
    """Writes out what it reads, letter by letter where nothing changes."""

    def __init__(self, leads: Leads) -> None:
        super().__init__(convert_charrefs=False)
        self._leads = leads
        self.written: list[str] = []
        self._links: list[bool] = []
        """Of each link that is open, whether it was kept."""
        self._left_out: list[str] = []
        """The element that is left out, and those of its name inside it."""

    def handle_starttag(self, tag: str, attrs: Attributes) -> None:
        if self._left_out:
            if tag == self._left_out[0]:
                self._left_out.append(tag)
            return
        if tag in _NEEDS_SERVER and dict(attrs).get("id") != STAYS:
            self._left_out.append(tag)
            return
        if tag == "script" and self._led(dict(attrs).get("src")) is None:
            self._left_out.append(tag)
            return
        self.written.append(self._start(tag, attrs))

    def handle_startendtag(self, tag: str, attrs: Attributes) -> None:
        if not self._left_out:
            self.written.append(self._start(tag, attrs))

    def handle_endtag(self, tag: str) -> None:
        if self._left_out:
            if tag == self._left_out[0]:
                self._left_out.pop()
            return
        if tag == "a" and self._links and not self._links.pop():
            return
        self.written.append(f"</{tag}>")

    def handle_data(self, data: str) -> None:
        self._as_it_is(data)

    def handle_entityref(self, name: str) -> None:
        self._as_it_is(f"&{name};")

    def handle_charref(self, name: str) -> None:
        self._as_it_is(f"&#{name};")

    def handle_decl(self, decl: str) -> None:
        self._as_it_is(f"<!{decl}>")

    def _as_it_is(self, text: str) -> None:
        if not self._left_out:
            self.written.append(text)

    def _start(self, tag: str, attrs: Attributes) -> str:
        """A beginning as it is to be written; empty for one that is left out alone."""
        given = dict(attrs)
        if tag == "a":
            led = self._led(given.get("href"))
            self._links.append(led is not None)
            return "" if led is None else _tag(tag, [*_without(attrs, "href", "rel"), ("href", led)])
        if tag == "link":
            led = self._led(given.get("href")) if given.get("rel") == "stylesheet" else None
            return "" if led is None else _tag(tag, [("rel", "stylesheet"), ("href", led)])
        if tag in ("script", "img"):
            led = self._led(given.get("src"))
            return "" if led is None else _tag(tag, [("src", led), *_without(attrs, "src", "srcset", "sizes")])
        return self.get_starttag_text() or ""

    def _led(self, address: str | None) -> str | None:
        return self._leads(address) if address else None


def _without(attrs: Attributes, *names: str) -> Attributes:
    return [one for one in attrs if one[0] not in names]


def _tag(tag: str, attrs: Attributes) -> str:
    given = "".join(f" {name}" if value is None else f' {name}="{escape(value)}"' for name, value in attrs)
    return f"<{tag}{given}>"


def rewritten(html: str, leads: Leads) -> str:
    """The page with each address changed to what it ``leads`` to; where that is nothing, the words of a link stay
    without it, and a script or a picture goes.

    >>> rewritten('<p><a href="/a">there</a> <a href="/b">gone</a><form><p>no</p></form></p>', {"/a": "a.html"}.get)
    '<p><a href="a.html">there</a> gone</p>'
    """
    writing = _Rewriting(leads)
    writing.feed(html)
    writing.close()
    return "".join(writing.written)
