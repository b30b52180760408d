"""``bevelbook calls``: what was decided after runs that have no call yet, in one sitting."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, Final

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.session import Session
from bevelbook.declare.counting import counted
from bevelbook.declare.errors import InputError, Place

if TYPE_CHECKING:
    from bevelbook.entering.calls import CallsWritten
    from bevelbook.reports.runs_without_call import RunWithoutCall
    from bevelbook.reports.what_changed import ShelfChange

KEYS: Final = {"k": "keep", "c": "change", "u": "undecided", "b": "broke"}
"""The key of each call."""
BACK: Final = "p"
STOP: Final = ("q", "\x1b")
LEAVE: Final = ("\r", "\n", " ")
_KEYS_IN_WORDS: Final = "k keep, c change, u undecided, b broke, Enter leave it, p the run before, q end"


@click.command("calls")
@click.option("--venue", help="Only runs at this venue.")
@click.option("--diff", help="Only runs with this diff in the car.")
@click.option("--since", metavar="DAY", help="Only runs from this day on.")
@click.option("--set", "given", multiple=True, metavar="RUN=CALL", help="Give one run its call; may be repeated.")
@click.option("--list", "only_list", is_flag=True, help="List the runs, and ask nothing.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs, and ask nothing.")
@click.pass_obj
def command(
    session: Session,
    venue: str | None,
    diff: str | None,
    since: str | None,
    given: tuple[str, ...],
    only_list: bool,
    as_json: bool,
) -> None:
    """Go through the runs that have no call, one key each: keep, change, undecided or broke.

    Each run is shown with its remark first, the newest day first. Only a run with a call counts for an oil. What you
    gave is written when you stop, also by Ctrl-C or when the terminal closes, as one entry; a run that somebody else
    decided in the meantime keeps that call.

    In a script the runs are listed, and --set 2026-05-03/2=keep gives a call.
    """
    if given:
        _set(session, given, as_json)
        return
    from bevelbook.reports.runs_without_call import runs_to_decide

    with session.reading() as connection:
        runs = runs_to_decide(connection, _wanted(connection, venue, diff, since))
    if as_json:
        print_json(
            {"invented": session.invented, "count": len(runs), "runs": [one.as_dict() for one in runs]}
            | session.noticed()
        )
        return
    if only_list or not runs or not sys.stdin.isatty():
        _list(runs)
        say_if_invented(session.invented)
        return
    calls: dict[str, str] = {}
    try:
        with _closing_terminal_interrupts():
            _ask(runs, calls)
    except KeyboardInterrupt:
        print_text("")
        raise
    finally:
        if calls:
            _write(session, calls, {one.run: one.label for one in runs}, as_json=False)
        else:
            print_text("Nothing was given, nothing is changed.")


def _wanted(connection: Any, venue: str | None, diff: str | None, since: str | None) -> dict[str, object]:
    from bevelbook.reading import BY_HAND, read
    from bevelbook.records import BY_NAME
    from bevelbook.store.lookup import find_id

    day = BY_NAME["run"].field("run_on")._replace(name="--since")
    return {
        "venue": find_id(connection, BY_NAME["venue"], venue) if venue else None,
        "diff": find_id(connection, BY_NAME["diff"], diff) if diff else None,
        "since": read(day, since, BY_HAND) if since else None,
    }


def _list(runs: list[RunWithoutCall]) -> None:
    for run in runs:
        for line in run.lines():
            print_text(line)
    has = "has" if len(runs) == 1 else "have"
    print_text(f"{counted(len(runs), 'run')} {has} no call." if runs else "Every run has a call.")


def _ask(runs: list[RunWithoutCall], calls: dict[str, str]) -> None:
    """Ask for one run after the other until the last, or until a person stops; fills ``calls`` by the run's id."""
    place = 0
    while place < len(runs):
        run = runs[place]
        print_text(f"\n{place + 1} of {len(runs)}")
        for line in run.lines():
            print_text(line)
        print_text(_KEYS_IN_WORDS)
        pressed = _pressed()
        if pressed in KEYS:
            calls[run.run] = KEYS[pressed]
            print_text(KEYS[pressed])
        elif pressed in STOP:
            print_text("stop")
            return
        elif pressed == BACK:
            print_text("back")
            place = max(0, place - 1)
            calls.pop(runs[place].run, None)
            continue
        else:
            print_text("left")
        place += 1


