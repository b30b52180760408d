"""Commands to copy, in a text or on a page: with the database and the folder of plugins that they are for, so that a
copy opens the same ones."""

from __future__ import annotations

import re
from collections.abc import Mapping
from html import escape, unescape
from typing import Final

from bevelbook.declare.in_command import in_command
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.manual.commands import COMMANDS

DATABASE: Final = "--db"
PLUGINS: Final = "--plugins"
_WITHOUT_DATABASE: Final = frozenset({"help", "calculators", "plugin"})
_WITH_PLUGINS: Final = frozenset(
    {"calc", "calculators", "card", "check", "enter", "import", "merge", "plan", "plugin", "record", "serve"}
)
_COMMAND: Final = late_pattern(rf"(?<![^\s'(])bevelbook (?=(?P<name>{'|'.join(COMMANDS)})(?![\w-])(?P<rest>[^\n']*))")
"""A command without options before it, at the beginning of a line, after a blank, a quote or a bracket."""
_OF_OTHERS: Final = late_pattern(
    r"(?:(?<![^\s(])|^)(?:[Aa]sk (?:for|whoever)|[Hh]ave its owner|[Ww]hoever gets it)\b[^.]*"
    r"|'bevelbook [^'\n]*' (?:there|in another window)\b"
)
"""What somebody else is asked to do, for another laptop with a database of its own; and what runs already."""
_EITHER: Final = late_pattern(f"{_OF_OTHERS.pattern}|(?P<own>{_COMMAND.pattern})")
_ANY_COMMAND: Final = late_pattern(rf"\bbevelbook (?:{'|'.join(COMMANDS)})\b")
_ELSEWHERE: Final = "data-elsewhere"
_NO_TEXT: Final = late_pattern(
    r"<(?P<name>script|style|textarea|pre|title|option|svg)\b.*?</(?P=name)\s*>|<[^>]*>", re.DOTALL | re.IGNORECASE
)


def naming(text: str, named: Mapping[str, str]) -> str:
    """A text in which each command for this laptop has the options of ``named`` that it takes and lacks: ``--db`` and
    ``--plugins`` with their values.

    >>> naming("'bevelbook new' makes one; 'bevelbook help enter', 'bevelbook --db FILE new'", {"--db": "a.db"})
    "'bevelbook --db a.db new' makes one; 'bevelbook help enter', 'bevelbook --db FILE new'"
    >>> naming("Have its owner run 'bevelbook check'. 'bevelbook check' here is another thing.", {"--db": "a.db"})
    "Have its owner run 'bevelbook check'. 'bevelbook --db a.db check' here is another thing."
    >>> naming("'bevelbook new' makes one; 'bevelbook calculators', 'bevelbook serve --plugins b'", {"--plugins": "a"})
    "'bevelbook new' makes one; 'bevelbook --plugins a calculators', 'bevelbook serve --plugins b'"
    """
    if not named or "bevelbook " not in text:
        return text
    return _EITHER.sub(lambda found: _with_options(found, named) if found["own"] else found[0], text)


def _with_options(found: re.Match[str], named: Mapping[str, str]) -> str:
    """The beginning of a command, with the options that it lacks."""
    takes = {DATABASE: found["name"] not in _WITHOUT_DATABASE, PLUGINS: found["name"] in _WITH_PLUGINS}
    added = (
        f"{option} {in_command(named[option])} "
        for option in takes
        if takes[option] and option in named and not re.search(rf" {option}[ =]", found["rest"])
    )
    return f"{found[0]}{''.join(added)}"


def naming_on_page(page: str, named: Mapping[str, str]) -> str:
    """The same for the text of a page of HTML. What is typed into or run stays as it is, as does a command in an
    element that is marked with ``data-elsewhere``: it is for another laptop.

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
    for tag in _NO_TEXT.finditer(page):
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
