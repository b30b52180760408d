"""The facts that follow from the records about each build, each diff in a run, and each diff.

Nobody writes these: the package ``facts`` works them out from the records in the transaction that changes them, and
they can be worked out again at any time. They are never exported.
"""

from __future__ import annotations

from bevelbook.declare.fields import choice, date, quantity, record, reference, text, whole
from bevelbook.declare.vocabulary import (
    FILL_STATES,
    LIMIT_OWNERS,
    POSITIONS,
    SHELF_WORDS,
    VERDICTS,
)


@record
class BuildFacts:
    build: str = reference("build", "The build")
    diff: str = reference("diff", "Its diff")
    runs: float = quantity("runs", "Runs of it: those written down, and what a weighing knows beyond them", minimum=0)
    opened_on: str | None = date("Day it was first opened", default=None)
    opened_for: str | None = text("Why it was opened", default=None)
    leak_place: str | None = text("Where it was wet when it was opened", default=None)
    viscosity_cst: float | None = quantity(
        "cSt", "Viscosity of its oil at 25 °C, of the bottle where it was measured", default=None
    )
    viscosity_from: str | None = text("Where that viscosity comes from", default=None)
    oil_in_g: float | None = quantity(
        "g", "Oil put in: as noted, else filled minus dry mass; in a top-up the last fill before it", default=None
    )
    weighed_as: str | None = text(
        "Mass basis used for it: the one with the worst loss, else weighed last, then most often", default=None
    )
    weighings: int | None = whole("Masses on that basis", default=None)
    first_mass_g: float | None = quantity("g", "First mass on that basis, of several the one that counts", default=None)
    last_mass_g: float | None = quantity("g", "Last mass on that basis, of several the one that counts", default=None)
    weighed_at_runs: float | None = quantity("runs", "Runs at the last mass", default=None)
    loss_g: float | None = quantity("g", "First minus last mass", default=None)
    loss_uncertainty_g: float | None = quantity("g", "Uncertainty of that (k = 2), from the scales alone", default=None)
    caution_g: float | None = quantity("g", "Loss from which to look at it", default=None)
    stop_g: float | None = quantity("g", "Loss from which it is not run", default=None)
    limit_from: str | None = choice(LIMIT_OWNERS, "Owner of the second limit", default=None)
    leak: str | None = choice(
        VERDICTS, "Verdict on the oil lost; empty where it was not weighed twice on one basis", default=None
    )
    good_until_runs: float | None = quantity(
        "runs", "Last weighing that was certainly under the limit to look at it", default=None
    )
    bad_from_runs: float | None = quantity(
        "runs", "First weighing that was certainly over the limit to look at it", default=None
    )
    weighings_apart: str | None = text(
        "Weighings after the same runs that the scale does not explain and no further one settles", default=None
    )
    stop_low_runs: float | None = quantity(
        "runs",
        "Runs since the build at which the limit of oil lost is reached at the soonest, if it goes on like this",
        default=None,
        minimum=0,
    )
    stop_runs: float | None = quantity(
        "runs", "The same by the middle; empty where the loss per run may be none", default=None, minimum=0
    )
    stop_high_runs: float | None = quantity("runs", "The same at the latest", default=None, minimum=0)


@record
class RunDiffFacts:
    run_diff: str = reference("run_diff", "The diff in the run")
    build: str = reference("build", "The build")
    runs_before: float = quantity("runs", "Runs of the build before this one", minimum=0)
    runs_after: float = quantity("runs", "Runs of the build after this one", minimum=0)
    fill_state: str = choice(FILL_STATES, "Whether the diff was full")
    viscosity_at_diff_temperature_cst: float | None = quantity(
        "cSt", "Viscosity of the oil at the measured temperature of the diff", default=None
    )


@record
class DiffFacts:
    diff: str = reference("diff", "The diff")
    current_build: str | None = reference("build", "Its last build", default=None)
    position: str | None = choice(POSITIONS, "Where it ran last, else where it usually runs", default=None)
    word: str = choice(SHELF_WORDS, "Its word on the shelf")
    reasons: str | None = text("Why it is not ready, the gravest reason first", default=None)
    seal_uses: int | None = whole("Most uses of a seal in its last build", default=None)
    limit_runs: float | None = quantity("runs", "The team's limit of runs between openings", default=None)
    limit_loss_g: float | None = quantity("g", "The team's limit of oil lost in grams", default=None)
    limit_loss_share: float | None = quantity("1", "The team's limit of oil lost as a share", default=None)
    limit_seal_uses: float | None = quantity("1", "The team's limit of uses of a seal", default=None)
    limit_fill_window_g: float | None = quantity("g", "The team's tolerance of a fill, either way", default=None)
