"""What was noted as changed from one build of a diff to the next: new parts, shims, seals, gasket, grease."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import NOT_SAID

_COMPARED: Final = {"gasket": "another gasket", "grease": "other grease", "parts_on_pan": "other parts on the scale"}
"""Columns of a build whose change counts where both builds have them."""


OTHER_SHIMS: Final = "other shims"


class PartChange(NamedTuple):
    """One change in words; ``has_a_mass``: the dry mass may differ by it. A new seal of the same kind weighs alike."""

    words: str
    has_a_mass: bool = True


class ChangedParts:
    """The parts that were noted, of the builds of one diff (by id) or of all."""

    def __init__(self, connection: sqlite3.Connection, diff: str | None = None) -> None:
        of = "" if diff is None else "builds b CROSS JOIN"
        its = "" if diff is None else "ON t.build = b.id WHERE b.diff = ?"
        given = () if diff is None else (diff,)
        cursor = connection.cursor()
        cursor.row_factory = None
        self._shims: dict[str, list[tuple[Any, ...]]] = {}
        for build, *shim in cursor.execute(
            f"SELECT t.build, t.place, t.thickness_mm, coalesce(t.pieces, 1) FROM {of} build_shims t {its} "
            "ORDER BY 2, 3, 4, t.id",
            given,
        ):
            self._shims.setdefault(build, []).append(tuple(shim))
        self._new: dict[str, list[str]] = {}
        for build, part, place, condition in cursor.execute(
            f"SELECT t.build, t.part, t.place, t.condition FROM {of} build_parts t {its} ORDER BY 2, 3, t.id", given
        ):
            if condition == "new":
                self._new.setdefault(build, []).append(" ".join(filter(None, ("new", part, place))))
        self._seals: dict[str, dict[str, tuple[str | None, str | None]]] = {}
        for build, place, seal, condition in cursor.execute(
            f"SELECT t.build, t.place, t.seal, t.condition FROM {of} seal_fittings t {its} ORDER BY t.id", given
        ):
            self._seals.setdefault(build, {})[place or NOT_SAID] = (seal, condition)

    def between(self, builds: Sequence[Mapping[str, Any]]) -> list[PartChange]:
        """What changed from the first to the last of one diff's builds, oldest first.

        A row has the columns ``build`` (its id), gasket, grease and parts_on_pan.
        """
        return [change for earlier, later in pairwise(builds) for change in self._of(earlier, later)]

    def _of(self, earlier: Mapping[str, Any], later: Mapping[str, Any]) -> list[PartChange]:
        old, new = earlier["build"], later["build"]
        found = [PartChange(words) for words in self._new.get(new, ())]
        if new in self._shims and self._shims[new] != self._shims.get(old, []):
            found.append(PartChange(OTHER_SHIMS))
        before = self._seals.get(old, {})
        for place, (seal, condition) in self._seals.get(new, {}).items():
            was = before.get(place, (None, None))[0]
            if seal is not None and was is not None and seal != was:
                found.append(PartChange(f"another seal, {place}"))
            elif condition == "new":
                found.append(PartChange(f"new seal, {place}", has_a_mass=False))
        for column, words in _COMPARED.items():
            if earlier[column] is not None and later[column] is not None and earlier[column] != later[column]:
                found.append(PartChange(words))
        return found
