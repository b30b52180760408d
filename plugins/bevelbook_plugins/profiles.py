"""The profiles for sheets in other languages than English, so that ``import --profile`` finds them by name."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from bevelbook import hookimpl

if TYPE_CHECKING:
    from bevelbook import Profile


@hookimpl
def bevelbook_profiles() -> Iterable[Profile]:
    from bevelbook import language_profiles

    return language_profiles()
