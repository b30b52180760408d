"""A new database that begins with all that an export or another database holds."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import closing
from pathlib import Path

from bevelbook.interchange.exported_tables import exported_tables
from bevelbook.meeting.from_outside import opened_aside
from bevelbook.meeting.union import merge_into
from bevelbook.plugin.registry import Registry
from bevelbook.store.folder_aside import folder_aside
from bevelbook.store.invented_mark import is_invented
from bevelbook.store.opening import new_database, refuse_taken_name


def new_from(
    path: Path, source: Path, registry: Registry, *, tell: Callable[[str], None] = lambda _line: None
) -> tuple[Mapping[str, int], bool]:
    """Make a database with what the source holds; returns its rows by table, and whether all of it is invented.

    It is made beside its name and gets it at the end. Raises DatabaseError if the name is taken or the source cannot be
    used, InputError for what does not fit; then there is no new file.
    """
    refuse_taken_name(path)
    with opened_aside(source, tell=tell) as other, folder_aside(path.parent) as aside:
        made = aside / path.name
        with closing(new_database(made)) as connection:
            merge_into(connection, made, other, calculators=[one.calculator for one in registry.calculators.values()])
            names = [table.name for table in exported_tables()]
            rows = {name: connection.execute(f"SELECT count(*) FROM main.{name}").fetchone()[0] for name in names}
            invented = is_invented(connection)
        refuse_taken_name(path)
        made.rename(path)
    return rows, invented
