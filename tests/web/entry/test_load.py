"""Many phones that write at once while others read, with the server killed in between; at full size it is run by hand
(tests/benchmarks/bench_entry_load.py)."""

from __future__ import annotations

from pathlib import Path

from entry_load import faults_of, run_load

CLIENTS, ROWS, READERS = 8, 6, 4


def test_nothing_is_lost_or_doubled_where_the_server_is_killed(tmp_path: Path) -> None:
    """It takes more than three seconds, since the command is started twice."""
    done = run_load(tmp_path, clients=CLIENTS, rows=ROWS, readers=READERS, seed=7, runs_of_four=1, looks_for_s=1.0)
    assert faults_of(tmp_path / "book.db", done) == []
    assert len(done.keys) == CLIENTS * ROWS
    assert done.sent_again > 0
    assert done.reads > 0
