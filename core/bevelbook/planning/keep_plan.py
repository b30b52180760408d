"""A plan kept as it was made, so that a later one can be compared with it, and the bench can work from it."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable
from datetime import date
from typing import NamedTuple

from bevelbook.display.days import said_for_later
from bevelbook.entering.defaults import filled_in
from bevelbook.planning.kept_plans import PlanInBook
from bevelbook.planning.made_plan import MadePlan
from bevelbook.planning.packing_list import PackingList
from bevelbook.planning.plan import make_plan
from bevelbook.planning.plan_lines import PlanLine
from bevelbook.plugin.registry import Registry
from bevelbook.records import BY_NAME
from bevelbook.store.lookup import find_id
from bevelbook.store.writing import Writer


class KeptNow(NamedTuple):
    """A plan with the id under which it was kept."""

    plan: str
    made: MadePlan


def make_and_keep(
    connection: sqlite3.Connection,
    registry: Registry,
    event: str | None,
    today: date,
    by: str | None,
    clock: Callable[[], str],
    *,
    packing: PackingList | None = None,
    against: PlanInBook | None = None,
) -> KeptNow:
    """Make a plan as ``make_plan`` does, and keep it with its lines, inside the caller's transaction.

    It is read on other days too: so it names days, and says of none how long ago it was. The lines are kept in the
    order of work; those with nothing to do come after them. Raises LookupError for an event that is gone.
    """
    with said_for_later():
        made = make_plan(connection, registry, event, today, packing=packing, against=against)
    return KeptNow(_keep(connection, made, by, clock), made)


def _keep(connection: sqlite3.Connection, made: MadePlan, by: str | None, clock: Callable[[], str]) -> str:
    writer = Writer(connection, by, clock)
    person = filled_in(connection, BY_NAME["plan"], {}, by, clock()).texts.get("person")
    plan = writer.insert(
        BY_NAME["plan"],
        {
            "event": made.event.event if made.event else None,
            "made_at": clock(),
            "person": find_id(connection, BY_NAME["person"], person) if person else None,
            "said": json.dumps(made.as_dict(), ensure_ascii=False, sort_keys=True),
        },
    )
    work = made.in_order_of_work
    others = tuple(one for one in made.every_line if one.place is None)
    for place, line in enumerate((*work, *others), start=1):
        writer.insert(BY_NAME["plan_line"], {"plan": plan, "place": place, **_values(line)})
    return plan


def _values(line: PlanLine) -> dict[str, object]:
    return {
        "diff": line.diff,
        "build": line.build,
        "car": line.car,
        "position": line.position,
        "act": line.act,
        "why": line.why or None,
        "oil": "; ".join(one.words for one in line.oils) or None,
        "runs_planned": line.runs_planned,
    }
