"""The profile beside a file: what a person answered when it was imported, so that the next import need not ask."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Final

from bevelbook.notes.corrected_lines import is_of_rejects, stem_of_rejects
from bevelbook.notes.headings import IGNORED, Column, Heading
from bevelbook.notes.note_columns import BY_NAME
from bevelbook.notes.profiles import profile_text, read_profile
from bevelbook.notes.settings import Settings

_ENDING: Final = ".profile.yaml"


def profile_beside(path: Path) -> Path:
    """Where the answers for a file are: ``season.profile.yaml`` for season.csv, and for its rejected rows too."""
    return path.with_name(f"{stem_of_rejects(path.name)}{_ENDING}")


def found_beside(path: Path) -> Path | None:
    """The profile beside a file, if there is one; for rejected rows of one sheet or table, that of the whole file."""
    names = [stem_of_rejects(path.name)]
    while is_of_rejects(path.name) and "." in names[-1]:
        names.append(names[-1].rpartition(".")[0])
    found = (path.with_name(f"{name}{_ENDING}") for name in names)
    return next((one for one in found if one.is_file()), None)


def settings_beside(path: Path, profile: Path) -> Settings:
    """The settings of the profile beside a file. Raises InputError for a profile with a fault.

    For a file of rejected rows without what says where and how its rows were in the sheet.
    """
    settings = read_profile(profile)
    return settings.for_rejects() if is_of_rejects(path.name) else settings


def write_beside(path: Path, settings: Settings, headings: Mapping[str, str]) -> Path:
    """Write a profile with these settings beside a file; returns where it is.

    ``headings`` are the headings as written, by those of ``settings.columns``. A file of that name with other content
    is left alone: a number is added. Raises OSError where it cannot be written.
    """
    columns = tuple(
        Column(place, headings.get(heading, heading), BY_NAME[name] if name != IGNORED else None)
        for place, (heading, name) in enumerate(settings.columns.items())
    )
    heading = Heading(0, columns, tuple(column.heading for column in columns), ",")
    text = f"# What was answered when {path.name} was imported.\n{profile_text(heading, settings, settings.units)}"
    target = free = profile_beside(path)
    number = 1
    while free.exists() and free.read_bytes() != text.encode():
        number += 1
        free = target.with_name(f"{target.stem}-{number}{target.suffix}")
    free.write_bytes(text.encode())
    return free
