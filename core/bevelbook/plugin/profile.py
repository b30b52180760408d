"""A profile that a plugin brings: what a team, or a language, writes above the columns of its sheets."""

from __future__ import annotations

import re
from typing import Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.plugin.guard import fault_of_text, safe_repr

_NAME: Final = late_pattern(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


class Profile(NamedTuple):
    """A profile for imports that a plugin brings: a file as 'bevelbook import FILE --write-profile NEW' writes one.

    name      what is typed for it, lower-case words joined by hyphens: a language, or a team's own name
    title     for people: ``Sheets in German``
    package   the package that holds the file; of a plugin that is a single file, its folder:
              ``str(Path(__file__).parent)``
    file      the file's name
    language  the code of ISO 639-1, where it is for any team that writes in that language: it may be typed too, and no
              heading of the profile is missed in a sheet that lacks it
    """

    name: str
    title: str
    package: str
    file: str
    language: str = ""


def fault_of_profile(offer: object) -> str | None:
    """Why an object is not a usable profile, or None; what its file holds is another matter.

    >>> fault_of_profile("german")
    "'german', which is not a Profile"
    """
    if not isinstance(offer, Profile):
        return f"{safe_repr(offer)}, which is not a Profile"
    if not isinstance(offer.name, str) or not _NAME.fullmatch(offer.name):
        return f"a Profile named {safe_repr(offer.name)}: lower-case words joined by hyphens are wanted"
    for name in ("title", "package", "file"):
        if reason := fault_of_text(getattr(offer, name)):
            return f"profile {offer.name!r}, whose {name} is {reason}"
    if offer.language and not (isinstance(offer.language, str) and re.fullmatch(r"[a-z]{2,3}", offer.language)):
        return f"profile {offer.name!r} in the language {safe_repr(offer.language)}: a code such as de is wanted"
    return None
