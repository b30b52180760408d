"""The outcome of examining a plugin, kept in the user's cache folder by what the plugin was when it was examined.

Each outcome is a file of its own, written aside and moved into place: two processes at once do no harm. Where the
folder cannot be written, the outcome is kept for as long as the process runs.
"""

from __future__ import annotations

import json
import os
import sys
from contextlib import suppress
from hashlib import sha256
from pathlib import Path
from threading import get_ident
from time import time
from typing import Any, Final, NamedTuple

from bevelbook import __version__
from bevelbook.examining.target import Target
from bevelbook.store.closed_file import is_own, make_closed_folder, write_closed

EXAMINED_AS: Final = 1
"""Raised where examining finds more or less than before: all plugins are then examined once more."""
SLOW_KEPT_S: Final = 3600.0
"""What took too long may have done so because the computer was busy: after that time it is tried again."""
KEPT_DAYS: Final = 180
"""Outcomes that nobody asked for in that time are cleared away. Our own figure."""
_DAY_S: Final = 86_400
_SEEN_AGAIN_DAYS: Final = 30
_kept_here: Final[dict[str, str]] = {}


class ExaminedOutcome(NamedTuple):
    """What is left out of a plugin; among which plugins that holds, None where among any; and until when, in seconds
    since 1970, None where for as long as it is kept."""

    whole: str | None
    calculators: dict[str, str]
    among: str | None = None
    until: float | None = None


def version_of(target: Target) -> str:
    """What a plugin is now: its files, the version of its package, ours, and Python's."""
    told_apart = sha256()
    for part in (EXAMINED_AS, __version__, sys.version_info[:2], target.plugin, target.file, target.version):
        told_apart.update(f"{part}\0".encode())
    for file in target.files:
        told_apart.update(f"{file}\0".encode())
        with suppress(OSError):
            told_apart.update(sha256(Path(file).read_bytes()).digest())
    return told_apart.hexdigest()[:40]


def kept_outcome(version: str) -> ExaminedOutcome | None:
    """The outcome of a version of a plugin, None where it is not known."""
    text = _kept_here.get(version)
    if text is None:
        file = _file_of(version)
        try:
            if not is_own(file):  # somebody else may say of a plugin that nothing is wrong with it
                return None
            text = file.read_text(encoding="utf-8")
            if time() - file.stat().st_mtime > _SEEN_AGAIN_DAYS * _DAY_S:
                os.utime(file)
        except (OSError, ValueError):
            if text is None:
                return None
    return _outcome_of(text)


def keep_outcome(version: str, outcome: ExaminedOutcome) -> None:
    """Keep an outcome for the next start, and clear away those that nobody asked for in a long time."""
    text = json.dumps(outcome._asdict())
    file = _file_of(version)
    aside = file.with_name(f"{file.name}.{os.getpid()}-{get_ident()}")
    try:
        make_closed_folder(file.parent)
        write_closed(aside, text.encode())
        aside.replace(file)
    except OSError:
        _kept_here[version] = text
        with suppress(OSError):
            aside.unlink()
        return
    _clear_away(file.parent)


def folder() -> Path:
    """The folder of the outcomes."""
    from platformdirs import user_cache_path

    return user_cache_path("bevelbook", appauthor=False) / "examined"


def _file_of(version: str) -> Path:
    return folder() / f"{version}.json"


def _outcome_of(text: str) -> ExaminedOutcome | None:
    try:
        held: dict[str, Any] = json.loads(text)
        whole, among, until = held["whole"], held["among"], held["until"]
        calculators = {f"{name}": f"{reason}" for name, reason in held["calculators"].items()}
        is_over = until is not None and until < time()
        if all(isinstance(one, str | None) for one in (whole, among)) and not is_over:
            return ExaminedOutcome(whole, calculators, among, until)
    except (ValueError, TypeError, LookupError, AttributeError):
        pass
    return None


def _clear_away(kept: Path) -> None:
    long_ago = time() - KEPT_DAYS * _DAY_S
    with suppress(OSError):
        for file in kept.iterdir():
            with suppress(OSError):
                if file.stat().st_mtime < long_ago:
                    file.unlink()
