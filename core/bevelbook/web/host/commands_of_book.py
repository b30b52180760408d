"""Commands to copy on a page: each names the file of the page's book, without its folder: no page holds a path."""

from __future__ import annotations

import re
import sys
from collections.abc import Mapping, Sequence
from html import escape, unescape
from typing import Any, Final

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.display.unbroken import PIECES_OF_PAGE
from bevelbook.manual.commands import COMMANDS
from bevelbook.manual.commands_left_out import TAGS_FROM, without_writing
from bevelbook.manual.commands_to_copy import DATABASE, naming
from bevelbook.web.host.datasette_state import state_of, team_database

IN_ITS_FOLDER: Final = "Type the commands shown here in the folder of the book, on the laptop that has it."
"""Said where a command names the file of the book, which has no folder on a page."""
_ANY_COMMAND: Final = late_pattern(rf"\bbevelbook (?:{'|'.join(COMMANDS)})\b")
_ELSEWHERE: Final = "data-elsewhere"
_WITHIN_LINE: Final = late_pattern(r"</?(?:a|code)\b[^>]*>", re.IGNORECASE)
_TAG: Final = late_pattern(f"[{chr(TAGS_FROM)}-{chr(sys.maxunicode)}]")
_EMPTIED: Final = "\ue004"
"""Stands where nothing is left of a text."""
_EMPTY: Final = late_pattern(
    rf"<(?P<name>span|p|li|ul|ol)\b[^>]*>[\s{_EMPTIED}]*{_EMPTIED}[\s{_EMPTIED}]*</(?P=name)>|(?:<br>\s*)+{_EMPTIED}"
)


def naming_book(datasette: Any, database: str | None, page: str) -> str:
    """A page of HTML on which each command for this laptop names the file of one of our databases, and which says once
    where such a command is typed.

    Without the commands that write where the page is of a copy for others. Naming none where it is of no database, and
    in a copy that is read without a server: whoever reads it may have no file.
    """
    if is_for_readers(datasette, database):
        page = for_readers(page)
    named = naming_on_page(page, _named(datasette, database))
    return page if named == page else _saying_where(named)


def is_for_readers(datasette: Any, database: str | None) -> bool:
    """Whether those who read the pages of a database cannot write to it: of a copy without a server, of an edition."""
    state = state_of(datasette)
    return state.copy is not None or (database is not None and state.edition_words(database) is not None)


def naming_book_in_lines(datasette: Any, database: str | None, lines: Sequence[str]) -> list[str]:
    """The same for lines that a script shows on a page: where one names the book, a further line says where that is
    typed."""
    options = _named(datasette, database)
    named = [naming(line, options) for line in lines]
    return named if named == list(lines) else [*named, IN_ITS_FOLDER]


def naming_book_in_words(datasette: Any, database: str | None, words: str) -> str:
    """The same for a line: where it names the book, it ends with where that is typed."""
    return " ".join(naming_book_in_lines(datasette, database, (words,)))


def command_naming_book(datasette: Any, database: str | None, command: str) -> str:
    """A command that names the file of the book, for words that say themselves where it is typed."""
    return naming(command, _named(datasette, database))


def _named(datasette: Any, database: str | None) -> dict[str, str]:
    """The file of a database without its folder, as an option; empty where none is to be named."""
    team = None if database is None or state_of(datasette).copy else team_database(datasette, database)
    return {} if team is None else {DATABASE: team.is_at.name}


def _saying_where(page: str) -> str:
    """A page that says in its foot where its commands are typed; at its end where it has no foot."""
    end = next(one for one in ("</footer>", "</body>", "") if one in page)
    before, _, after = page.rpartition(end) if end else (page, "", "")
    return f"{before}<p>{IN_ITS_FOLDER}</p>{end}{after}"


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
    return text if said == plain else _escaped(said)


def for_readers(page: str) -> str:
    """A page of HTML without the commands that write, and without what was only about one.

    >>> for_readers("<li>Open it.<br><span>Note it: <code>bevelbook record opening</code></span></li>")
    '<li>Open it.<br><span>Note it</span></li>'
    >>> for_readers("<li>Open it.<br><span>&#39;bevelbook check --rebuild&#39; works it out.</span></li>")
    '<li>Open it.</li>'
    """
    if not _ANY_COMMAND.search(page):
        return page
    made: list[str] = []
    begin = 0
    for tag in PIECES_OF_PAGE.finditer(page):
        if not _WITHIN_LINE.fullmatch(tag[0]):
            made += [_left_of(page[begin : tag.start()]), tag[0]]
            begin = tag.end()
    made.append(_left_of(page[begin:]))
    whole, count = "".join(made), 1
    while count and _EMPTIED in whole:
        whole, count = _EMPTY.subn(_EMPTIED, whole)
    return whole.replace(_EMPTIED, "")


def _left_of(text: str) -> str:
    """A piece of text of a page for readers, with the tags within it; a letter that stands for nothing where all of it
    is gone."""
    if "bevelbook " not in text:
        return text
    tags = _WITHIN_LINE.findall(text)
    numbers = iter(range(len(tags)))
    plain = unescape(_WITHIN_LINE.sub(lambda _: chr(TAGS_FROM + next(numbers)), text))
    said = without_writing(plain)
    if said == plain:
        return text
    with_tags = _TAG.sub(lambda found: tags[ord(found[0]) - TAGS_FROM], _escaped(said))
    return with_tags if said.strip() else _EMPTIED


def _escaped(text: str) -> str:
    return escape(text, quote=False).replace("'", "&#39;").replace('"', "&#34;")
