"""The team's own limits: one for a diff goes before one for all."""

from __future__ import annotations

from bevelbook import Reader


class Limits:
    """Limits by kind and diff; of several for the same, the one noted last."""

    def __init__(self, reader: Reader) -> None:
        rows = reader.rows("SELECT kind, diff, value FROM limits ORDER BY created_at, id")
        self._values: dict[tuple[str, str | None], float] = {(row["kind"], row["diff"]): row["value"] for row in rows}

    def value(self, kind: str, diff: str) -> float | None:
        """The limit of a kind that holds for a diff; 0 counts as none."""
        return self._values.get((kind, diff)) or self._values.get((kind, None)) or None
