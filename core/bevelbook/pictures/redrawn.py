"""The pixels of a picture drawn again: read by Pillow, made smaller, in sRGB on white, upright, and written as JPEG."""

from __future__ import annotations

import struct
import warnings
import zlib
from io import BytesIO
from typing import Any, Final, NamedTuple

from PIL import Image, ImageCms
from PIL.GifImagePlugin import GifImageFile
from PIL.ImageFile import ImageFile
from PIL.JpegImagePlugin import JpegImageFile
from PIL.PngImagePlugin import PngImageFile
from PIL.TiffImagePlugin import TiffImageFile
from PIL.WebPImagePlugin import WebPImageFile

from bevelbook.declare.errors import BevelbookError, InputError
from bevelbook.pictures.limits import (
    AIM_BYTES,
    LONG_SIDE_PX,
    QUALITIES,
    THUMBNAIL_BYTES,
    THUMBNAIL_QUALITIES,
    THUMBNAIL_SIDE_PX,
)
from bevelbook.pictures.prepare import PLACE, refuse_too_many_pixels, unreadable
from bevelbook.pictures.signature import Format

READERS: Final[dict[Format, type[ImageFile]]] = {
    "JPEG": JpegImageFile,
    "PNG": PngImageFile,
    "GIF": GifImageFile,
    "TIFF": TiffImageFile,
    "WebP": WebPImageFile,
}
"""Made directly, not by ``Image.open``: the number of pixels is judged here, before any of them is read."""
FIRST_OF_MOVING: Final = "This picture moves: the first one of it was kept."
FIRST_OF_PAGES: Final = "This file has several pictures: the first one was kept."
PROFILE_LEFT_OUT: Final = "Its colour profile could not be used, so its colours may be a little off."
OR_AS_JPEG: Final = ", or save it as JPEG: some ways to write TIFF are not read"

ORIENTATION: Final = 0x0112
_UPRIGHT: Final = {
    2: Image.Transpose.FLIP_LEFT_RIGHT,
    3: Image.Transpose.ROTATE_180,
    4: Image.Transpose.FLIP_TOP_BOTTOM,
    5: Image.Transpose.TRANSPOSE,
    6: Image.Transpose.ROTATE_270,
    7: Image.Transpose.TRANSVERSE,
    8: Image.Transpose.ROTATE_90,
}
"""What turns a picture upright, by the value of its tag (CIPA DC-008, Orientation)."""
_MODE_OF_PROFILE: Final = {"GRAY": "L", "RGB": "RGB", "CMYK": "CMYK", "Lab": "LAB"}
_SMALLER_PAGE, _PAGE_KIND, _COLOURS, _SUB_PAGES, _RAW_VERSION = 1, 254, 262, 330, 50706
_SENSOR_COLOURS: Final = (32803, 34892)
"""Of a TIFF: the tags of RAW files that are built like one (TIFF 6.0; ISO 12234-2 for the colours of a sensor)."""
_BROKEN: Final = (
    OSError,
    SyntaxError,
    ValueError,
    EOFError,
    LookupError,
    TypeError,
    AttributeError,
    ArithmeticError,
    RuntimeError,
    MemoryError,
    AssertionError,
    struct.error,
    zlib.error,
    Image.DecompressionBombError,
)
"""What Pillow raises for files that are not as they should be; it promises no one of them."""


class DrawnPicture(NamedTuple):
    """A picture and a small one of it, both JPEG, with width and height in pixels, and what is to be said of it."""

    jpeg: bytes
    size_px: tuple[int, int]
    thumbnail: bytes
    thumbnail_size_px: tuple[int, int]
    remarks: tuple[str, ...]


def redrawn(file: bytes, known: Format) -> DrawnPicture:
    """A picture drawn again. Raises InputError where it is cut, broken, too large or not really a picture.

    Not for two threads at once: what the library warns of is silenced for the whole process meanwhile.
    """
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture, remarks = _upright(file, known)
    except BevelbookError:
        raise
    except _BROKEN as fault:
        raise InputError(
            f"this {known} picture is cut short or broken",
            code="picture_cut",
            place=PLACE,
            remedy=f"Take or copy it again{OR_AS_JPEG if known == 'TIFF' else ''}. Nothing was stored.",
        ) from fault
    small = picture.resize(_fitting(picture.size, THUMBNAIL_SIDE_PX), Image.Resampling.LANCZOS)
    return DrawnPicture(
        _as_jpeg(picture, QUALITIES, AIM_BYTES),
        picture.size,
        _as_jpeg(small, THUMBNAIL_QUALITIES, THUMBNAIL_BYTES - 1),
        small.size,
        remarks,
    )


