"""Builds that are said to be like themselves, like a later build, or like each other in a circle.

Such a thing is refused where it is typed. It comes into a book from an older version, from a build whose day was
corrected, and from two laptops that each said one half of it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from bevelbook.declare.in_command import command_of
from bevelbook.facts.made_like import like_faults
from bevelbook.facts.newest_builds import Among, all_builds
from bevelbook.plugin.check import Finding


def like_findings(connection: sqlite3.Connection, among: Among = all_builds) -> Iterator[Finding]:
    """A finding for each build that cannot have been made like the one that it names. It is about the diff, since
    nothing of it is over when the build is."""
    for fault in like_faults(connection, among):
        yield Finding(
            code="like_not_earlier",
            severity="worth a look",
            words=f"{fault.label} {fault.words}",
            remedy="Name the build before it that it was made like: "
            f"'{command_of('record', 'build', fault.label, 'like=...')}'; "
            f"or leave that empty: '{command_of('record', 'build', fault.label, 'like=')}'.",
            subject_table="diffs",
            subject_id=fault.diff,
            subject_label=fault.diff_label,
        )
