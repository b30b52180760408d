"""Ids: time-ordered ones for records made by hand, content ids for rows that can be imported twice; and the clock."""

from __future__ import annotations

from functools import lru_cache
from typing import Final

_MS_BITS: Final = 48
_DAYS_REMEMBERED: Final = 4096


def new_id() -> str:
    """A time-ordered id, UUID version 7 (RFC 9562, section 5.7)."""
    from uuid_utils import uuid7

    return str(uuid7())


def new_id_of(instant: str) -> str:
    """The same for a record of an earlier instant (``2026-05-03T12:10:00.000Z``): it sorts among those of its time.

    >>> new_id_of("2026-05-03T12:10:00.000Z")[:13], new_id()[14]
    ('019dedbe-d5c0', '7')
    """
    from datetime import datetime

    at_ms = round(datetime.fromisoformat(instant.replace("Z", "+00:00")).timestamp() * 1000)
    time = f"{max(0, at_ms) & ((1 << _MS_BITS) - 1):012x}"
    return f"{time[:8]}-{time[8:]}{new_id()[13:]}"


def id_ms(row_id: str) -> int | None:
    """The moment in a time-ordered id, in milliseconds since 1970; None for any other id.

    >>> id_ms("019dedbe-d5c0-7000-8000-000000000000"), id_ms("b-1")
    (1777810200000, None)
    """
    if len(row_id) != 36 or row_id[14] != "7":
        return None
    try:
        return int(row_id[:8] + row_id[9:13], 16)
    except ValueError:
        return None


def is_content_id(row_id: str) -> bool:
    """Whether an id was made from a record's content (UUID version 8), not from the time of writing."""
    return row_id[14:15] == "8"


def is_content_id_sql(column: str) -> str:
    """The same asked of a column in SQL."""
    return f"(substr({column}, 15, 1) = '8')"


def content_id(day: str, content: str, occurrence: int = 0) -> str:
    """An id that the same content always gets, UUID version 8 (RFC 9562, section 5.8).

    The first 48 bits are the day (``2026-05-03``) in milliseconds as in version 7, so that ids sort by date; the rest
    is a hash of the content and of its number among equal contents.
    """
    hashed = _hashed(f"{occurrence}\0{content}", 10)
    return _as_version_8(bytearray(day_ms(day).to_bytes(6, "big") + hashed))


def id_of_hash(at_ms: int, content: str) -> str:
    """An id of that moment, in milliseconds since 1970, and a hash of a text, UUID version 8."""
    hashed = _hashed(content, 10)
    return _as_version_8(bytearray(at_ms.to_bytes(6, "big") + hashed))


def _hashed(text: str, octets: int) -> bytes:
    from hashlib import blake2b

    return blake2b(text.encode(), digest_size=octets).digest()


def _as_version_8(octets: bytearray) -> str:
    octets[6] = octets[6] & 0x0F | 0x80
    octets[8] = octets[8] & 0x3F | 0x80
    text = octets.hex()
    return f"{text[:8]}-{text[8:12]}-{text[12:16]}-{text[16:20]}-{text[20:]}"


def id_within(owner: str, content: str, number: int) -> str:
    """An id for what belongs to another record, UUID version 8: the same for the same owner, content and number.

    Its first 48 bits are those of the owner's id, so that it sorts beside its owner.
    """
    hashed = _hashed(f"{owner}\0{number}\0{content}", 16)
    octets = bytearray(hashed)
    time_bits = owner.replace("-", "")[:12]
    if len(time_bits) == 12 and all(sign in "0123456789abcdef" for sign in time_bits):
        octets[:6] = bytes.fromhex(time_bits)
    return _as_version_8(octets)


@lru_cache(_DAYS_REMEMBERED)
def day_ms(day: str) -> int:
    """Milliseconds of a day since 1970 in 48 bits; days before count as 1970."""
    from datetime import date

    return max(0, (date.fromisoformat(day).toordinal() - 719163) * 86_400_000) & ((1 << _MS_BITS) - 1)


def now_utc() -> str:
    """The current time as the database stores it."""
    from datetime import UTC, datetime

    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")


def file_id(sha256: str, part: str = "") -> str:
    """The id of a kept file: the beginning of its hash, short because every row of the file has it.

    ``part`` is the part of the file that was imported, empty for all of it; each part has an id of its own.

    >>> file_id("9f86d081884c7d65"), file_id("9f86d081884c7d65", "sheet K-01")
    ('9f86d081884c7d65', 'c3485afd3f29516a')
    """
    return _hashed(f"{sha256}\0{part}", 8).hex() if part else sha256[:16]
