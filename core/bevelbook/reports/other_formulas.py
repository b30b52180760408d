"""Findings about kept results that the calculators of today did not make: one that was changed without a new version,
and one whose later version is not the one at hand."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from bevelbook.calculating.kept_otherwise import other_formula
from bevelbook.plugin.check import Finding
from bevelbook.plugin.registry import Registry
from bevelbook.store.calculation_views import calculators_kept


def other_formula_findings(connection: sqlite3.Connection, registry: Registry) -> Iterator[Finding]:
    """A finding for each calculator that is loaded and has kept results, in order of name."""
    for name in calculators_kept(connection):
        offered = registry.declared(name)
        found = other_formula(connection, offered.calculator) if offered is not None else None
        if offered is not None and found is not None:
            yield Finding(
                code="changed_without_version" if found.results else "later_version_kept",
                severity="caution" if found.results else "worth a look",
                words=found.words,
                remedy=found.remedy,
                subject_table="calculations",
                subject_id=found.row_id,
                subject_label=offered.calculator.name,
            )
