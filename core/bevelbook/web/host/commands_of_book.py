"""Commands to copy on a page: each names the file of the page's book, without its folder: no page holds a path."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape, unescape
from typing import Any, Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.unbroken import PIECES_OF_PAGE
from bevelbook.manual.commands import COMMANDS
from bevelbook.manual.commands_to_copy import DATABASE, naming
from bevelbook.web.host.datasette_state import state_of, team_database

_ANY_COMMAND: Final = late_pattern(rf"\bbevelbook (?:{'|'.join(COMMANDS)})\b")
_ELSEWHERE: Final = "data-elsewhere"


def naming_book(datasette: Any, database: str | None, page: str) -> str:
    """A page of HTML on which each command for this laptop names the file of one of our databases.

    As it is where the page is of none, and in a copy that is read without a server: whoever reads it may have no file.
    """
    team = None if database is None or state_of(datasette).copy else team_database(datasette, database)
    return page if team is None else naming_on_page(page, {DATABASE: team.is_at.name})


def naming_on_page(page: str, named: Mapping[str, str]) -> str:
    """A page of HTML on which each command for this laptop has the options of ``named`` that it takes and lacks.

    What is typed into or run stays as it is, as does a command in an element that is marked with ``data-elsewhere``:
    it is for another laptop.

    >>> said = '<p title="bevelbook check">See &#39;bevelbook check&#39;: <code data-elsewhere>bevelbook new</code></p>'
    >>> naming_on_page(said, {"--db": "a & b.db"})[27:80]
    'See &#39;bevelbook --db &#34;a &amp; b.db&#34; check&'
    >>> naming_on_page(said, {"--db": "a.db"}).endswith("<code data-elsewhere>bevelbook new</code></p>")
    True
    """
    if not named or not _ANY_COMMAND.search(page):
        return page
    made: list[str] = []
    end, before = 0, ""
    for tag in PIECES_OF_PAGE.finditer(page):
        made += [_piece(page[end : tag.start()], before, named), tag[0]]
        end, before = tag.end(), tag[0]
    made.append(_piece(page[end:], before, named))
    return "".join(made)


def _piece(text: str, before: str, named: Mapping[str, str]) -> str:
    """A piece of text of a page, after the tag ``before``."""
    if "bevelbook " not in text or _ELSEWHERE in before:
        return text
    plain = unescape(text)
    said = naming(plain, named)
    return text if said == plain else escape(said, quote=False).replace("'", "&#39;").replace('"', "&#34;")
