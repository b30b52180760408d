"""The invented season as a book, made once for a process: making it takes a second, a copy a millisecond."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from bevelbook.demo.make import demo
from bevelbook.plugin.registry import load
from bevelbook.store.closed_file import write_closed


def demo_book(path: Path) -> Path:
    """A book at that path as ``bevelbook demo`` leaves it, where nobody says who asks."""
    write_closed(path, _made())
    return path


@cache
def _made() -> bytes:
    with TemporaryDirectory() as folder:
        return demo(Path(folder) / "demo.db", load(), None).path.read_bytes()
