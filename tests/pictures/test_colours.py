"""Colours stay what they were, whatever they were written in; what is see-through is white."""

from __future__ import annotations

import struct

import pytest
from pictures.shots import BLUE, RED, Colour, as_file, colour_at, corners, is_near, opened, png
from PIL import Image

from bevelbook.pictures.prepare import prepared_picture
from bevelbook.pictures.redrawn import FIRST_OF_MOVING, FIRST_OF_PAGES, PROFILE_LEFT_OUT

SRGB_COLUMNS = {
    "r": (0.43607, 0.22249, 0.01392),
    "g": (0.38515, 0.71687, 0.09708),
    "b": (0.14307, 0.06061, 0.71410),
}
"""XYZ of the primaries of sRGB on D50 (IEC 61966-2-1, adapted as ICC.1 wants), from memory, to 0.001."""


def profile(columns: dict[str, tuple[float, float, float]], gamma: float = 2.2) -> bytes:
    """A display profile of three columns and one curve, by ICC.1:2001-04 (6.1 the header, 6.5 the tags)."""
    fixed = lambda value: struct.pack(">i", round(value * 65536))  # noqa: E731
    xyz = lambda values: b"XYZ \0\0\0\0" + b"".join(map(fixed, values))  # noqa: E731
    curve = b"curv\0\0\0\0" + struct.pack(">IH", 1, round(gamma * 256))
    text = b"desc\0\0\0\0" + struct.pack(">I", 5) + b"test\0" + bytes(78)
    tags = [(b"desc", text), (b"cprt", b"text\0\0\0\0none\0"), (b"wtpt", xyz((0.9642, 1.0, 0.8249)))]
    tags += [(f"{name}XYZ".encode(), xyz(columns[name])) for name in "rgb"]
    tags += [(f"{name}TRC".encode(), curve) for name in "rgb"]
    place, table, data = 128 + 4 + 12 * len(tags), b"", b""
    for name, value in tags:
        value += bytes(-len(value) % 4)
        table += name + struct.pack(">II", place + len(data), len(value))
        data += value
    head = struct.pack(">I", place + len(data)) + b"\0\0\0\0\x02\x20\0\0mntrRGB XYZ " + bytes(12) + b"acsp" + bytes(28)
    head += b"".join(map(fixed, (0.9642, 1.0, 0.8249))) + bytes(48)
    return head + struct.pack(">I", len(tags)) + table + data


