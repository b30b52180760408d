"""A dry mass that differs from the last one of its diff by more than a noted change: said at once, and by check."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator

from bevelbook.display.begun import begun
from bevelbook.display.days import day_in_words
from bevelbook.facts.dry_mass import DryMass, DryMassChange, dry_mass_change, dry_mass_changes, dry_mass_of
from bevelbook.facts.newest_builds import Among, all_builds
from bevelbook.physics.shim_mass import shim_mass_g
from bevelbook.plugin.check import Finding, about_build
from bevelbook.reports.dry_mass_hint import THIN_SHIM_MM, dry_mass_hint


def dry_mass_findings(connection: sqlite3.Connection, among: Among = all_builds) -> Iterator[Finding]:
    """Every such dry mass."""
    bore, outside, thickness = THIN_SHIM_MM
    shim = f"a {bore:g} x {outside:g} x {thickness:g} mm steel shim is {shim_mass_g(*THIN_SHIM_MM):.3f} g"
    for one in dry_mass_changes(connection, among=among):
        if one.is_seen:
            yield about_build(
                one._asdict(),
                "dry_mass_changed",
                "worth a look",
                f"{one.mass_g:.2f} g dry, {one.before_label} had {one.before_g:.2f} g: {_change(one)} {_beside(one)} "
                f"(these readings can show {one.seen_g:.3f} g); {shim}",
                f"{_to_count(one)}; if it is right, {_if_right(one)}.",
            )


def dry_mass_line(connection: sqlite3.Connection, build: str) -> str | None:
    """The same at the moment of weighing, for one build (by id): ``0.02 g heavier than on 3 May``; None if alike."""
    one = dry_mass_change(connection, build)
    if one is None or not one.is_seen:
        return None
    day = day_in_words(one.before_on, beside=one.built_on)
    hint = dry_mass_hint(connection, build)
    part = f": {hint.suspects[0].mass_words}" if hint is not None and hint.suspects else ""
    return (
        f"{one.mass_g:.2f} g dry is {_change(one)} than on {day} ({one.before_label}: {one.before_g:.2f} g), "
        f"{_beside(one)}. {_to_count(one)}{part}."
    )


def holding_line(connection: sqlite3.Connection, build: str) -> str | None:
    """For a build (by id) without a dry mass of its own: the one that goes on holding; None where none does."""
    found = dry_mass_of(connection, build)
    return None if found.mass_g is None or found.is_own else _in_words(found)


def last_dry_mass_line(connection: sqlite3.Connection, build: str) -> str:
    """The dry mass that holds for a build (by id), or why none does; empty where its diff was never weighed dry."""
    found = dry_mass_of(connection, build)
    return "" if found.mass_g is None and found.is_never else _in_words(found)


def _in_words(found: DryMass) -> str:
    if found.mass_g is None:
        return begun(found.words)
    return f"Dry {found.mass_g:.2f} g: {found.words}"


def _change(one: DryMassChange) -> str:
    return f"{abs(one.change_g):.2f} g {'heavier' if one.change_g > 0 else 'lighter'}"


def _beside(one: DryMassChange) -> str:
    return f"more than {one.noted} explains" if one.noted else "with nothing noted as changed"


def _if_right(one: DryMassChange) -> str:
    return "say what was on the scale, for both" if one.noted else "note what was changed"


def _to_count(one: DryMassChange) -> str:
    if one.change_g < 0:
        return "Count shims, gaskets and pins against the build before"
    return "Count shims, and look for old oil left in"
