"""Sources. Every constant, limit, formula and reference row has one."""

from __future__ import annotations

from typing import Final, Literal, NamedTuple, Self, get_args

from bevelbook.declare.errors import DeclarationError

SourceKind = Literal[
    "standard",
    "handbook",
    "paper",
    "data sheet",
    "measurement",
    "computed",
    "common practice",
    "from memory",
    "proposal",
]
KINDS: tuple[str, ...] = get_args(SourceKind)
THIS_PROJECT: Final = "this project"
UNDATED: Final = "undated"
UNNAMED: Final = "publisher not named"
"""Used where a copy does not name the publisher."""
WAYS_OF_SEEING: Final = ("read", "quoted in", "from memory", "not opened", "worked out here", "common practice")
"""How a source was seen: ``seen`` starts with one of these and may add more."""
FIXED_BY_KIND: Final[dict[str, tuple[str, str]]] = {
    "computed": (THIS_PROJECT, "worked out here"),
    "proposal": (THIS_PROJECT, "worked out here; nobody published it"),
    "common practice": ("no publisher", "common practice, no source"),
    "from memory": (UNNAMED, "from memory, unverified"),
}
"""Publisher and ``seen`` of the kinds that need not name them."""


class _Parts(NamedTuple):
    kind: SourceKind
    title: str
    publisher: str
    year: str
    where: str
    seen: str


class Source(_Parts):
    """Where a number or a rule comes from.

    ``publisher`` is who published it, ``year`` when (``undated`` if the copy does not say), ``where`` the page,
    table, equation or section (may be empty), ``seen`` how it was seen, starting with one of ``WAYS_OF_SEEING``.
    What this project computes (``computed``) or proposes (``proposal``), a fact of the trade without a source (``common
    practice``) and what is only remembered (``from memory``) need neither publisher nor year.
    Raises DeclarationError for an unknown kind and for missing parts.
    """

    __slots__ = ()

    def __new__(
        cls, kind: SourceKind, title: str, publisher: str = "", year: str = "", where: str = "", seen: str = ""
    ) -> Self:
        if kind not in KINDS:
            raise DeclarationError(
                "a source of unknown kind", code="source_kind", found=str(kind), wanted=", ".join(KINDS)
            )
        if kind in FIXED_BY_KIND:
            usual_publisher, usual_seen = FIXED_BY_KIND[kind]
            publisher, year, seen = publisher or usual_publisher, year or UNDATED, seen or usual_seen
        parts = {"title": title, "publisher": publisher, "year": year, "how it was seen": seen}
        missing = [name for name, text in parts.items() if not text.strip()]
        if missing:
            raise DeclarationError(
                f"a source leaves out {' and '.join(missing)}",
                code="source_incomplete",
                found=title or None,
                remedy=f"Where a copy does not say, write {UNNAMED!r} or {UNDATED!r}.",
            )
        if not seen.startswith(WAYS_OF_SEEING):
            raise DeclarationError(
                "a source does not begin with how it was seen",
                code="source_seen",
                found=f"{title}: {seen}",
                wanted=", ".join(WAYS_OF_SEEING),
            )
        return super().__new__(cls, kind, title, publisher, year, where, seen)

    def cite(self) -> str:
        """One line for help, pages and test messages."""
        if self.kind == "common practice":
            return f"{self.title} (common practice, no source)"
        if self.kind == "proposal":
            return f"{self.title} (our own figure)"
        if self.kind == "computed":
            return f"{', '.join(part for part in (self.title, self.where) if part)} ({self.publisher}, {self.seen})"
        unknown = (UNNAMED, UNDATED) if self.kind == "from memory" else ()
        parts = [part for part in (self.publisher, self.title, self.where, self.year) if part not in unknown]
        return f"{', '.join(part for part in parts if part)} ({self.seen})"
