"""Limits of the team that cannot be what was meant: a share of more than all the oil."""

from __future__ import annotations

from collections.abc import Iterator

from bevelbook import Finding, Reader, in_command, vocabulary
from bevelbook.formulas.oil_limits import limit_share_in_words

_LIMITS = """
SELECT l.id, l.kind, l.value, d.label AS diff FROM limits l LEFT JOIN diffs d ON d.id = l.diff
ORDER BY l.created_at, l.id
"""


def check(reader: Reader) -> Iterator[Finding]:
    """Of the limits that apply: the last of each kind, for a diff or for all."""
    last = {(limit["kind"], limit["diff"]): limit for limit in reader.rows(_LIMITS)}
    for (kind, diff), limit in last.items():
        if kind in vocabulary.SHARE_LIMITS and limit["value"] > 1.0:
            yield Finding(
                code="limit_over_all_oil",
                severity="caution",
                words=f"the limit of {kind} is {limit_share_in_words(limit['value'])} of the oil, more than all of it: "
                "no loss ever reaches it",
                remedy=f"Correct it: 'bevelbook record limit {limit['id']} {in_command('value=5 %')}'.",
                subject_table="limits",
                subject_id=limit["id"],
                subject_label=f"limit for {diff}" if diff else "limit for all diffs",
            )
