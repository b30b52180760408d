"""Where what a plan says of a diff is done: at the bench, or in the form that notes it."""

from __future__ import annotations

from bevelbook.declare.vocabulary import (
    CHANGE_THE_OIL,
    LOOK_AT_IT,
    NEW,
    OIL_CHANGE,
    REBUILD_IT,
    SECOND_ONE,
    WEIGH_IT,
)
from bevelbook.web.shared.writing_here import FormOffered


def form_of_act(act: str, diff_label: str, build: str | None, build_label: str | None) -> FormOffered | None:
    """The form in which an act on a diff is done, with the ``build`` (by id) that is in it; None where there is nothing
    to do, or where the records cannot tell what.

    >>> form_of_act("change the oil", "rear-a", "1", "rear-a/1")
    ('change the oil', 'bench', {'diff': 'rear-a', 'kind': 'oil change'})
    >>> form_of_act("weigh it", "rear-a", "1", "rear-a/1"), form_of_act("leave it", "rear-a", "1", "rear-a/1")
    (('weigh it', 'weigh', {'build': 'rear-a/1'}), None)
    """
    kind = kind_of_job(act, is_built=build is not None)
    if kind is not None:
        return act, "bench", {"diff": diff_label, "kind": kind}
    if act == WEIGH_IT and build_label is not None:
        return act, "weigh", {"build": build_label}
    if act == LOOK_AT_IT and build is not None:
        return act, f"record/build/{build}", {}
    return None


def kind_of_job(act: str, *, is_built: bool) -> str | None:
    """What is done at the bench for an act; None where it is nothing for the bench."""
    if act in (REBUILD_IT, SECOND_ONE):
        return REBUILD_IT if is_built else NEW
    if act == CHANGE_THE_OIL:
        return OIL_CHANGE if is_built else NEW
    return None
