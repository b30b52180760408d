"""What the tests of exports share."""

from __future__ import annotations

from pathlib import Path

import pytest
from exported import Everything, Run, make_everything


@pytest.fixture
def everything(bevelbook: Run, tmp_path: Path) -> Everything:
    """A database with everything in it, and its export."""
    return make_everything(bevelbook, tmp_path)
