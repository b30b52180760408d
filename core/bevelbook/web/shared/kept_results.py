"""What calculators said of a record, as it was kept, each with its day; of those that are not loaded too."""

from __future__ import annotations

from collections.abc import Iterable
from typing import NamedTuple

from markupsafe import Markup

from bevelbook.facts.sql import Row
from bevelbook.kept_json import texts_in
from bevelbook.plugin.registry import Registry
from bevelbook.web.host.signs import with_sign
from bevelbook.web.shared.links import Linker


class ShownCalculation(NamedTuple):
    """A kept calculation on a page. Where the facts answer its question, they give its verdict and reasons."""

    title: Markup | str
    verdict: Markup
    reasons: list[str]
    day: str
    answered: bool


def shown_calculations(links: Linker, registry: Registry, kept: Iterable[Row]) -> list[ShownCalculation]:
    """Kept calculations for a page; one whose calculator is not loaded has its name in place of a title."""
    return [_shown(links, registry, row) for row in kept]


def _shown(links: Linker, registry: Registry, row: Row) -> ShownCalculation:
    offered = registry.declared(row["calculator"])
    title = offered.calculator.title if offered else f"{row['calculator'].replace('-', ' ')}, which is not loaded here"
    record = links.record("calculations", row["id"], title)
    day = row["calculated_at"][:10]
    if row["answered"]:
        return ShownCalculation(record, Markup(""), [], day, True)
    return ShownCalculation(record, with_sign(row["verdict"]), list(texts_in(row["reasons"]) or ()), day, False)
