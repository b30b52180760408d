"""Pictures for tests, constructed: four corners of different colours, in every format, with whatever beside them."""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterator
from io import BytesIO
from typing import Any, Final

from PIL import Image

Colour = tuple[int, int, int]
RED, GREEN, BLUE, YELLOW = (255, 0, 0), (0, 255, 0), (0, 0, 255), (255, 255, 0)
WIDTH_PX, HEIGHT_PX = 64, 32
FORMATS: Final = ("JPEG", "PNG", "WEBP", "GIF", "TIFF")


def corners() -> Image.Image:
    """Red at row 0 and column 0, green at the end of row 0, blue at the end of column 0, yellow across."""
    image = Image.new("RGB", (WIDTH_PX, HEIGHT_PX))
    half = (WIDTH_PX // 2, HEIGHT_PX // 2)
    for colour, place in ((RED, (0, 0)), (GREEN, (half[0], 0)), (BLUE, (0, half[1])), (YELLOW, half)):
        image.paste(colour, (*place, place[0] + half[0], place[1] + half[1]))
    return image


def as_file(image: Image.Image, format_: str = "PNG", **more: Any) -> bytes:
    """The bytes of a picture as a file of this format."""
    out = BytesIO()
    image.save(out, format_, **more)
    return out.getvalue()


def opened(jpeg: bytes) -> Image.Image:
    """A kept picture, read again by Pillow."""
    image = Image.open(BytesIO(jpeg))
    image.load()
    return image


def colour_at(image: Image.Image, place: tuple[int, int]) -> Colour:
    """The colour at a place; of a picture in black and white too."""
    found = image.convert("RGB").getpixel(place)
    assert isinstance(found, tuple)
    return found[0], found[1], found[2]


def is_near(found: Colour, wanted: Colour, within: int = 12) -> bool:
    """Whether two colours are the same but for what JPEG changes."""
    return all(abs(one - other) <= within for one, other in zip(found, wanted, strict=True))


def png(width: int, height: int, bits: int, colour_type: int, rows: bytes, *chunks: tuple[bytes, bytes]) -> bytes:
    """A PNG file put together by ISO/IEC 15948: signature, IHDR, other chunks, IDAT, IEND, each with its CRC-32."""
    header = struct.pack(">IIBBBBB", width, height, bits, colour_type, 0, 0, 0)
    found = [(b"IHDR", header), *chunks, (b"IDAT", zlib.compress(rows)), (b"IEND", b"")]
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data)) for name, data in found
    )


def segments(jpeg: bytes) -> Iterator[tuple[int, bytes]]:
    """The marker segments of a JPEG file up to its end (ITU-T T.81, annex B): code of the marker, and its data.

    The data of EOI is what follows it in the file.
    """
    assert jpeg[:2] == b"\xff\xd8", "SOI"
    place = 2
    while True:
        assert jpeg[place] == 0xFF
        code = jpeg[place + 1]
        if code == 0xD9:
            yield code, jpeg[place + 2 :]
            return
        length = int.from_bytes(jpeg[place + 2 : place + 4], "big")
        yield code, jpeg[place + 4 : place + 2 + length]
        place += 2 + length
        if code == 0xDA:
            while not (jpeg[place] == 0xFF and jpeg[place + 1] not in (0x00, *range(0xD0, 0xD8))):
                place += 1
