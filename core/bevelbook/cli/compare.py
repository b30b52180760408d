"""``bevelbook compare A B``."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.session import Session
from bevelbook.declare.errors import InputError

if TYPE_CHECKING:
    from bevelbook.calculating.keep import KeptResult
    from bevelbook.reports.compare import Comparison


@click.command("compare")
@click.argument("a")
@click.argument("b")
@click.option(
    "--odd-times",
    type=click.Choice(["ask", "count", "leave-out"]),
    default="ask",
    help="Ask about a time far off the others, count it, or leave it out.",
)
@click.option("--keep", is_flag=True, help="Write the comparison of their runs to the database as a row.")
@click.option("--all", "everything", is_flag=True, help="Also what differs between the outputs of calculators.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, a: str, b: str, odd_times: str, keep: bool, everything: bool, as_json: bool) -> None:
    """Show two builds side by side: what was changed from A to B, what came of each, and how they did in turn.

    A and B are builds such as rear-a/2 and rear-a/3; the name of a diff means its last build. Their runs are
    compared where one driver had both in one place of one car on one day: the difference with the drift of each
    day taken out and its 95 % interval, the times as they are, and how many more runs would decide it.
    """
    from bevelbook.reports.compare import compare

    with session.reading() as connection:
        comparison = compare(connection, a, b, session.registry, odd_times.replace("-", " "))
    kept = _keep(session, comparison) if keep else None
    if as_json:
        print_json({"invented": session.invented} | comparison.as_dict() | ({"kept": kept.as_dict()} if kept else {}))
        _end(kept)
        return
    print_text("\n".join(comparison.lines(everything=everything)))
    if comparison.calculated_too and not everything:
        print_text(f"\n{comparison.calculated_too}: see them with --all.")
    if kept:
        print_text(f"\n{kept.otherwise.sentence() if kept.otherwise else kept.words}")
    say_if_invented(session.invented)
    _end(kept)


def _end(kept: KeptResult | None) -> None:
    """End with 1 where another result is kept for the same runs."""
    if kept is not None and kept.otherwise is not None:
        click.get_current_context().exit(1)


def _keep(session: Session, comparison: Comparison) -> KeptResult:
    from bevelbook.calculating.calculate import Result
    from bevelbook.calculating.keep import keep_result
    from bevelbook.calculating.known import find_subject
    from bevelbook.store.ids import now_utc

    track = comparison.on_track
    if track is None or track.result is None:
        raise InputError(
            f"nothing to keep of {comparison.a} and {comparison.b}: {track.why_not if track else 'that is one build'}",
            code="nothing_to_keep",
            remedy="Leave --keep out to see what differs between them.",
        )
    offered = next(iter(session.registry.resting_on(track.result.formula)), None)
    if offered is None:
        raise InputError(
            "no calculator that could keep the comparison is loaded",
            code="no_calculator",
            remedy="'bevelbook calculators' lists what did not load; leave --keep out to see the comparison.",
        )
    with session.writing() as connection:
        subject = find_subject(connection, f"build:{comparison.build_a}")
        result = Result(offered.calculator, track.result)
        return keep_result(connection, offered, result, subject, session.by, now_utc())
