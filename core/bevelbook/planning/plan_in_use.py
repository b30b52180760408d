"""The kept plan that a team works from now, and what it says of the oil of a diff."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping
from datetime import date
from typing import Any, NamedTuple

from bevelbook.declare.vocabulary import UNCLEAR_WHAT
from bevelbook.planning.kept_plans import PlanInBook, latest_plan, latest_plan_of
from bevelbook.reports.race_events import events_ahead


class OilPlanned(NamedTuple):
    """The oil that a kept plan has for a diff: in words, by the fluid's id (None for a blend), and how much, in g."""

    plan_of: str
    words: str
    fluid: str | None
    oil_mass_g: float | None


def plan_in_use(connection: sqlite3.Connection, today: date) -> PlanInBook | None:
    """The plan that was kept last for the next event to come that has one; else the one kept last of all, as long as
    its event is not over. None where there is no such plan."""
    for event in events_ahead(connection, today.isoformat()):
        found = latest_plan_of(connection, event.event)
        if found is not None:
            return found
    last = latest_plan(connection)
    is_over = last is not None and last.last_on is not None and last.last_on < today.isoformat()
    return None if is_over else last


def called(plan: PlanInBook) -> str:
    """A plan as it is said: ``the plan for spring race``."""
    return f"the plan for {plan.event_name}" if plan.event_name else "the plan"


def oil_planned(plan: PlanInBook, diff: str, build: str | None) -> OilPlanned | None:
    """The oil that a plan has for a diff (by id) in which a build (by id) was; None where it has none, where the
    records could not tell which, or where another build was in it when the plan was made."""
    if not any(one.diff == diff and one.build == build for one in plan.lines):
        return None
    said = _said_of(plan, diff)
    oils = said.get("oils") or ()
    if not oils or said.get("oil_what") == UNCLEAR_WHAT or not isinstance(oils[-1], Mapping):
        return None
    one = oils[-1]
    mass_g, fluid = one.get("oil_mass_g"), one.get("fluid")
    return OilPlanned(
        called(plan),
        str(one.get("words") or ""),
        fluid if isinstance(fluid, str) else None,
        float(mass_g) if isinstance(mass_g, int | float) else None,
    )


def _said_of(plan: PlanInBook, diff: str) -> dict[str, Any]:
    """What the plan said of a diff, as it was kept; empty where that cannot be read."""
    said = plan.said
    lines = [line for car in said.get("cars") or () for line in car.get("lines") or ()]
    return next((dict(one) for one in (*lines, *(said.get("spares") or ())) if one.get("diff") == diff), {})