def jpeg_size_px(jpeg: bytes) -> tuple[int, int] | None:
    """Width and height of a JPEG as its first bytes say, without drawing it; None for what is none."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            return JpegImageFile(BytesIO(jpeg)).size
    except _BROKEN:
        return None


def _upright(file: bytes, known: Format) -> tuple[Image.Image, tuple[str, ...]]:
    """The first picture of a file in its final size, in sRGB on white and upright, with what is to be said of it."""
    image = READERS[known](BytesIO(file))
    refuse_too_many_pixels(known, *image.size)
    if isinstance(image, TiffImageFile):
        _refuse_raw(file, image)
    if isinstance(image, JpegImageFile):
        image.draft(image.mode, _fitting(image.size, LONG_SIDE_PX))
    image.load()
    picture = _in_plain_mode(image)
    picture = picture.resize(_fitting(picture.size, LONG_SIDE_PX), Image.Resampling.LANCZOS, reducing_gap=3.0)
    profile = image.info.get("icc_profile")
    picture, remarks = _on_white(picture, profile if isinstance(profile, bytes) else b"")
    turn = _UPRIGHT.get(_orientation(image))
    if turn is not None:
        picture = picture.transpose(turn)
    if _has_several(image):
        remarks = (*remarks, FIRST_OF_PAGES if known == "TIFF" else FIRST_OF_MOVING)
    picture.info = {}
    return picture, remarks


def _refuse_raw(file: bytes, image: TiffImageFile) -> None:
    """A RAW file may be built like a TIFF whose first page is only a small copy of the picture."""
    tags = image.tag_v2
    is_small_copy = bool(int(tags.get(_PAGE_KIND, 0)) & _SMALLER_PAGE) and _SUB_PAGES in tags
    if file[8:10] == b"CR" or _RAW_VERSION in tags or tags.get(_COLOURS) in _SENSOR_COLOURS or is_small_copy:
        raise unreadable("a RAW file")


def _in_plain_mode(image: Image.Image) -> Image.Image:
    """The picture with 8 bits a channel: L, RGB, CMYK, LAB, or LA and RGBA where it is see-through."""
    is_see_through = "transparency" in image.info
    match image.mode:
        case "L":
            return image.convert("LA") if is_see_through else image
        case "RGB":
            return image.convert("RGBA") if is_see_through else image
        case "LA" | "RGBA" | "CMYK" | "LAB":
            return image
        case "1":
            return image.convert("L")
        case "P":
            return image.convert("RGBA" if is_see_through else "RGB")
        case "La":
            return image.convert("LA")
        case "RGBa" | "PA":
            return image.convert("RGBA")
        case "YCbCr" | "RGBX":
            return image.convert("RGB")
        case mode if mode.startswith("I"):
            return _of_16_bits(image)
    raise unreadable("a picture of measured values, not of colours")


def _of_16_bits(image: Image.Image) -> Image.Image:
    """Grey of 16 bits in 8: the library alone would cut off what is brighter than 255."""
    values = image.convert("I")
    extrema: Any = values.getextrema()
    low, high = extrema
    if low < 0 or high > 0xFFFF:
        raise unreadable("a picture of measured values, not of colours")
    return values.point(lambda one: one * (1.0 / 257.0) + 1e-6).convert("L")


def _on_white(picture: Image.Image, profile: bytes) -> tuple[Image.Image, tuple[str, ...]]:
    """The picture in sRGB, with white behind what is see-through."""
    alpha = picture.getchannel("A") if picture.mode in ("LA", "RGBA") else None
    colours = picture.convert({"LA": "L", "RGBA": "RGB"}[picture.mode]) if alpha is not None else picture
    remarks: tuple[str, ...] = ()
    in_srgb = _by_profile(colours, profile) if profile or colours.mode == "LAB" else None
    if in_srgb is None:
        remarks = (PROFILE_LEFT_OUT,) if profile else ()
        in_srgb = colours.convert("RGB")
    ground = Image.new("RGB", in_srgb.size, "white")
    ground.paste(in_srgb, mask=alpha)
    return ground, remarks


def _by_profile(colours: Image.Image, profile: bytes) -> Image.Image | None:
    """The colours in sRGB by the profile of the picture; None where it does not fit or is broken."""
    try:
        source = ImageCms.ImageCmsProfile(BytesIO(profile) if profile else ImageCms.createProfile("LAB"))
        mode = _MODE_OF_PROFILE.get(source.profile.xcolor_space.strip())
        if colours.mode == "L" and mode == "RGB":
            colours = colours.convert("RGB")
        if colours.mode != mode:
            return None
        return ImageCms.profileToProfile(
            colours,
            source,
            ImageCms.createProfile("sRGB"),
            renderingIntent=ImageCms.Intent.RELATIVE_COLORIMETRIC,
            outputMode="RGB",
            flags=ImageCms.Flags.BLACKPOINTCOMPENSATION,
        )
    except (ImageCms.PyCMSError, ImportError, *_BROKEN):
        return None


def _orientation(image: Image.Image) -> int:
    """The value of the tag that says how the camera was held; 1, upright, where there is none that can be read."""
    try:
        value = image.getexif().get(ORIENTATION, 1)
    except _BROKEN:
        return 1
    return value if isinstance(value, int) else 1


def _has_several(image: Image.Image) -> bool:
    try:
        return bool(getattr(image, "is_animated", False))
    except _BROKEN:
        return False


def _fitting(size: tuple[int, int], long_side_px: int) -> tuple[int, int]:
    """Width and height with a long side of at most so many pixels; never larger than it was.

    >>> _fitting((4032, 3024), 2000), _fitting((300, 200), 2000), _fitting((1, 9000), 2000)
    ((2000, 1500), (300, 200), (1, 2000))
    """
    share = min(1.0, long_side_px / max(size))
    return max(1, round(size[0] * share)), max(1, round(size[1] * share))


def _as_jpeg(picture: Image.Image, qualities: tuple[int, ...], aim_bytes: int) -> bytes:
    """JPEG at the first of these qualities at which it is small enough, else at the last one."""
    encoded = b""
    for quality in qualities:
        out = BytesIO()
        picture.save(out, "JPEG", quality=quality, optimize=True)
        encoded = out.getvalue()
        if len(encoded) <= aim_bytes:
            break
    return encoded
