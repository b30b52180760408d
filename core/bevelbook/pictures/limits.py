"""How large a picture may come, and how large it is kept. All figures are our own."""

from __future__ import annotations

from typing import Final

LARGEST_FILE_BYTES: Final = 25_000_000
MOST_PIXELS: Final = 100_000_000
LONG_SIDE_PX: Final = 2_000
"""The long side of what is kept: a groove in an outdrive is still seen."""
AIM_BYTES: Final = 400_000
"""What a kept picture should not be larger than; a busy one is, at the lowest quality."""
QUALITIES: Final = (90, 84, 78, 72, 66, 60)
"""Tried one after the other until the picture is small enough; the last one is the floor."""
THUMBNAIL_SIDE_PX: Final = 320
THUMBNAIL_BYTES: Final = 30_000
"""A small picture is smaller than this."""
THUMBNAIL_QUALITIES: Final = (80, 70, 60, 50, 40, 30, 20)

READABLE_WORDS: Final = "JPEG, PNG, WebP, GIF or TIFF"
LIMIT_WORDS: Final = (
    f"A picture may have up to {LARGEST_FILE_BYTES // 1_000_000} MB and "
    f"{MOST_PIXELS // 1_000_000} million pixels: {READABLE_WORDS}."
)
"""To be said beforehand."""
