"""How a page is declared: its name, its address, the table whose rows it shows, its place in the navigation; and how
one that writes is."""

from __future__ import annotations

from collections.abc import Awaitable, Callable
from typing import Any, Final, NamedTuple

from bevelbook.web.host.arguments import Takes

Answer = Callable[[Any, Any], Awaitable[Any]]
"""A function of the request and the Datasette."""
OF_DATABASE: Final = r"^/(?P<database>[^/]+)/-/"
"""The beginning of the address of every page."""
ROW: Final = r"/(?P<row>[^/]+)"
ENTER: Final = "enter"
"""The step of the address below which all pages are that write, and no other."""

NAME: Final = r"/(?P<name>[^/]+)"
NAME_OR_NONE: Final = rf"({NAME})?"
TOPIC_OR_NONE: Final = r"(/(?P<topic>.+))?"


class NavigationEntry(NamedTuple):
    """The words of a page in the navigation, and its place there; lower places come first."""

    words: str
    place: int


class Page(NamedTuple):
    """A page of a database, at ``/DATABASE/-/NAME``, answered by ``answer``, rendered by ``bevelbook_NAME.html``.

    ``below`` is the pattern of what follows the name. ``shows`` is the table whose rows have this page instead of
    Datasette's. ``elsewhere`` are other addresses, as whole patterns, each with its function. ``in_copy`` is whether it
    stands in a copy that is read without a server: only what needs no answer to a form. ``takes`` are the arguments of
    its address; any other is refused.
    """

    name: str
    answer: Answer
    below: str = ""
    shows: str | None = None
    navigation: NavigationEntry | None = None
    elsewhere: tuple[tuple[str, Answer], ...] = ()
    in_copy: bool = False
    takes: Takes = ()

    @property
    def template(self) -> str:
        """The file name of the template."""
        return f"bevelbook_{self.name}.html"

    @property
    def route(self) -> tuple[str, Answer]:
        """The pattern of the address with the function."""
        return f"{OF_DATABASE}{self.name}{self.below}$", self.answer


class EntryPage(NamedTuple):
    """A page at ``/DATABASE/-/enter/NAME``, answered by ``answer``, rendered by ``bevelbook_enter_NAME.html``.

    ``below`` is the pattern of what follows the name. ``most_file_bytes`` is what it takes of the files of one form;
    without it, forms with files are refused. ``takes`` are the arguments of its address.
    """

    name: str
    answer: Answer
    below: str = ""
    most_file_bytes: int = 0
    takes: Takes = ()

    @property
    def template(self) -> str:
        """The file name of the template."""
        return f"bevelbook_enter_{self.name.replace('-', '_')}.html"

    @property
    def address(self) -> str:
        """The page's address below ``/DATABASE/-/``."""
        return f"{ENTER}/{self.name}"

    @property
    def route(self) -> tuple[str, Answer]:
        """The pattern of the address with the function."""
        return f"{OF_DATABASE}{self.address}{self.below}$", self.answer
