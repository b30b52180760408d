"""From which share of its oil lost a diff is to be looked at, and from which opened (this project's proposals)."""

from __future__ import annotations

from typing import Final

CAUTION_SHARE: Final = 0.05
STOP_SHARE: Final = 0.10
