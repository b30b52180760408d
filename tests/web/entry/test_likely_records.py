"""The names that a form offers as buttons, those used last first."""

from __future__ import annotations

import sqlite3

from constructed import Add, Team

from bevelbook.records import BY_NAME
from bevelbook.web.entry.entry_fields import MOST_BUTTONS, MOST_DIFFS
from bevelbook.web.entry.likely_records import likely_records
from bevelbook.web.entry.record_form import new_record_form


def names(connection: sqlite3.Connection, kind: str, field: str) -> list[str]:
    return likely_records(connection, BY_NAME[kind], BY_NAME[kind].field(field))


def test_what_was_used_last_comes_first_then_the_newest(connection: sqlite3.Connection, add: Add) -> None:
    for name in ("Tannery Hall", "Brickfield", "Mill Road"):
        add("venue", name=name)
    assert names(connection, "idea", "venue") == ["Mill Road", "Brickfield", "Tannery Hall"]
    hall = connection.execute("SELECT id FROM venues WHERE name = 'Tannery Hall'").fetchone()[0]
    add("idea", text="softer", venue=hall)
    assert names(connection, "idea", "venue") == ["Tannery Hall", "Mill Road", "Brickfield"]


def test_only_what_is_in_use_is_offered_and_a_build_of_a_day_by_its_diff(
    connection: sqlite3.Connection, add: Add, team: Team
) -> None:
    first, second = team.build(), team.build()
    fluid = add("fluid", label="house 7k")
    for lot, empty in (("second", None), ("first", "yes")):
        add("bottle", fluid=fluid, lot=lot, empty=empty)
    add("idea", text="given up", dropped="it rained")
    tried = add("idea", text="tried")
    team.build(tries=tried)
    add("idea", text="open")
    assert names(connection, "build", "bottle") == ["house 7k, second"]
    assert names(connection, "build", "tries") == ["open"]
    assert names(connection, "seal_fitting", "build") == ["rear-a/3"]
    assert names(connection, "weighing", "build") == ["rear-a"]
    assert set(names(connection, "build", "like")) == {"rear-a/1", "rear-a/2", "rear-a/3"}
    like = BY_NAME["build"].field("like")
    assert likely_records(connection, BY_NAME["build"], like, but=second) == ["rear-a/1"]
    assert likely_records(connection, BY_NAME["build"], like, but=first) == []


def test_a_shelf_of_diffs_is_all_buttons_and_other_records_are_not(connection: sqlite3.Connection, add: Add) -> None:
    for number in range(15):
        add("diff", label=f"rear-{number}")
        add("venue", name=f"hall {number}")
    form = new_record_form(connection, BY_NAME["weighing"], None, {})
    fields = {one.name: one for one in form.fields}
    assert len(fields["build"].choices) == MOST_DIFFS
    assert len(fields["build"].others) == 15 - MOST_DIFFS
    assert len(fields["venue"].choices) == MOST_BUTTONS
