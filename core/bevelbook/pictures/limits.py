"""How large a picture may come, and how large it is kept. All figures are our own."""

from __future__ import annotations

from typing import Final

LARGEST_FILE_BYTES: Final = 25_000_000
MOST_PIXELS: Final = 100_000_000
"""Of a JPEG, which is made smaller while it is read: 310 MB of memory at most."""
MOST_PIXELS_OTHERWISE: Final = 30_000_000
"""Of any other picture, which is read whole: 500 MB at most."""
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

_OTHERWISE: Final = "PNG, WebP, GIF or TIFF"
READABLE_WORDS: Final = f"JPEG, {_OTHERWISE}"
LIMIT_WORDS: Final = (
    f"A picture may have up to {LARGEST_FILE_BYTES // 1_000_000} MB: JPEG with up to {MOST_PIXELS // 1_000_000} "
    f"million pixels, or {_OTHERWISE} with up to {MOST_PIXELS_OTHERWISE // 1_000_000} million."
)
"""To be said beforehand."""
