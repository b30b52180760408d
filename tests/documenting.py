"""The tables of README.md and DEVELOPERS.md, made from the objects they describe (cog calls these)."""

from __future__ import annotations

import inspect
from collections.abc import Iterable, Sequence

from bevelbook.cli import COMMANDS
from bevelbook.facts.views import VIEWS
from bevelbook.notes.note_columns import COLUMNS
from bevelbook.notes.report import REASONS, WARNINGS
from bevelbook.plugin import hookspecs
from bevelbook.plugin.registry import HOOKS, load
from bevelbook.reading.units import QUANTITIES, Spelling
from bevelbook.records import FACTS, KINDS
from bevelbook.web.host.metadata import columns_of_view


def table(heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A table of Markdown."""
    lines = ["| " + " | ".join(heads) + " |", "|" + " --- |" * len(heads)]
    lines += ["| " + " | ".join(cell.replace("|", "\\|") for cell in row) + " |" for row in rows]
    return "\n".join(lines)


def commands() -> str:
    """Every command with its line of help."""
    return table(("command", "what it does"), [(f"`{name}`", line) for name, (_, line) in COMMANDS.items()])


def calculators() -> str:
    """Every bundled calculator with what it is for, what goes in and what comes out."""
    rows = []
    for name, offered in sorted(load().calculators.items()):
        calculator = offered.calculator
        inputs = ", ".join(
            f"`{field.option}`" + (f" {field.unit}" if field.unit and field.unit != "1" else "")
            for field in calculator.inputs
        )
        outputs = ", ".join(f"`{field.name}`" for field in calculator.outputs)
        rows.append((f"`{name}`", calculator.purpose, inputs, outputs))
    return table(("calculator", "purpose", "inputs", "outputs"), rows)


def tables() -> str:
    """Every table and view with what it holds."""
    rows = [(f"`{kind.table}`", kind.about, str(len(kind.fields))) for kind in (*KINDS, *FACTS)]
    rows += [(f"`{view.name}` (view)", view.about, str(len(columns_of_view(view.name)))) for view in VIEWS]
    return table(("table or view", "what it holds", "columns"), rows)


def units() -> str:
    """The spellings of units that are taken, per canonical unit."""
    return table(
        ("unit kept", "spellings taken"),
        [
            (unit, ", ".join(f"`{word}`" for one in quantity.spellings for word in _spelt(one)))
            for unit, quantity in QUANTITIES.items()
        ],
    )


def note_columns() -> str:
    """The canonical columns of a note file."""
    return table(("column", "what it is"), [(f"`{field.name}`", field.described()) for field in COLUMNS])


def reasons() -> str:
    """Reason codes of rejected rows and codes of warnings."""
    rows = [(f"`{code}`", "reason", words) for code, words in REASONS.items()]
    rows += [(f"`{code}`", "warning", words) for code, words in WARNINGS.items()]
    return table(("code", "kind", "what it means"), rows)


def hooks() -> str:
    """Every hook with its line of explanation."""
    rows = []
    for name in HOOKS:
        function = getattr(hookspecs, name)
        taken = ", ".join(inspect.signature(function).parameters)
        rows.append((f"`{name}({taken})`", _first_line(function)))
    return table(("hook", "what it gives"), rows)


def _spelt(one: Spelling) -> list[str]:
    return [
        word.replace("·", " ") if word.startswith(("deg", "cu·")) else word
        for word in (*one.exact.split(), *one.any_case.split())
    ]


def _first_line(function: object) -> str:
    return (inspect.getdoc(function) or "").splitlines()[0]
