"""What is kept of a picture is large enough to see a groove, and small enough to keep hundreds."""

from __future__ import annotations

from hashlib import sha256

import pytest
from pictures.shots import as_file, corners, opened
from PIL import Image

from bevelbook.pictures.limits import AIM_BYTES, LONG_SIDE_PX, QUALITIES, THUMBNAIL_BYTES
from bevelbook.pictures.prepare import prepared_picture
from bevelbook.web.host.limits_of_sqlite import LONGEST_VALUE_BYTES


@pytest.mark.parametrize(
    ("came", "kept"),
    [((3000, 2250), (2000, 1500)), ((1500, 4000), (750, 2000)), ((300, 200), (300, 200)), ((1, 3000), (1, 2000))],
)
@pytest.mark.parametrize("format_", ["JPEG", "PNG"])
def test_the_long_side_has_two_thousand_pixels_and_nothing_is_made_larger(
    format_: str, came: tuple[int, int], kept: tuple[int, int]
) -> None:
    found = prepared_picture(as_file(Image.new("L", came, 90), format_))
    assert (found.width_px, found.height_px) == kept == opened(found.jpeg).size
    small = opened(found.thumbnail).size
    assert small == (found.thumbnail_width_px, found.thumbnail_height_px)
    assert max(small) == min(320, max(came))


def test_a_busy_picture_goes_down_to_the_floor_and_a_calm_one_stays_at_the_top() -> None:
    """Noise is the worst that a camera can give; tables of quantisation say which quality was taken."""
    noise = prepared_picture(as_file(Image.effect_noise((2000, 1200), 90), "PNG"))
    calm = prepared_picture(as_file(corners(), "PNG"))
    assert AIM_BYTES < len(noise.jpeg) < LONGEST_VALUE_BYTES
    assert len(noise.thumbnail) < THUMBNAIL_BYTES
    assert len(calm.jpeg) < AIM_BYTES

    def first_step(jpeg: bytes) -> int:
        return opened(jpeg).quantization[0][0]  # type: ignore[attr-defined, no-any-return]

    assert first_step(noise.jpeg) == _first_step(QUALITIES[-1])
    assert first_step(calm.jpeg) == _first_step(QUALITIES[0])
    assert noise.width_px == LONG_SIDE_PX


def _first_step(quality: int) -> int:
    """The first step of the table of brightness at a quality: 16 in ITU-T T.81, table K.1, scaled as is common
    practice: by 200 - 2 x quality per cent from 50 up."""
    return (16 * (200 - 2 * quality) + 50) // 100


def test_its_id_is_the_hash_of_what_is_kept() -> None:
    file = as_file(corners(), "PNG")
    found = prepared_picture(file)
    assert found.id == sha256(found.jpeg).hexdigest()
    assert found.came_sha256 == sha256(file).hexdigest()
    assert prepared_picture(file) == found
