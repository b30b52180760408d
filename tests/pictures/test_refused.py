"""What is not a picture, is cut, is too large or of a kind that is not read: a sentence each, with its own code."""

from __future__ import annotations

import importlib.util
import struct
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pictures.shots import FORMATS, as_file, corners, png
from PIL import Image
from PIL.ImageFile import ImageFile

from bevelbook.declare.errors import InputError
from bevelbook.pictures import reader
from bevelbook.pictures.limits import LARGEST_FILE_BYTES
from bevelbook.pictures.prepare import prepared_picture

BUSY = Image.effect_noise((64, 48), 60).convert("RGB")


class WasReadError(Exception):
    """The pixels of a picture were read."""


def refused(file: bytes) -> InputError:
    with pytest.raises(InputError) as fault:
        prepared_picture(file)
    said = str(fault.value)
    assert "Nothing was stored." in said
    assert fault.value.place.field == "picture"
    return fault.value


def brand(*names: bytes) -> bytes:
    """The first box of a file by ISO/IEC 14496-12, 4.3: its length, ``ftyp``, the brand, and those it goes with."""
    data = names[0] + b"\0\0\0\0" + b"".join(names[1:])
    return struct.pack(">I", 8 + len(data)) + b"ftyp" + data + bytes(64)


@pytest.mark.parametrize(
    ("file", "code", "words"),
    [
        (b"", "no_picture_sent", "missing"),
        (b"a note, not a picture", "not_a_picture", "not a picture"),
        (bytes(5000), "not_a_picture", "JPEG, PNG, WebP, GIF or TIFF"),
        (brand(b"heic", b"mif1"), "picture_format", "HEIC"),
        (brand(b"mif1", b"heic"), "picture_format", "HEIC"),
        (brand(b"mif1", b"avif"), "picture_format", "AVIF"),
        (brand(b"avif"), "picture_format", "AVIF"),
        (brand(b"crx "), "picture_format", "RAW"),
        (brand(b"isom", b"mp42"), "picture_format", "film"),
        (b"IIU\0" + bytes(50), "picture_format", "RAW"),
        (b"%PDF-1.7 ...", "picture_format", "PDF"),
        (b"<svg xmlns='http://www.w3.org/2000/svg'><script/></svg>", "picture_format", "SVG"),
        (b"<?xml version='1.0'?>\n<svg/>", "picture_format", "SVG"),
        (b"\n<!DOCTYPE html><script>alert(1)</script>", "picture_format", "page of a browser"),
        (as_file(corners(), "BMP"), "picture_format", "BMP"),
        (b"RIFF\0\0\0\0AVI LIST", "picture_format", "film"),
    ],
)
def test_what_cannot_be_read_is_named_by_its_content(file: bytes, code: str, words: str) -> None:
    fault = refused(file)
    assert fault.code == code
    assert words in str(fault)
    if code == "picture_format":
        assert "most compatible" in str(fault)


def test_a_raw_file_that_is_built_like_a_tiff_is_not_taken_for_its_small_copy() -> None:
    """Tag 50706 is the version of a RAW file; 254 (NewSubfileType) with 330 (SubIFDs) say that page one is a copy."""
    for tags in ({50706: b"\1\4\0\0"}, {254: 1, 330: 8}):
        assert refused(as_file(corners(), "TIFF", tiffinfo=tags)).code == "picture_format"
    measured = as_file(Image.new("F", (4, 4), 0.5), "TIFF")
    assert refused(measured).code == "picture_format"


@pytest.mark.parametrize("format_", FORMATS)
def test_a_picture_that_is_cut_is_said_to_be(format_: str) -> None:
    whole = as_file(BUSY, format_)
    prepared_picture(whole)
    for share in (0.3, 0.6, 0.9):
        fault = refused(whole[: int(len(whole) * share)])
        assert fault.code == "picture_cut"
        assert "cut short or broken" in str(fault)


def test_a_file_over_the_limit_is_refused_unread() -> None:
    fault = refused(b"\xff\xd8\xff" + bytes(LARGEST_FILE_BYTES))
    assert (fault.code, "25 MB" in str(fault)) == ("picture_too_big", True)


def test_too_many_pixels_are_refused_before_any_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    """A few hundred bytes can say that they are ten thousand million pixels."""

    def load(_: ImageFile) -> Any:
        raise WasReadError

    monkeypatch.setattr(ImageFile, "load", load)
    webp = b"RIFF" + struct.pack("<I", 30) + b"WEBPVP8X" + struct.pack("<I", 10) + bytes(4)
    webp += (16383).to_bytes(3, "little") * 2
    jpeg = as_file(corners(), "JPEG")
    frame = jpeg.index(b"\xff\xc0")
    large, at_most = (jpeg[: frame + 5] + struct.pack(">HH", side, side) + jpeg[frame + 9 :] for side in (60000, 10000))
    gif = bytearray(as_file(corners(), "GIF"))
    gif[6:10] = struct.pack("<HH", 65535, 65535)
    assert "may have 100 million. Take it with fewer pixels" in str(refused(large))
    for file in (png(100_000, 100_000, 8, 2, b"\0"), webp, bytes(gif), png(6_001, 5_000, 1, 0, b"")):
        fault = refused(file)
        assert fault.code == "picture_too_many_pixels"
        assert "may have 30 million. Save it as JPEG" in str(fault)
    for file in (at_most, png(6_000, 5_000, 1, 0, b"")):
        with pytest.raises(WasReadError):
            prepared_picture(file)


def test_without_the_library_it_says_what_to_install(monkeypatch: pytest.MonkeyPatch) -> None:
    assert reader.pictures_can_be_read()
    there = importlib.util.find_spec
    monkeypatch.setattr(reader, "find_spec", lambda name: None if name == "PIL" else there(name))
    assert not reader.pictures_can_be_read()
    fault = refused(as_file(corners(), "JPEG"))
    assert fault.code == "pictures_not_readable"
    assert "bevelbook[photos]" in str(fault)


def test_nothing_but_the_room_of_pictures_needs_the_library() -> None:
    """Whether a page has a button must not load it: only what reads a picture does."""
    room = Path(reader.__file__).parent
    users = [path.name for path in room.glob("*.py") if "from PIL" in path.read_text(encoding="utf-8")]
    assert users == ["redrawn.py"]


SMALL = tuple(as_file(corners().resize((24, 16)), format_) for format_ in FORMATS)


@settings(max_examples=150)
@given(
    st.sampled_from(SMALL), st.lists(st.tuples(st.floats(0, 0.999), st.integers(0, 255)), max_size=8), st.floats(0.5, 1)
)
def test_whatever_is_broken_in_a_file_it_is_read_or_refused(
    whole: bytes, changed: list[tuple[float, int]], share: float
) -> None:
    file = bytearray(whole)
    for place, value in changed:
        file[int(place * len(file))] = value
    try:
        prepared_picture(bytes(file[: int(len(file) * share)]))
    except InputError as fault:
        assert fault.code in {"picture_cut", "not_a_picture", "picture_format", "picture_too_many_pixels"}
