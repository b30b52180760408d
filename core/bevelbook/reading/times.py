"""Times of day, as people write them: ``14:10``, ``14.10``, ``14h10``, ``1410``, ``2:10 pm``."""

from __future__ import annotations

import re
from typing import Final

from bevelbook.declare.fields import Field
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.reading.faults import fault, is_no_value
from bevelbook.reading.labels import in_plain_signs

WANTED: Final = "a time of day such as 14:05 or 2:05 pm"
_WRITTEN: Final = late_pattern(
    r"(?P<hour>\d{1,2})(?:\s*[:.h]\s*(?P<minute>\d{2})|(?P<joined>\d{2}))?(?::\d{2})?\s*(?P<half>[ap]\.?\s?m\.?)?",
    re.IGNORECASE,
)


def read_time(field: Field, text: str) -> str | None:
    """A time of day as ``14:05``; seconds are left out. None if the text says that there is none.

    Hours count from 0 to 23, with am or pm from 1 to 12. Raises ReadingError.
    """
    plain = in_plain_signs(text)
    if is_no_value(plain):
        return None
    found = _WRITTEN.fullmatch(plain)
    half = found["half"][0].lower() if found and found["half"] else None
    minute = (found["minute"] or found["joined"]) if found else None
    if found is None or (minute is None and half is None):
        raise fault(field, "time_unparseable", "not a time of day", text, wanted=WANTED)
    hour, minutes = int(found["hour"]), int(minute or 0)
    in_range = 1 <= hour <= 12 if half else hour <= 23
    if not in_range or minutes > 59:
        raise fault(field, "time_unparseable", "there is no such time of day", text, wanted=WANTED)
    if half:
        hour = hour % 12 + (12 if half == "p" else 0)
    return f"{hour:02}:{minutes:02}"
