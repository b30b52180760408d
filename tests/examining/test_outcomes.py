"""What is known of examined plugins is this person's own: nobody else may say of a plugin that nothing is wrong."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest

from bevelbook.examining import outcomes
from bevelbook.examining.outcomes import ExaminedOutcome, keep_outcome, kept_outcome

HARMLESS = ExaminedOutcome(None, {})


@pytest.mark.skipif(os.name != "posix", reason="the system has no such modes")
def test_it_is_closed_to_others_and_what_others_may_write_is_not_believed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = tmp_path / "cache" / "bevelbook" / "examined"
    monkeypatch.setattr(outcomes, "folder", lambda: folder)
    before = os.umask(0)
    try:
        keep_outcome("of-this", HARMLESS)
    finally:
        os.umask(before)
    kept = folder / "of-this.json"
    found = [stat.S_IMODE(one.stat().st_mode) for one in (kept, folder, *folder.parents[:2])]
    assert found == [0o600, 0o700, 0o700, 0o700]
    assert kept_outcome("of-this") == HARMLESS
    for mode in (0o620, 0o602):
        kept.chmod(mode)
        assert kept_outcome("of-this") is None
