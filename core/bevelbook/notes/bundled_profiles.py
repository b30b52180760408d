"""The profiles that come with the project: what people write above a sheet in other languages than English."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import Final

from bevelbook.notes.profiles import profile_from, read_profile
from bevelbook.notes.settings import Settings
from bevelbook.reading.yaml_text import OpensBytes
from bevelbook.reference import read_text

LANGUAGES: Final = {"german": "de", "french": "fr", "spanish": "es", "italian": "it", "japanese": "ja"}
"""The profiles by the name of their language, each with its code of ISO 639-1, which names the file."""


def profile_called(name: OpensBytes) -> Settings:
    """The settings of a profile's file, or, if there is no such file, of the language that has this name or code.

    Raises InputError as :func:`~bevelbook.notes.profiles.read_profile` does.
    """
    code = LANGUAGES.get(str(name).casefold(), str(name).casefold())
    if code not in LANGUAGES.values() or not isinstance(name, Path) or name.exists():
        return read_profile(name).of_a_team()
    return language_profile(code)


@cache
def language_profile(code: str) -> Settings:
    """The profile of a language by its code: read once, since a sheet whose headings nobody knows asks for all of them.
    Nobody changes it."""
    return profile_from(read_text("bevelbook.notes", f"languages/{code}.yaml"), f"{code}.yaml")
