"""The photographs of a record, a build, a diff or a bottle, newest first, each with what it hangs on."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.records import BY_NAME
from bevelbook.records.photos import HUNG_ON
from bevelbook.store.files_elsewhere import ERASED_FILES, NOBODY, SOMEBODY, STORED_BY


class Photograph(NamedTuple):
    """A photograph. ``hung_on`` is the kind of record that it hangs on, ``hung_on_id`` which one; ``picture`` the id of
    what it shows, and the sizes are those of the picture and of the small one, in pixels. ``written_at`` and
    ``written_by`` say when it was stored last and by whom."""

    id: str
    picture: str
    piece: str
    side: str | None
    taken_on: str
    taken_by: str | None
    note: str | None
    hung_on: str
    hung_on_id: str
    build: str | None
    build_label: str | None
    diff: str | None
    diff_label: str | None
    bottle: str | None
    bottle_label: str | None
    width_px: int
    height_px: int
    thumbnail_width_px: int
    thumbnail_height_px: int
    written_by: str | None
    written_at: str
    with_whom: str | None = None
    """Who has its picture, where that is not here."""

    @property
    def words(self) -> str:
        """What is seen: ``outdrive, lid side``."""
        return ", ".join(part for part in (self.piece, self.side) if part)

    @property
    def alt(self) -> str:
        """The same with what it belongs to and the day, for who cannot see it: ``outdrive, lid side, rear-a/9,
        2026-05-03``."""
        return ", ".join(part for part in (self.words, self.build_label or self.bottle_label, self.taken_on) if part)


_BUILD_OF: Final = {"build": "build", "bottle": "NULL"} | {
    name: f"(SELECT o.build FROM {BY_NAME[name].table} o WHERE o.id = {name})"
    for name in ("opening", "build_part", "seal_fitting")
}
_HANGING: Final = {
    name: f"SELECT id AS photo, '{name}' AS hung_on, {name} AS hung_on_id, {_BUILD_OF[name]} AS build, "
    f"{'bottle' if name == 'bottle' else 'NULL'} AS bottle FROM photos WHERE {name} IS NOT NULL AND ({{which}})"
    for name in HUNG_ON
}
"""The photographs that hang on a kind of record, with the build or the bottle that they are of."""
_READ: Final = """
SELECT t.id, t.picture, t.piece, t.side, t.taken_on, who.name, t.note, h.hung_on, h.hung_on_id,
    b.id, b.label, d.id, d.label, k.id,
    (SELECT f.label FROM fluids f WHERE f.id = k.fluid) || coalesce(', ' || k.lot, ''),
    p.width_px, p.height_px, p.thumbnail_width_px, p.thumbnail_height_px, t.updated_by, t.updated_at,
    iif(EXISTS (SELECT 1 FROM picture_bytes x WHERE x.sha256 = t.picture), NULL,
        iif(t.picture IN ({erased}), '{nobody}', coalesce({stored_by}, '{somebody}')))
FROM ({owners}) h CROSS JOIN photos t ON t.id = h.photo JOIN pictures p ON p.id = t.picture
LEFT JOIN people who ON who.id = t.person
LEFT JOIN builds b ON b.id = h.build LEFT JOIN diffs d ON d.id = b.diff LEFT JOIN bottles k ON k.id = h.bottle
ORDER BY t.taken_on DESC, t.created_at DESC, t.id DESC LIMIT :most
"""


def photograph(connection: sqlite3.Connection, photo_id: str) -> Photograph | None:
    """One photograph by its id; None where there is none."""
    found = _photographs(connection, dict.fromkeys(HUNG_ON, "id = :id"), id=photo_id)
    return found[0] if found else None


def photographs_of_record(
    connection: sqlite3.Connection, kind_name: str, row_id: str, most: int | None = None
) -> list[Photograph]:
    """What hangs on just this record; nothing for a kind that carries no photographs."""
    if kind_name not in HUNG_ON:
        return []
    return _photographs(connection, {kind_name: f"{kind_name} = :id"}, most, id=row_id)


def photographs_of_build(connection: sqlite3.Connection, build_id: str, most: int | None = None) -> list[Photograph]:
    """Those of a build, of its parts and fitted seals, and of its opening."""
    return _of_builds(connection, "SELECT :id", most, id=build_id)


def photographs_of_diff(connection: sqlite3.Connection, diff_id: str, most: int | None = None) -> list[Photograph]:
    """Those of all builds of a diff."""
    return _of_builds(connection, "SELECT id FROM builds WHERE diff = :id", most, id=diff_id)


def photographs_of_bottle(connection: sqlite3.Connection, bottle_id: str, most: int | None = None) -> list[Photograph]:
    """Those of a bottle."""
    return photographs_of_record(connection, "bottle", bottle_id, most)


def same_piece(connection: sqlite3.Connection, photo: Photograph, most: int | None = None) -> list[Photograph]:
    """All photographs of the same piece on the same side of the same diff, or of the same bottle, this one too.

    Where only the bottle, the oil or the whole is seen, the side is empty in all of them.
    """
    of_piece = " AND piece = :piece AND side IS :side"
    if photo.diff is not None:
        of_diff = "SELECT id FROM builds WHERE diff = :id"
        return _of_builds(connection, of_diff, most, of_piece, id=photo.diff, piece=photo.piece, side=photo.side)
    which = {photo.hung_on: f"{photo.hung_on} = :id{of_piece}"}
    return _photographs(connection, which, most, id=photo.hung_on_id, piece=photo.piece, side=photo.side)


def _of_builds(
    connection: sqlite3.Connection, builds: str, most: int | None, more: str = "", **given: str | None
) -> list[Photograph]:
    """Those of the builds that a query gives."""
    which = {"build": f"build IN ({builds}){more}"}
    for name in ("opening", "build_part", "seal_fitting"):
        which[name] = f"{name} IN (SELECT o.id FROM {BY_NAME[name].table} o WHERE o.build IN ({builds})){more}"
    return _photographs(connection, which, most, **given)


def _photographs(
    connection: sqlite3.Connection, which: dict[str, str], most: int | None = None, **given: str | None
) -> list[Photograph]:
    """The photographs that hang on one of these kinds of record and fit the condition of that kind (SQL)."""
    owners = " UNION ALL ".join(_HANGING[name].format(which=condition) for name, condition in which.items())
    cursor = connection.cursor()
    cursor.row_factory = None
    found = cursor.execute(
        _READ.format(owners=owners, stored_by=STORED_BY, somebody=SOMEBODY, erased=ERASED_FILES, nobody=NOBODY),
        {**given, "most": -1 if most is None else most},
    )
    return [Photograph(*row) for row in found]
