"""The profiles that come with the project: what people write above a sheet in other languages than English.

A plugin gives them to whoever asks for a profile by name, like those of others. Core reads them here by itself where no
registry is at hand: to recognise the language of a sheet, and to find days in the notes of an edition.
"""

from __future__ import annotations

from functools import cache
from typing import Final

from bevelbook.notes.profiles import profile_from
from bevelbook.notes.settings import Settings
from bevelbook.plugin.profile import Profile
from bevelbook.reference import read_text

LANGUAGES: Final = {"german": "de", "french": "fr", "spanish": "es", "italian": "it", "japanese": "ja"}
"""The profiles by the name of their language, each with its code of ISO 639-1, which names the file."""
_PACKAGE: Final = "bevelbook.notes"


def language_profiles() -> tuple[Profile, ...]:
    """The profiles of languages that come with the program."""
    return tuple(
        Profile(name, f"Sheets in {name.capitalize()}", _PACKAGE, _file_of(code), code)
        for name, code in LANGUAGES.items()
    )


@cache
def language_profile(code: str) -> Settings:
    """The profile of a language by its code: read once, since a sheet whose headings nobody knows asks for all of them.
    Nobody changes it."""
    return profile_from(read_text(_PACKAGE, _file_of(code)), f"{code}.yaml")


def _file_of(code: str) -> str:
    return f"languages/{code}.yaml"