def kept_colour(file: bytes) -> Colour:
    kept = opened(prepared_picture(file).jpeg)
    assert kept.mode == "RGB"
    return colour_at(kept, (kept.width // 2, kept.height // 2))


def plain(mode: str, colour: int | tuple[int, ...]) -> Image.Image:
    return Image.new(mode, (16, 16), colour)


@pytest.mark.parametrize(
    ("file", "wanted"),
    [
        (as_file(plain("RGB", (200, 30, 60)), "PNG"), (200, 30, 60)),
        (as_file(plain("L", 130), "JPEG"), (130, 130, 130)),
        (as_file(plain("1", 1), "PNG"), (255, 255, 255)),
        (as_file(plain("RGB", (200, 30, 60)).quantize(4), "PNG"), (200, 30, 60)),
        (as_file(plain("RGB", (200, 30, 60)).quantize(4), "GIF"), (200, 30, 60)),
        (as_file(plain("CMYK", (255, 0, 0, 0)), "JPEG", quality=95), (0, 255, 255)),
        (as_file(plain("CMYK", (0, 0, 0, 255)), "TIFF"), (0, 0, 0)),
        (as_file(plain("CMYK", (0, 0, 0, 0)), "TIFF"), (255, 255, 255)),
    ],
)
def test_colours_of_every_mode_stay(file: bytes, wanted: Colour) -> None:
    assert is_near(kept_colour(file), wanted)


def test_lab_is_understood_without_a_profile() -> None:
    """L* 100 is white, L* 0 black, at a* = b* = 0 (CIE 1976)."""
    for lightness, grey in ((255, 255), (0, 0)):
        assert is_near(kept_colour(as_file(plain("LAB", (lightness, 128, 128)), "TIFF")), (grey, grey, grey))


@pytest.mark.parametrize(("value", "grey"), [(0, 0), (0x8000, 128), (0xFFFF, 255)])
def test_sixteen_bits_a_channel_are_brought_to_eight(value: int, grey: int) -> None:
    """PNG with 16 bits a sample, most significant byte first (ISO/IEC 15948, 7.1), grey and of three colours."""
    pixel = struct.pack(">H", value)
    for colour_type, channels in ((0, 1), (2, 3)):
        rows = (b"\0" + pixel * channels * 16) * 16
        assert is_near(kept_colour(png(16, 16, 16, colour_type, rows)), (grey, grey, grey))
    assert is_near(kept_colour(as_file(Image.new("I;16", (16, 16), value), "TIFF")), (grey, grey, grey))


def test_what_is_see_through_is_white() -> None:
    half_red = (255, 127, 127)
    assert is_near(kept_colour(as_file(plain("RGBA", (255, 0, 0, 128)), "PNG")), half_red)
    assert is_near(kept_colour(as_file(plain("RGBA", (255, 0, 0, 128)), "WEBP", lossless=True)), half_red)
    assert is_near(kept_colour(as_file(plain("LA", (0, 0)), "PNG")), (255, 255, 255))
    rows = (b"\0" + b"\0" * 16) * 16
    by_palette = png(16, 16, 8, 3, rows, (b"PLTE", bytes((255, 0, 0))), (b"tRNS", b"\0"))
    assert is_near(kept_colour(by_palette), (255, 255, 255))
    by_colour = png(16, 16, 8, 2, (b"\0" + bytes((9, 9, 9)) * 16) * 16, (b"tRNS", bytes((0, 9, 0, 9, 0, 9))))
    assert is_near(kept_colour(by_colour), (255, 255, 255))


def test_a_profile_is_followed_before_it_is_left_out() -> None:
    """With the columns of red and blue exchanged, what is written as red has to be seen as blue."""
    assert kept_colour(as_file(plain("RGB", RED), "PNG", icc_profile=profile(SRGB_COLUMNS))) == pytest.approx(
        RED, abs=8
    )
    exchanged = {"r": SRGB_COLUMNS["b"], "g": SRGB_COLUMNS["g"], "b": SRGB_COLUMNS["r"]}
    for format_ in ("PNG", "JPEG", "TIFF", "WEBP"):
        file = as_file(plain("RGB", RED), format_, icc_profile=profile(exchanged))
        assert is_near(kept_colour(file), BLUE, 20), format_
    grey = prepared_picture(as_file(plain("L", 90), "JPEG", icc_profile=profile(SRGB_COLUMNS)))
    assert grey.remarks == ()


def test_a_profile_that_is_broken_is_left_out_and_that_is_said() -> None:
    kept = prepared_picture(as_file(plain("RGB", (200, 30, 60)), "PNG", icc_profile=b"not a profile at all"))
    assert kept.remarks == (PROFILE_LEFT_OUT,)
    assert is_near(colour_at(opened(kept.jpeg), (8, 8)), (200, 30, 60))


@pytest.mark.parametrize(
    ("format_", "remark"), [("GIF", FIRST_OF_MOVING), ("WEBP", FIRST_OF_MOVING), ("TIFF", FIRST_OF_PAGES)]
)
def test_of_several_pictures_the_first_is_kept_and_that_is_said(format_: str, remark: str) -> None:
    file = as_file(plain("RGB", BLUE), format_, save_all=True, append_images=[plain("RGB", RED)])
    kept = prepared_picture(file)
    assert kept.remarks == (remark,)
    assert is_near(colour_at(opened(kept.jpeg), (8, 8)), BLUE, 20)
    assert prepared_picture(as_file(corners(), format_)).remarks == ()
