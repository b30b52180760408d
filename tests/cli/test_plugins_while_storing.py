"""A record that is stored is not lost with a plugin that ends its process: kept results are worked out in another."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from failing_plugins import Bench, plugin

from bevelbook.plugin import registry as registries


@pytest.mark.parametrize("ends", ["__import__('os')._exit(0)", "__import__('os').kill(__import__('os').getpid(), 9)"])
def test_the_record_stays_and_the_plugin_is_named(
    ends: str, bevelbook: Callable[..., Any], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(registries, "_installed", lambda: ())
    bench = Bench(bevelbook, tmp_path / "plugins", tmp_path / "team.db")
    bench.folder.mkdir()
    (bench.folder / "bad.py").write_text(plugin("bad", compute=ends), encoding="utf-8")
    for words in ("new", "record diff label=rear-a"):
        assert bench.command(*words.split()).code == 0
    done = bench.command(*["record", "build", "diff=rear-a", "built_on=2026-05-03", "dry_mass=12.4"])
    assert done.code == 1
    assert "the records are kept; not worked out for rear-a/1" in done.err
    assert "it ended in the middle of its work" in done.err
    assert "calc bad --all build' works it out" in " ".join(done.err.split())
    assert bench.labels() == ["rear-a/1"]
    assert bench.kept() == []
    with sqlite3.connect(bench.db) as connection:
        assert connection.execute("PRAGMA integrity_check").fetchone() == ("ok",)
    connection.close()
