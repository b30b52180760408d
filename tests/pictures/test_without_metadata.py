"""Nothing but the picture is kept: no place, device, number, comment, profile, small copy, or film behind it."""

from __future__ import annotations

import pytest
from pictures.shots import as_file, corners, opened, png, segments
from PIL import Image
from PIL.PngImagePlugin import PngInfo

from bevelbook.pictures.prepare import PreparedPicture, prepared_picture

SECRETS = (
    b"SERIAL-0815-4711",
    b"LENS-SECRET",
    b"OWNER-SECRET",
    b"COMMENT-SECRET",
    b"XMP-SECRET",
    b"IPTC-SECRET",
    b"PROFILE-SECRET",
    b"PLACE-SECRET",
    b"TRAILER-SECRET",
    b"THUMBNAIL-SECRET",
)
GPS, EXIF_PART = 0x8825, 0x8769
"""Pointers to the parts of Exif with the place and with the camera (CIPA DC-008, 4.6.3)."""
FRAME = {0xC0, 0xC4, 0xDA, 0xDB, 0xD9}
"""SOF0, DHT, SOS, DQT and EOI: what a baseline picture needs (ITU-T T.81, table B.1)."""
JFIF = 0xE0


def whole_exif() -> Image.Exif:
    """The place, the number of the camera and of its lens, and who owns it."""
    exif = Image.Exif()
    exif[0x010F] = "OWNER-SECRET"
    exif[0x8298] = "OWNER-SECRET"
    camera = exif.get_ifd(EXIF_PART)
    camera[0xA431] = "SERIAL-0815-4711"
    camera[0xA435] = "LENS-SECRET"
    place = exif.get_ifd(GPS)
    place[1], place[2] = "N", (51.0, 2.0, 3.0)
    place[27] = b"PLACE-SECRET"
    return exif


def with_everything() -> bytes:
    """A JPEG file with each kind of segment that holds something besides the picture, and with a film behind it."""
    plain = as_file(corners(), "JPEG", exif=whole_exif(), quality=95)
    segment = lambda code, data: bytes((0xFF, code)) + (len(data) + 2).to_bytes(2, "big") + data  # noqa: E731
    small = as_file(corners().resize((16, 8)), "JPEG", comment=b"THUMBNAIL-SECRET")
    extra = (
        segment(0xE1, b"http://ns.adobe.com/xap/1.0/\0<x:xmpmeta>XMP-SECRET</x:xmpmeta>"),
        segment(0xE2, b"ICC_PROFILE\0\1\1PROFILE-SECRET"),
        segment(0xED, b"Photoshop 3.0\x008BIM\x04\x04\0\0\0\0\0\x0bIPTC-SECRET"),
        segment(0xFE, b"COMMENT-SECRET"),
        segment(0xE3, small),
    )
    film = b"\0\0\0\x18ftypmp42" + b"TRAILER-SECRET" * 40
    return plain[:2] + b"".join(extra) + plain[2:] + film


def holds_only_a_picture(kept: PreparedPicture) -> None:
    for jpeg in (kept.jpeg, kept.thumbnail):
        for secret in SECRETS:
            assert secret not in jpeg, secret
        found = list(segments(jpeg))
        assert {code for code, _ in found} <= FRAME | {JFIF}
        assert [data[:5] for code, data in found if code == JFIF] == [b"JFIF\0"]
        assert found[-1] == (0xD9, b""), "nothing follows the end of the picture"
        image = opened(jpeg)
        assert not image.getexif()
        assert image.format == "JPEG"
        assert not {"exif", "icc_profile", "comment", "xmp", "photoshop", "mp"} & set(image.info)


def test_a_picture_of_a_phone_leaves_all_but_the_picture_behind() -> None:
    file = with_everything()
    for secret in SECRETS:
        assert secret in file, secret
    holds_only_a_picture(prepared_picture(file))


def test_texts_of_other_formats_stay_behind_too() -> None:
    texts = PngInfo()
    texts.add_text("Comment", "COMMENT-SECRET")
    texts.add_itxt("XML:com.adobe.xmp", "XMP-SECRET")
    exif = whole_exif()
    for file in (
        as_file(corners(), "PNG", pnginfo=texts, exif=exif) + b"TRAILER-SECRET",
        as_file(corners(), "WEBP", exif=exif, xmp=b"XMP-SECRET"),
        as_file(corners(), "TIFF", exif=exif, description="COMMENT-SECRET"),
        as_file(corners(), "GIF", comment=b"COMMENT-SECRET"),
        png(1, 1, 8, 2, b"\0\1\2\3", (b"zTXt", b"Comment\0\0" + b"not packed")),
    ):
        holds_only_a_picture(prepared_picture(file))


def test_the_same_picture_with_other_metadata_is_the_same_picture() -> None:
    plain, other = as_file(corners(), "PNG"), as_file(corners(), "PNG", exif=whole_exif())
    first, second = prepared_picture(plain), prepared_picture(other)
    assert first.id == second.id
    assert first.came_sha256 != second.came_sha256
    assert first.jpeg == second.jpeg


@pytest.mark.parametrize("name", ["comment", "exif"])
def test_a_text_that_is_markup_stays_behind(name: str) -> None:
    evil = b"<script>alert(1)</script>"
    exif = Image.Exif()
    exif[0x010E] = evil.decode()
    more = {"comment": evil} if name == "comment" else {"exif": exif}
    kept = prepared_picture(as_file(corners(), "JPEG", **more))
    assert b"<script" not in kept.jpeg + kept.thumbnail
