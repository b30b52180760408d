"""What ``bevelbook check`` looks at by itself: masses, fills, wear, oils, temperatures and scales."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from bevelbook import hookimpl

if TYPE_CHECKING:
    from bevelbook import Finding, Reader


@hookimpl
def bevelbook_checks(reader: Reader) -> Iterator[Finding]:
    from bevelbook_plugins.checking import fills, limits, masses, oils, readings, scales, unweighed, wear

    for one in (wear, limits, fills, masses, unweighed, oils, readings, scales):
        yield from one.check(reader)
