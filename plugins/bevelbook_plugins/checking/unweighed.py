"""Builds that were found closed again at the track, of which nothing was weighed."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from bevelbook import Finding, Reader, about_build, in_command, oldest_first, vocabulary

_BUILDS: Final = f"""
SELECT b.id AS build, b.label, b.built_on FROM builds b
WHERE json_extract(b.entered, '$.built_on') = '{vocabulary.CLOSED_AGAIN}'
  AND coalesce(b.oil_mass_g, b.filled_mass_g - b.dry_mass_g) IS NULL
ORDER BY b.diff, {oldest_first("b")}
"""


def check(reader: Reader) -> Iterator[Finding]:
    for build in reader.rows(_BUILDS):
        yield about_build(
            build,
            "masses_unknown",
            "worth a look",
            f"was closed again by {build['built_on']} without a mass written down: how much oil is in it is not known",
            "If any is known, add it: "
            f"'bevelbook record build {in_command(build['label'])} dry_mass=... oil_mass=...'. "
            "Else weigh it closed now, to see a loss from here on.",
        )
