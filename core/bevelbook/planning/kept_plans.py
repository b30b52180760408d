"""Plans that were kept, and what changed since."""

from __future__ import annotations

from typing import NamedTuple


class PlanChange(NamedTuple):
    """What is otherwise than in a kept plan, about a diff (by id and label); both empty where it is about the event."""

    diff: str
    label: str
    words: str


class SincePlan(NamedTuple):
    """A plan that was kept (by id, with when in words), and what changed since."""

    plan: str
    kept: str
    changes: tuple[PlanChange, ...]
