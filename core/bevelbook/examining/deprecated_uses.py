"""What a plugin uses that is to go, by its text: a remark for each line."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import suppress
from pathlib import Path

from bevelbook.examining.flaw import Flaw
from bevelbook.plugin.api import deprecated_in


def flaws_of_deprecated(files: Iterable[Path]) -> Iterator[Flaw]:
    """A remark for each line that uses something deprecated; a file that cannot be read has a flaw of its own."""
    for file in files:
        with suppress(OSError, ValueError, SyntaxError):
            for use in deprecated_in(file.read_text(encoding="utf-8")):
                what = f"{use.what.name} is deprecated since {use.what.since} and goes in {use.what.gone_in}"
                yield Flaw("deprecated", what, f"Write {use.what.instead} instead.", str(file), use.line)
