"""What a ± means: one that is printed is two standard uncertainties wide, and one typed without its k is taken so.

Source: JCGM 100:2008, 2.3.5 and 6.2.1: an expanded uncertainty is k times the standard uncertainty, and k is stated.
"""

from __future__ import annotations

from typing import Final

COVERAGE_K: Final = 2.0
"""The k of every ± that is printed, and of one that is typed without."""
WITH_K: Final = f"(k = {COVERAGE_K:g})"
"""Behind every ± that is printed."""
TAKEN_AS: Final = f"taken as k = {COVERAGE_K:g}, as printed here"
"""Beside a ± that was typed without its k."""
EXAMPLE: Final = f"12.40 +/- 0.02 g {WITH_K}"
"""A number with its uncertainty, as it is typed."""
IN_WORDS: Final = (
    f"{EXAMPLE} is the uncertainty as it is printed here, two standard uncertainties; (k = 1) is one; "
    f"without its k it is {TAKEN_AS}"
)
"""For help and forms."""
