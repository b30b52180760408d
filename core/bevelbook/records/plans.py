"""Plans that were kept: what was to be done with each diff before an event, so that a later plan can be compared."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import choice, quantity, record, reference, text, whole
from bevelbook.declare.vocabulary import PLAN_ACTS, POSITIONS

WRITTEN_BY_A_PLAN: Final = frozenset({"plan", "plan_line"})
"""The kinds that keeping a plan writes; nobody types them."""


@record
class KeptPlan:
    event: str | None = reference("event", "The event; empty for a plan of today", default=None)
    made_at: str = text("When it was made, UTC")
    person: str | None = reference("person", "Who made it", default=None, followed=False)
    said: str = text("The whole plan as it was, as JSON")
    note: str | None = text("Anything else", default=None)


@record
class KeptPlanLine:
    plan: str = reference("plan", "The plan")
    place: int = whole("Place in the order of work, from 1", minimum=1)
    diff: str = reference("diff", "The diff")
    build: str | None = reference("build", "The build that was in it", default=None, followed=False)
    car: str | None = reference("car", "The car", default=None, followed=False)
    position: str | None = choice(POSITIONS, "Where in the car", default=None)
    act: str = choice(PLAN_ACTS, "What to do", facet=True)
    why: str | None = text("Why, in words", default=None)
    oil: str | None = text("The oil that goes in, in words", default=None)
    runs_planned: float | None = quantity("runs", "Runs planned for it", default=None, minimum=0)
