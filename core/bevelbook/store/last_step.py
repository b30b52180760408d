"""The last step of the schema that this version knows: a file below ``steps/`` for each."""

from __future__ import annotations

from pathlib import Path
from typing import Final

STEPS: Final = Path(__file__).parent / "steps"
LAST_STEP: Final = sum(one.suffix == ".sql" for one in STEPS.iterdir())
