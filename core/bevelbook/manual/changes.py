"""What has changed, version by version, from the file changes.md beside this one."""

from __future__ import annotations

import re
from importlib.resources import files
from typing import Final

from bevelbook.manual.contents import Bullets, ManualPage, Section

_BULLET: Final = "- "


def changes_page() -> ManualPage:
    """The changes, the newest version first."""
    _, *versions = re.split(r"^## ", changes_text(), flags=re.MULTILINE)
    return ManualPage(
        "changes", "Changes", "What has changed, the newest version first.", tuple(map(_of_version, versions))
    )


def changes_text() -> str:
    """The file as written: a heading ``## VERSION`` for each version, and its changes as bullets below it."""
    return files("bevelbook.manual").joinpath("changes.md").read_text(encoding="utf-8")


def _of_version(text: str) -> Section:
    title, _, rest = text.partition("\n")
    lines = re.split(rf"^{_BULLET}", rest, flags=re.MULTILINE)[1:]
    return Section(title, (Bullets(tuple(" ".join(line.replace("`", "'").split()) for line in lines)),))
