"""What the tests of exports share."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import Begin
from exported import Everything, Run, make_everything


@pytest.fixture
def everything(bevelbook: Run, begin: Begin, tmp_path: Path) -> Everything:
    """A database with everything in it, and its export."""
    return make_everything(bevelbook, begin, tmp_path)
