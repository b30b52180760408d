"""What a system says where a disk takes no more of what is written to it."""

from __future__ import annotations

import errno
from typing import Final

_NO_ROOM: Final = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG})


def is_without_room(fault: OSError) -> bool:
    """Whether the disk, the share of it that a person may use, or the largest file allowed is used up. Nothing that is
    only read meets that.

    >>> is_without_room(OSError(errno.EFBIG, "File too large")), is_without_room(OSError(errno.EIO, "I/O error"))
    (True, False)
    """
    return fault.errno in _NO_ROOM
