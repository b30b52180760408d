"""Two records that are one and the same thing, or are two things although they share a name.

A join is itself a record: it can be changed, removed and taken back, and goes along wherever the data goes. What refers
to either of the two stays as it was written.
"""

from __future__ import annotations

from typing import Final

from bevelbook.declare.fields import choice, date, record, reference, text
from bevelbook.declare.vocabulary import YES_NO
from bevelbook.records.bench import WRITTEN_AT_THE_BENCH
from bevelbook.records.plans import WRITTEN_BY_A_PLAN

JOINED_KINDS: Final = ("diff", "fluid", "person", "venue", "car", "scale", "event")
"""Kinds of which two records may be one thing; equal names of these are one unless somebody says otherwise. Events of
one name are one where they begin on the same day, or neither has a day: a club has a race of that name every month."""
TOLD_APART_KINDS: Final = ("build", "run", "bottle")
"""Kinds whose records stay two where they have one name: each then shows who wrote it."""
NOT_IN_A_FORM: Final = frozenset({"join", *WRITTEN_AT_THE_BENCH, *WRITTEN_BY_A_PLAN})
"""Kinds that no form offers field by field: a join names two records, the bench writes as it goes, and a plan is kept
whole."""


@record
class Join:
    kind: str = choice(JOINED_KINDS, "What the two are", facet=True)
    one: str = text("Id of the one whose name stays")
    other: str = text("Id of the other")
    same: str = choice(YES_NO, "Whether they are one thing", default="yes", facet=True)
    said_on: str | None = date("Day", default=None)
    person: str | None = reference("person", "Who said so", default=None, followed=False)
    note: str | None = text("Anything else", default=None)
