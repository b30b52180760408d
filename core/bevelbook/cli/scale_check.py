"""``bevelbook scale-check``: one thing put on a scale again and again, and what the scale can see."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any, Final

import click

from bevelbook.cli import print_json, print_text, report_failed, say_if_invented
from bevelbook.cli.files import FROM_DASH, FileToRead, ReadFrom
from bevelbook.declare.in_command import in_command
from bevelbook.declare.printable import printable
from bevelbook.display.begun import begun

if TYPE_CHECKING:
    from bevelbook.cli.session import Session
    from bevelbook.entering.scale_check import ScaleChecked, TypedReading


_TYPED: Final = {"mass_g": "MASS", "read_on": "--on", "thing": "--thing"}
_COLUMNS: Final = {"mass_g": "mass_g", "read_on": "day", "thing": "thing"}
"""What the command and its file call the fields of a reading."""


@click.command("scale-check")
@click.argument("scale")
@click.argument("masses", nargs=-1, metavar="[MASS]...")
@click.option("--thing", help='What was on the scale, such as "closed rear-b": compared from day to day.')
@click.option("--on", "day", metavar="DAY", help="The day of the readings; today if not given.")
@click.option("--readings", "file", type=FileToRead(), help=f"A CSV file: mass_g, and day and thing; {FROM_DASH}")
@click.option("--set", "set_again", is_flag=True, help="Without readings: set the scale from those that it has.")
@click.option("--yes", is_flag=True, help="Count readings that look odd too, without asking.")
@click.option("--another", is_flag=True, help="Write the same readings once more, although they were just written.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(
    session: Session,
    scale: str,
    masses: tuple[str, ...],
    thing: str | None,
    day: str | None,
    file: ReadFrom | None,
    set_again: bool,
    yes: bool,
    another: bool,
    as_json: bool,
) -> int:
    """Find out how small a loss a scale can see: put one thing on it ten times and type each reading.

    Take it off and let the scale come back to zero each time, and type what it shows, also where it is the same. Do it
    again on other days with the same thing. The readings are kept, and repeatability and what changes from day to day
    are set at the scale from all of them, in one entry. A reading that looks odd is asked about first. Without readings
    it prints what is known of the scale. A reading is corrected or removed with 'bevelbook record scale-reading'.
    """
    from bevelbook.entering.scale_check import TypedReading, check_scale, known_checked, lines_of

    typed = [TypedReading(mass) for mass in masses]
    if file is not None:
        typed += _from_file(file)
    if not typed and not set_again:
        from bevelbook.facts.scales import known_scale
        from bevelbook.records import BY_NAME
        from bevelbook.store.lookup import find_id

        with session.reading() as connection:
            checked = known_checked(connection, known_scale(connection, find_id(connection, BY_NAME["scale"], scale)))
        if as_json:
            print_json(_as_data(checked) | session.noticed())
            return 0
        print_text("\n".join(_wrapped([checked.now.name, *lines_of(checked), *_what_to_do(checked)])))
        say_if_invented(session.invented)
        return 0

    from bevelbook.calculating.recalculate import depending_on, recalculate_depending
    from bevelbook.cli.naming import AsCalled, named
    from bevelbook.facts.renew import renew_touched
    from bevelbook.records import BY_NAME
    from bevelbook.reports.what_changed import shelf_changes, touched_on_shelf
    from bevelbook.store.ids import now_utc

    kind = BY_NAME["scale_reading"]
    with session.writing() as connection, named(AsCalled(kind.fields, _TYPED if file is None else _COLUMNS)):
        stamp = now_utc()
        checked = check_scale(
            connection,
            scale,
            typed,
            thing,
            day,
            session.by,
            lambda: stamp,
            confirm=lambda words: yes or _confirmed(words),
            another=another,
        )
        depending = depending_on(connection, session.registry, [(BY_NAME["scale"], checked.now.row_id)])
        before = touched_on_shelf(connection)
        renew_touched(connection)
        upkeep = recalculate_depending(connection, session.registry, depending, session.by)
        shelf = [one.line() for one in shelf_changes(connection, before)]
    if as_json:
        print_json(_as_data(checked) | {"shelf": shelf} | session.noticed())
        return report_failed(upkeep)
    print_text("\n".join(_wrapped([*lines_of(checked), *_what_to_do(checked), *shelf, *upkeep.waiting_lines()])))
    return report_failed(upkeep)


def _confirmed(words: str) -> bool:
    """Whether a person says that what looks odd is right; a script is not asked."""
    if not sys.stdin.isatty():
        return False
    return click.confirm(printable(f"{begun(words)}. Count with them all the same?"), default=False)


def _what_to_do(checked: ScaleChecked) -> list[str]:
    """The commands that correct a reading, and that set the scale."""
    name = in_command(checked.now.name)
    if checked.is_repeated:
        return ["  --another writes them once more."]
    if checked.is_set:
        return []
    if checked.doubtful:
        reading, more = in_command(checked.doubtful[0]), len(checked.doubtful) - 1
        others = f" (and {more} more of that day)" if more else ""
        return [
            f"To leave it out: 'bevelbook record scale-reading {reading} --remove WHY'{others}.",
            f"To correct it: 'bevelbook record scale-reading {reading} mass=...'{others}.",
            f"If it is right: 'bevelbook scale-check {name} --set --yes'.",
        ]
    return [f"To set it: 'bevelbook scale-check {name} --set'."] if checked.remarks and not checked.added else []


def _from_file(file: ReadFrom) -> list[TypedReading]:
    from bevelbook.cli.calc import texts_from_file
    from bevelbook.declare.fields import fields_of
    from bevelbook.entering.scale_check import TypedReading
    from bevelbook.formulas.scale_check import ScaleCheckGiven

    listing = next(field for field in fields_of(ScaleCheckGiven) if field.name == "readings")
    rows = (text.split(":") for text in texts_from_file(listing, file))
    return [TypedReading(*(part or None for part in row)) for row in rows if row[0]]  # type: ignore[arg-type]


def _wrapped(lines: list[str]) -> list[str]:
    from bevelbook.display.format import wrapped

    return ["\n".join(wrapped(line)) for line in lines]


def _as_data(checked: ScaleChecked) -> dict[str, Any]:
    now, before = checked.now, checked.before
    return {
        "scale": now.name,
        "added": checked.added,
        "already_written": checked.is_repeated,
        "asked_about": list(checked.doubtful),
        "set": checked.is_set,
        "before": before.noise._asdict() | {"checked_on": before.checked_on},
        "now": now.noise._asdict() | {"checked_on": now.checked_on},
        "sees": now.sees,
        "found": None if checked.found is None else _plain(checked.found),
        "verdict": checked.judgement.verdict,
        "reasons": list(checked.judgement.reasons),
        "findings": [*checked.judgement.findings, *checked.remarks],
    }


def _plain(found: Any) -> dict[str, Any]:
    from bevelbook.declare.fields import fields_of

    return {field.name: getattr(found, field.name) for field in fields_of(type(found))}
