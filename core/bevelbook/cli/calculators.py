"""``bevelbook calculators``."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from bevelbook.cli import print_json, print_text
from bevelbook.cli.session import Session

if TYPE_CHECKING:
    from bevelbook.plugin.calculator import Calculator


@click.command("calculators")
@click.option("--json", "as_json", is_flag=True, help="Print data for programs.")
@click.pass_obj
def command(session: Session, as_json: bool) -> int:
    """List the calculators with what they are for, and the plugins that did not load with the reason.

    Ends with 1 when something was left out. 'bevelbook plugin list' says which plugin offers what.
    """
    from bevelbook.display.table import table_lines

    registry = session.all_looked_at()
    code = 1 if registry.failures else 0
    offered = sorted(registry.calculators.values(), key=lambda one: one.calculator.name)
    if as_json:
        from bevelbook.calculating.calculator_described import FORMAT, calculator_described

        print_json(
            {
                "format": FORMAT,
                "calculators": [calculator_described(one) for one in offered],
                "left_out": [
                    {
                        "plugin": fault.origin.plugin,
                        "package": fault.origin.package,
                        "file": fault.origin.file,
                        "reason": fault.reason,
                    }
                    for fault in registry.failures
                ],
            }
        )
        return code
    for line in table_lines((one.calculator.name, _purpose(one.calculator)) for one in offered):
        print_text(line)
    for fault in registry.failures:
        print_text(f"\n{fault}")
    print_text("\n'bevelbook calc NAME --help' explains one.")
    return code


def _purpose(calculator: Calculator[Any, Any]) -> str:
    return f"{calculator.purpose} ({calculator.replacing})" if calculator.replacing else calculator.purpose
