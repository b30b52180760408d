"""``bevelbook check [DIFF]``."""

from __future__ import annotations

import click

from bevelbook.cli import print_json, say_if_invented
from bevelbook.cli.session import Session


@click.command("check")
@click.argument("diff", required=False)
@click.option("--rebuild", is_flag=True, help="Work out all facts again from the records first.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, diff: str | None, rebuild: bool, as_json: bool) -> None:
    """Report what is worth a look: lost oil, masses that do not agree, worn seals, unsure oils.

    Findings stand under their diff, worst first, each with what to do; beside them the runs since the diff was open,
    the runs left, the order of the bottles, and the ideas still to try. With DIFF only what is about that one.
    No record is changed. Ends with exit code 1 where anything was found.

    What is kept of each diff (its runs, its oil, what it lost) is compared with the records. Where they differ, that is
    a fault of this program: the check says so, and --rebuild works all of it out again.
    """
    from bevelbook.facts.renew import renew_all
    from bevelbook.tasks.check import check

    if rebuild:
        with session.writing() as connection:
            renew_all(connection)
    with session.reading() as connection:
        report = check(connection, session.registry, diff, doubt_facts=True)
    if as_json:
        print_json({"invented": session.invented} | report.as_dict() | session.noticed())
    else:
        click.echo("\n".join(report.lines()))
        say_if_invented(session.invented)
    for failure in report.left_out:
        click.echo(f"bevelbook: {failure}", err=True)
    if report.findings or report.faults:
        click.get_current_context().exit(1)
