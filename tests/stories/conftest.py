"""What the stories share: commands typed by one person, which end well."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from conftest import Outcome

Run = Callable[..., Outcome]


@pytest.fixture
def say(bevelbook: Run, db: Path) -> Run:
    """Run a command as ana, or as somebody else, and expect it to end well."""

    def run(*words: object, by: str = "ana") -> Outcome:
        outcome = bevelbook("--db", db, "--by", by, *words)
        assert outcome.code == 0, outcome.err
        return outcome

    return run
