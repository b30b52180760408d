"""A picture is turned upright however the camera was held."""

from __future__ import annotations

import pytest
from pictures.shots import BLUE, GREEN, RED, YELLOW, as_file, colour_at, corners, is_near, opened
from PIL import Image

from bevelbook.pictures.prepare import prepared_picture
from bevelbook.pictures.redrawn import ORIENTATION

STORED = {
    1: ("top", "left"),
    2: ("top", "right"),
    3: ("bottom", "right"),
    4: ("bottom", "left"),
    5: ("left", "top"),
    6: ("right", "top"),
    7: ("right", "bottom"),
    8: ("left", "bottom"),
}
"""For each value of the tag Orientation (0x0112): on which side of what was seen the 0th row is, and the 0th column.

CIPA DC-008-2019 (Exif 2.32), 4.6.4 A, "Orientation".
"""
OPPOSITE = {"top": "bottom", "bottom": "top", "left": "right", "right": "left"}


def corner(*sides: str) -> tuple[int, int]:
    """Whether a corner is at the right and at the bottom, as 0 or 1."""
    return int("right" in sides), int("bottom" in sides)


@pytest.mark.parametrize("value", STORED)
@pytest.mark.parametrize("format_", ["JPEG", "PNG", "WEBP", "TIFF"])
def test_each_of_the_eight_ways_to_hold_a_camera_is_seen_upright(format_: str, value: int) -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = value
    more = {"quality": 95} if format_ in ("JPEG", "WEBP") else {}
    kept = prepared_picture(as_file(corners(), format_, exif=exif, **more))
    row, column = STORED[value]
    wanted = {
        corner(row, column): RED,
        corner(row, OPPOSITE[column]): GREEN,
        corner(OPPOSITE[row], column): BLUE,
        corner(OPPOSITE[row], OPPOSITE[column]): YELLOW,
    }
    for jpeg, width, height in (
        (kept.jpeg, kept.width_px, kept.height_px),
        (kept.thumbnail, kept.thumbnail_width_px, kept.thumbnail_height_px),
    ):
        image = opened(jpeg)
        assert image.size == (width, height)
        assert (width > height) is (row in ("top", "bottom"))
        for (right, bottom), colour in wanted.items():
            place = (
                width - 1 - width // 6 if right else width // 6,
                height - 1 - height // 6 if bottom else height // 6,
            )
            assert is_near(colour_at(image, place), colour, 25), (value, place)


@pytest.mark.parametrize("value", [0, 9, 65535])
def test_a_value_that_the_standard_does_not_have_turns_nothing(value: int) -> None:
    exif = Image.Exif()
    exif[ORIENTATION] = value
    kept = prepared_picture(as_file(corners(), "JPEG", exif=exif))
    assert is_near(colour_at(opened(kept.jpeg), (4, 4)), RED, 25)
