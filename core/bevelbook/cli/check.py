"""``bevelbook check [DIFF]``."""

from __future__ import annotations

import click

from bevelbook.cli import print_json, print_text, say_if_invented
from bevelbook.cli.session import Session
from bevelbook.declare.counting import counted


@click.command("check")
@click.argument("diff", required=False)
@click.option("--rebuild", is_flag=True, help="First work out again what does not follow from the records.")
@click.option("--accept", is_flag=True, help="First accept what other programs changed.")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, diff: str | None, rebuild: bool, accept: bool, as_json: bool) -> None:
    """Report what is worth a look: lost oil, masses that do not agree, worn seals, unsure oils.

    Findings are listed by diff, worst first, each with what to do; with them the runs since the diff was opened,
    the runs left, the order of the bottles, and the ideas still to try. With DIFF only what is about that one.
    No record is changed. Ends with exit code 1 where anything was found, and where a check of a plugin
    failed: what that would have found is not there, and the plugin is named.

    What is kept of each diff (its runs, its oil, what it lost) and the search are compared with the records. Where they
    differ, the check says so, and --rebuild makes them again.
    """
    from bevelbook.reports.check import check

    if rebuild or accept:
        _repair(session, rebuild=rebuild, accept=accept)
    with session.reading() as connection:
        report = check(connection, session.registry, diff, recheck_facts=True)
    if as_json:
        print_json({"invented": session.invented} | report.as_dict() | session.noticed())
    else:
        print_text("\n".join(report.lines()))
        say_if_invented(session.invented)
    for failure in report.left_out:
        print_text(f"bevelbook: {failure}", err=True)
    if report.findings or report.faults or report.left_out:
        click.get_current_context().exit(1)


def _repair(session: Session, *, rebuild: bool, accept: bool) -> None:
    """Do what the options ask for, and say on standard error what was done."""
    from bevelbook.store.soundness import accept_changes
    from bevelbook.store.soundness import rebuild as made_again
    from bevelbook.store.sqlite_errors import in_words

    connection = session.open_for_writing()
    try:
        with in_words(session.path):
            if rebuild:
                done = made_again(connection, session.path, asked=session.asked, by=session.by)
                session.notice("; ".join(done) + "." if done else "There was nothing to make again.")
            if accept:
                count = accept_changes(connection, session.path, asked=session.asked, by=session.by)
                session.notice(f"Accepted the changes of {counted(count, 'record')}.")
    finally:
        connection.close()