def _pressed() -> str:
    """The next key that means something; the end of the input stops."""
    while True:
        try:
            pressed = click.getchar().lower()
        except EOFError:
            return STOP[0]
        if pressed in (*KEYS, *LEAVE, *STOP, BACK):
            return pressed


@contextmanager
def _closing_terminal_interrupts() -> Iterator[None]:
    """Have a closing terminal act like Ctrl-C, so that what was given is written."""
    names = [getattr(signal, name) for name in ("SIGHUP", "SIGTERM") if hasattr(signal, name)]

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    before = {one: signal.signal(one, interrupt) for one in names}
    try:
        yield
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)


def _set(session: Session, given: tuple[str, ...], as_json: bool) -> None:
    from bevelbook.reading import read_choice
    from bevelbook.records import BY_NAME
    from bevelbook.store.lookup import find_id

    kind = BY_NAME["run"]
    calls: dict[str, str] = {}
    labels: dict[str, str] = {}
    with session.reading() as connection:
        for word in given:
            name, equals, text = word.rpartition("=")
            if not equals:
                raise InputError("a word without =", code="no_equals", found=word, wanted="RUN=CALL")
            run = find_id(connection, kind, name.strip())
            call = KEYS.get(text.strip().lower()) or read_choice(kind.field("call"), text)
            if call is None:
                raise InputError(
                    "no call given",
                    code="missing_input",
                    place=Place(field="call"),
                    found=word,
                    wanted=f"one of {', '.join(KEYS.values())}",
                )
            if calls.get(run, call) != call:
                raise InputError(
                    f"two calls for run {name.strip()}",
                    code="given_twice",
                    place=Place(field="--set"),
                    found=f"{calls[run]} and {call}",
                    wanted="one call a run",
                )
            calls[run], labels[run] = call, name.strip()
    _write(session, calls, labels, as_json=as_json, over_others=True)


def _write(
    session: Session,
    calls: Mapping[str, str],
    labels: Mapping[str, str],
    *,
    as_json: bool,
    over_others: bool = False,
) -> None:
    """Write the calls as one entry, and say what came of it."""
    from bevelbook.calculating.recalculate import recalculate_for
    from bevelbook.cli import report_failed
    from bevelbook.entering.calls import write_calls
    from bevelbook.facts.renew import renew_touched
    from bevelbook.reports.what_changed import shelf_changes, touched_on_shelf
    from bevelbook.store.ids import now_utc

    with session.writing() as connection:
        done = write_calls(connection, calls, session.by, now_utc, over_others=over_others)
        before = touched_on_shelf(connection)
        renew_touched(connection)
        upkeep = [
            recalculate_for(connection, session.registry, "run", run, session.by, now_utc()) for run in done.written
        ]
        turned = list(shelf_changes(connection, before))
    if as_json:
        print_json(
            {
                "written": {labels[run]: calls[run] for run in done.written},
                "decided_meanwhile": [labels[run] for run in done.decided_meanwhile],
                "shelf": [one._asdict() for one in turned],
            }
            | session.noticed()
        )
    else:
        _say(done, calls, labels, turned)
    if sum(report_failed(one) for one in upkeep):
        click.get_current_context().exit(1)


def _say(done: CallsWritten, calls: Mapping[str, str], labels: Mapping[str, str], turned: list[ShelfChange]) -> None:
    from bevelbook.display.format import wrapped

    each = [calls[run] for run in done.written]
    parts = ", ".join(f"{each.count(call)} {call}" for call in KEYS.values() if call in each)
    lines = [f"{counted(len(each), 'call')} written: {parts}." if each else "No call was written."]
    if done.decided_meanwhile:
        others = ", ".join(labels[run] for run in done.decided_meanwhile)
        lines.append(f"Decided by somebody else in the meantime, and left so: {others}.")
    for line in (*lines, *(one.line() for one in turned)):
        print_text("\n".join(wrapped(line)))
