"""Where a top-up at the bench stops: filled up again to the last fill, else the open mass and the oil added."""

from __future__ import annotations

import sqlite3
from typing import Final, NamedTuple

from bevelbook.facts.dry_mass import dry_mass_of
from bevelbook.facts.oil import FILLED_G
from bevelbook.facts.scales import noise_of
from bevelbook.formulas.fill_target import FillGiven
from bevelbook.kept_json import object_in
from bevelbook.reports.bench import JobOnBench, records_of_step
from bevelbook.reports.last_masses import CLOSED_BASES

_CARRIED: Final = "carried over from "
"""Begins what is kept beside a value that a build has from the one it is made like: nobody chose to add that oil."""


class TopUpFill(NamedTuple):
    """A top-up; masses in g, None where not known. ``last_fill_g`` is what ``label``, the build before, weighed full,
    ``mass_basis`` what was on the scale then; ``open_g`` what the diff weighed open in this job, ``added_g`` the oil
    that a person chose to add."""

    label: str
    last_fill_g: float | None
    mass_basis: str | None
    dry_g: float | None
    open_g: float | None
    added_g: float | None
    scale: str | None
    own_window_g: float | None

    @property
    def stop_g(self) -> float | None:
        """The reading to stop at."""
        if self.added_g is not None and self.open_g is not None:
            return round(self.open_g + self.added_g, 6)
        return self.last_fill_g

    def given(self, connection: sqlite3.Connection) -> FillGiven | None:
        """The same as a fill: from the dry mass, else from what the diff weighed open; None where there is no stop."""
        stop = self.stop_g
        base = next((one for one in (self.dry_g, self.open_g) if one is not None and stop and 0 < one < stop), None)
        if stop is None or base is None:
            return None
        noise = noise_of(connection, self.scale)
        return FillGiven(
            dry_mass_g=base,
            oil_mass_g=round(stop - base, 6),
            scale_step_g=noise.step_g,
            repeatability_g=noise.repeatability_g,
            fill_window_g=self.own_window_g,
        )


def top_up_fill(connection: sqlite3.Connection, job: JobOnBench) -> TopUpFill | None:
    """What is known of the top-up that a job makes; None where no build was in the diff before."""
    if job.ends is None:
        return None
    row = connection.execute(
        f"SELECT b.label, {FILLED_G}, b.mass_basis, b.scale, f.limit_fill_window_g "
        "FROM builds b LEFT JOIN diff_facts f ON f.diff = b.diff WHERE b.id = ?",
        (job.ends,),
    ).fetchone()
    label, filled, basis, scale, window = row
    chosen = connection.execute("SELECT target_oil_mass_g, entered FROM builds WHERE id = ?", (job.build,)).fetchone()
    is_carried = chosen and str((object_in(chosen[1]) or {}).get("target_oil_mass_g", "")).startswith(_CARRIED)
    added = chosen[0] if chosen and not is_carried else None
    dry = dry_mass_of(connection, job.build or job.ends).mass_g
    if dry is None:
        dry = connection.execute("SELECT dry_mass_g FROM builds WHERE id = ?", (job.ends,)).fetchone()[0]
    return TopUpFill(label, filled, basis, dry, _weighed_open(connection, job), added, scale, window)


def _weighed_open(connection: sqlite3.Connection, job: JobOnBench) -> float | None:
    """The last mass that a step of the job has stored of the open diff."""
    for key in reversed(list(job.steps)):
        for weighing in records_of_step(connection, job, key, "weighings"):
            mass, basis = connection.execute(
                "SELECT mass_g, mass_basis FROM weighings WHERE id = ?", (weighing,)
            ).fetchone()
            if basis not in CLOSED_BASES:
                return float(mass)
    return None
