"""How long a job on a diff takes the team, as somebody typed it."""

from __future__ import annotations

from bevelbook.declare.fields import choice, quantity, record, reference, text
from bevelbook.declare.vocabulary import JOBS, POSITIONS


@record
class JobTime:
    job: str = choice(JOBS, "Which job")
    minutes: float = quantity(
        "min",
        "How long it takes: 40, 40 min or 1 h; the last one written down holds",
        above=0,
        plausible=(0.5, 600),
    )
    diff: str | None = reference("diff", "Only for this diff", default=None)
    note: str | None = text("Anything else", default=None)
    waiting_minutes: float | None = quantity(
        "min",
        "Waiting that goes with it, without hands: drying, standing, resting on paper",
        default=None,
        minimum=0,
        plausible=(0, 3000),
    )
    car: str | None = reference("car", "Only in this car", default=None, followed=False)
    position: str | None = choice(POSITIONS, "Only at this place in the car", default=None)
