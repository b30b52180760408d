"""Another program writes to a book between two forms: neither takes itself for the only one."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from web.entry.conftest import PairedSite, words

from bevelbook.store.ids import new_id

IDEA = "/team/-/enter/idea"
WRITES = (
    "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); "
    "c.execute(\"UPDATE ideas SET noted_on = '2026-05-03'\"); c.commit(); c.close()"
)
"""A program that writes and closes: SQLite then removes the write-ahead log, unless another connection is there."""


def written_by_another(path: Path) -> None:
    subprocess.run([sys.executable, "-c", WRITES, str(path)], check=True, timeout=60)


def test_a_program_that_closes_the_book_leaves_the_log_that_the_pages_read(paired_site: PairedSite) -> None:
    log = paired_site.team.path.with_name(f"{paired_site.team.path.name}-wal")
    for number in range(3):
        page = paired_site.send(IDEA, {"key": new_id(), "text": f"idea {number}"})
        assert f"idea {number}" in words(page)
        paired_site.post("/team/-/enter/take-back", {"entry": paired_site.rows("SELECT max(id) FROM entries")[0][0]})
        inode = log.stat().st_ino
        written_by_another(paired_site.team.path)
        assert log.exists() and log.stat().st_ino == inode, number
        assert paired_site.get(IDEA).status_code == 200
