"""Temperatures of a diff after a run that cannot be as written down: out of order, or colder than the air."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, Final

from bevelbook import Finding, Reader, in_command

_READ: Final = """
SELECT x.id, r.label || ' ' || coalesce(x.position, b.label) AS label, x.diff_temp_c, x.after_run_s,
       x.second_diff_temp_c, x.second_after_run_s, r.air_temp_c
FROM run_diffs x JOIN runs r ON r.id = x.run JOIN builds b ON b.id = x.build
WHERE (x.second_after_run_s IS NOT NULL AND x.second_after_run_s <= x.after_run_s)
   OR (x.second_diff_temp_c IS NOT NULL AND x.diff_temp_c IS NULL)
   OR min(coalesce(x.diff_temp_c, x.second_diff_temp_c), coalesce(x.second_diff_temp_c, x.diff_temp_c)) < r.air_temp_c
ORDER BY r.run_on, x.id
"""


def check(reader: Reader) -> Iterator[Finding]:
    for row in reader.rows(_READ):
        first, second = row["after_run_s"], row["second_after_run_s"]
        if row["second_diff_temp_c"] is not None and row["diff_temp_c"] is None:
            yield _finding(
                row, "readings_out_of_order", "has a second temperature of the diff but no first one", "diff_temp=..."
            )
        elif first is not None and second is not None and second <= first:
            when = "at the time of" if second == first else "before"
            yield _finding(
                row,
                "readings_out_of_order",
                f"has a second temperature of the diff from {when} the first one ({second / 60:g} and {first / 60:g} "
                "min after the run)",
                "after_run=... second_after_run=...",
            )
        for name in ("diff_temp_c", "second_diff_temp_c"):
            value, air = row[name], row["air_temp_c"]
            if value is not None and air is not None and value < air:
                yield _finding(
                    row,
                    "diff_colder_than_air",
                    f"has a diff at {value:g} °C, colder than the air at {air:g} °C",
                    f"{name.removesuffix('_c')}=...",
                )
                break


def _finding(row: dict[str, Any], code: str, words: str, fields: str) -> Finding:
    return Finding(
        code=code,
        severity="worth a look",
        words=words,
        remedy=f"Check what was written at the track, and correct it: "
        f"'bevelbook record run-diff {in_command(row['label'])} {fields}'.",
        subject_table="run_diffs",
        subject_id=row["id"],
        subject_label=row["label"],
    )
