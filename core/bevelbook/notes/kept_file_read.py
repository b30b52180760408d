"""A kept file of notes read once more, beside the database: nothing of it is written."""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path

from bevelbook.notes.importing import staging
from bevelbook.notes.read_rows import read_into
from bevelbook.notes.report import Report
from bevelbook.notes.settings import Settings
from bevelbook.notes.settling_places import reject_disagreeing
from bevelbook.notes.source import source_of
from bevelbook.notes.staging import Stage


@contextmanager
def kept_file_read(connection: sqlite3.Connection, name: str, options: str | None, held: bytes) -> Iterator[Stage]:
    """The rows of a kept file, given unpacked, as this version reads them with the options that it came with. Raises
    FileRejected for one that cannot be read any more."""
    settings = Settings(**json.loads(options)) if options else Settings()
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as beside:
        source = source_of(io.BytesIO(held), name, settings, pack=False)
        with staging(beside, Path(name), source) as stage:
            report = Report(name, dry_run=True)
            read_into(stage, source, settings, report, lambda _what, _done, _all: None)
            reject_disagreeing(stage, source, report, connection)
        yield stage
