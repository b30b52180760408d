"""Standard gravity."""

from __future__ import annotations

from typing import Final

STANDARD_GRAVITY_M_S2: Final = 9.80665
"""Exact by definition: 3rd General Conference on Weights and Measures (CGPM), 1901."""
