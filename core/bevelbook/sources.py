"""What a source is. No constant, limit, formula or reference row goes without one."""

from __future__ import annotations

from typing import Literal, NamedTuple, get_args

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


class Source(NamedTuple):
    """Where a number or a rule comes from.

    ``where`` is the page, table, equation or section. ``seen`` says how it was obtained when not read in the
    original. Kind ``common practice`` is a fact of the trade without a source, ``from memory`` is unverified,
    ``proposal`` is a limit of this project that nobody published.
    """

    kind: SourceKind
    title: str
    publisher: str = ""
    year: str = ""
    where: str = ""
    seen: str = ""

    def cite(self) -> str:
        """One line for help, pages and test messages."""
        if self.kind == "common practice":
            return f"{self.title} (common practice, no source)"
        if self.kind == "proposal":
            return f"{self.title} (this project's proposal)"
        parts = [part for part in (self.publisher, self.title, self.where, self.year) if part]
        text = ", ".join(parts)
        if self.kind == "from memory":
            return f"{text} (from memory, unverified)"
        return f"{text} ({self.seen})" if self.seen else text
