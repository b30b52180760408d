"""A site with entry over the small team, as a paired phone sees it."""

from __future__ import annotations

import re
from collections.abc import Iterator
from html import unescape
from pathlib import Path

import pytest
from browser_team import make_team
from entered import EnteredSite, entered_site

from bevelbook.plugin.registry import Registry

PairedSite = EnteredSite


def words(page: str) -> str:
    """The text of a page."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


@pytest.fixture
def paired_site(tmp_path: Path, registry: Registry) -> Iterator[PairedSite]:
    """Asked by a phone that ana holds, over the database ``team.db``; ``paired_site.team`` has the ids."""
    with entered_site(make_team(tmp_path / "team.db"), registry, tmp_path / "settings") as site:
        yield site
