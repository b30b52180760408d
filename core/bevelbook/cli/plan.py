"""``bevelbook plan [EVENT]``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final, NamedTuple

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.files import FROM_DASH, FileToRead, ReadFrom
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError
from bevelbook.declare.in_command import in_command

if TYPE_CHECKING:
    import sqlite3

    from bevelbook.planning.kept_plans import PlanInBook
    from bevelbook.planning.made_plan import MadePlan
    from bevelbook.planning.packing_list import PackingList

LAST: Final = "last"


@click.command("plan")
@click.argument("event", required=False)
@click.option("--keep", is_flag=True, help="Keep it, so that a later plan can be compared and the bench works from it.")
@click.option("--against", metavar="PLAN", help=f"Say what changed since a kept plan: its name, or {LAST}.")
@click.option(
    "--packing",
    type=FileToRead(),
    help=f"The team's own list of what to pack, in the form of the bundled one; {FROM_DASH}",
)
@click.option("--why", "in_full", is_flag=True, help="All that speaks for each oil as well.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    event: str | None,
    keep: bool,
    against: str | None,
    packing: ReadFrom | None,
    in_full: bool,
    as_json: bool,
) -> None:
    """Say what to do before an event: per car and diff, with which oil and parts, in what order, in how many hours.

    \b
    bevelbook plan "spring race"
    bevelbook plan "spring race" --keep
    bevelbook plan "spring race" --against last

    An event is a record: bevelbook record event name="spring race" first_on=2026-06-13 runs_per_car=6. Without EVENT
    it says what is due for each diff before a usual day, as 'bevelbook check' begins.

    Each line says why in numbers. "unclear" is what the records cannot tell, with what would settle it; an oil is said
    only where something like it was run in such weather. What was done since the plan was kept is marked as done.
    """
    from bevelbook.planning.packing_list import read_packing_list

    own = read_packing_list(packing) if packing else None
    made = (_kept if keep else _made)(session, event, against, own)
    if as_json:
        print_json({"invented": session.invented} | made.as_dict() | session.noticed())
    else:
        for line in made.lines(in_full=in_full):
            print_text(line)
        say_if_invented(session.invented)
    for failure in made.points.left_out:
        print_text(f"bevelbook: {failure}", err=True)


class _Asked(NamedTuple):
    """What is asked: an event (by id), and a kept plan to compare with."""

    event: str | None
    against: PlanInBook | None


def _asked(connection: sqlite3.Connection, event: str | None, against: str | None, but: str | None = None) -> _Asked:
    """``but`` is a plan that does not count as the last one.

    Raises UnknownNameError, or InputError where nothing was kept to compare with."""
    from bevelbook.records import BY_NAME
    from bevelbook.store.lookup import find_id

    event_id = find_id(connection, BY_NAME["event"], event) if event is not None else None
    kept = _kept_before(connection, event, event_id, against, but) if against is not None else None
    return _Asked(event_id, kept)


def _kept_before(
    connection: sqlite3.Connection, event: str | None, event_id: str | None, against: str, but: str | None
) -> PlanInBook:
    """The kept plan that is to be compared with. Raises InputError where none was kept, UnknownNameError."""
    from bevelbook.planning.kept_plans import kept_plan, latest_plan_of
    from bevelbook.records import BY_NAME
    from bevelbook.store.lookup import find_id

    if against.strip().casefold() != LAST:
        return kept_plan(connection, find_id(connection, BY_NAME["plan"], against))
    found = latest_plan_of(connection, event_id, but=but)
    if found is None:
        named = f" {in_command(event)}" if event is not None else ""
        raise InputError(
            f"no plan was kept for {event or 'a usual day'} yet",
            code="no_kept_plan",
            remedy=f"Keep one with 'bevelbook plan{named} --keep'.",
        )
    return found


def _made(session: Session, event: str | None, against: str | None, packing: PackingList | None) -> MadePlan:
    from datetime import date

    from bevelbook.planning.plan import make_plan

    with session.reading() as connection:
        asked = _asked(connection, event, against)
        return make_plan(
            connection, session.registry, asked.event, date.today(), packing=packing, against=asked.against
        )


def _kept(session: Session, event: str | None, against: str | None, packing: PackingList | None) -> MadePlan:
    """Make the plan and keep it, as one entry."""
    from datetime import date

    from bevelbook.planning.keep_plan import make_and_keep
    from bevelbook.planning.kept_plans import kept_a_moment_ago
    from bevelbook.planning.plan import make_plan
    from bevelbook.records import BY_NAME
    from bevelbook.store.ids import now_utc
    from bevelbook.store.lookup import find_id, label_of

    with session.writing() as connection:
        event_id = find_id(connection, BY_NAME["event"], event) if event is not None else None
        before = kept_a_moment_ago(connection, event_id, session.asked, session.by, now_utc())
        asked = _asked(connection, event, against, before)
        if before is not None:
            name = label_of(connection, BY_NAME["plan"], before)
            session.notice(f"Kept already, by the same command a moment ago: {name}.")
            return make_plan(
                connection, session.registry, event_id, date.today(), packing=packing, against=asked.against
            )
        kept = make_and_keep(
            connection,
            session.registry,
            asked.event,
            date.today(),
            session.by,
            now_utc,
            packing=packing,
            against=asked.against,
        )
        name = label_of(connection, BY_NAME["plan"], kept.plan)
    session.notice(f"Kept as: {name}.")
    return kept.made
