"""The profiles that plugins bring, by the name that is typed: languages, and what a team gave a name to."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path

from bevelbook.declare.errors import UnknownNameError
from bevelbook.notes.bundled_profiles import language_profiles
from bevelbook.notes.profiles import profile_from, read_profile
from bevelbook.notes.settings import Settings
from bevelbook.plugin.profile import Profile
from bevelbook.plugin.registry import Registry
from bevelbook.reading.yaml_text import OpensBytes
from bevelbook.reference import read_text


@cache
def settings_of(profile: Profile) -> Settings:
    """What a profile says. Raises InputError with file, line and key for what is wrong in it, OSError without it."""
    found = profile_from(read_text(profile.package, profile.file), profile.file)
    return found if profile.language else found.of_a_team()


def known_profiles(registry: Registry) -> Mapping[str, Profile]:
    """The profiles that plugins bring, by name; one that cannot be read is left out, and noted with its reason.

    Those of languages are core's own as well, and stay where the plugin that gives them is not loaded.
    """
    brought = registry.profiles(settings_of)
    taken = {*brought, *(one.language for one in brought.values())}
    own = {one.name: one for one in language_profiles() if not {one.name, one.language} & taken}
    return dict(sorted({**own, **brought}.items()))


def profile_called(name: OpensBytes, known: Callable[[], Mapping[str, Profile]]) -> Settings:
    """The settings of a profile's file or, where there is no such file, of the profile that has this name or is in the
    language with this code; ``known`` gives those.

    Raises InputError as :func:`~bevelbook.notes.profiles.read_profile` does, and UnknownNameError with near misses for
    what looks like a name.
    """
    if not isinstance(name, Path) or name.exists():
        return read_profile(name).of_a_team()
    looks_like_a_name = name.name == str(name) and not name.suffix
    return profile_named(str(name), known()) if looks_like_a_name else read_profile(name).of_a_team()


def profile_named(name: str, known: Mapping[str, Profile]) -> Settings:
    """The settings of the profile with a name, or in the language with a code. Raises UnknownNameError."""
    typed = name.strip().casefold()
    found = next((one for one in known.values() if typed in (one.name, one.language)), None)
    if found is None:
        raise UnknownNameError("profile", name, known, by_command=f"Give a file, or one of {', '.join(known)}.")
    return settings_of(found)
