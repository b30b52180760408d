"""A calculator worked out row by row: the inputs of each from its cells, and the cells that the result adds."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.calculating.calculate import Binder, Result, Texts, clean, run, said_texts
from bevelbook.calculating.table_inputs import TableInputs, table_inputs
from bevelbook.declare.coverage import COVERAGE_K, WITH_K
from bevelbook.declare.errors import InputError
from bevelbook.declare.fields import Field
from bevelbook.declare.naming import InWords
from bevelbook.declare.sentence import in_terms_of
from bevelbook.formulas.left_out import LEFT_OUT
from bevelbook.plugin.calculator import Calculator
from bevelbook.reading import BY_HAND, Options

VERDICT: Final = "verdict"
REASONS: Final = "reasons"
ERROR: Final = "error"
BETWEEN: Final = "; "
SPREAD: Final = f" ± {WITH_K}"
_WITHOUT_UNIT: Final = (None, "", "1")


class TableRows:
    """One calculator for the rows of a table. What a row leaves empty comes from ``texts``, which holds for all rows,
    then from what is known of records; ``options`` say how the cells are read.

    Raises InputError where no row can be worked out: a column or an input is missing, or what holds for all rows cannot
    be read.
    """

    def __init__(
        self,
        calculator: Calculator[Any, Any],
        headings: Sequence[str],
        texts: Texts,
        known: Mapping[str, tuple[Any, str]] | None = None,
        options: Options = BY_HAND,
    ) -> None:
        self.calculator = calculator
        self.inputs = table_inputs(calculator, headings)
        self._known = known or {}
        self._binder = Binder(calculator, texts)
        self._options = self.inputs.options(options)
        for fault in self._binder.unreadable():
            raise fault
        self._refuse_without_inputs(said_texts(calculator, texts))

    def result(self, cells: Sequence[str]) -> Result:
        """The result of one row. Raises InputError or PluginFault."""
        binder = self._binder.with_row(self.inputs.texts(cells), self._options)
        return run(self.calculator, binder.bind(self._known))

    def _refuse_without_inputs(self, texts: Texts) -> None:
        given = {one.field.name for one in self.inputs.columns} | set(texts)
        known = {name for name in self._known if name != LEFT_OUT}
        lacking = [
            field
            for field in self.calculator.inputs
            if field.required and field.name not in given and field.same_as not in known
        ]
        if lacking:
            raise self._without_column(lacking)
        naming = InWords(self.calculator.inputs)
        present = given | {field.name for field in self.calculator.inputs if field.same_as in known}
        present |= {field.name for field in self.calculator.inputs if field.default not in (None, ())}
        try:
            self.calculator.check_alternatives(present)
        except InputError as fault:
            if fault.code != "missing_input":
                return  # a row may leave one of them empty
            raise InputError(
                f"the table does not give enough: {in_terms_of(naming, fault.what)}",
                code="missing_column",
                remedy="Add a column, or give it for all rows.",
            ) from None

    def _without_column(self, lacking: Sequence[Field]) -> InputError:
        names = [field.name for field in lacking]
        said = [
            f"If {' or '.join(map(repr, meant))} is the {name}, call it that."
            for name in names
            if (meant := [heading for heading, near in self.inputs.near.items() if name in near])
        ]
        return InputError(
            f"the table has no column {' and no column '.join(names)}",
            code="missing_column",
            remedy=" ".join((*said, "Or give it for all rows." if said else "Add it, or give it for all rows.")),
        )


class AddedColumn(NamedTuple):
    """A column that a result adds: an output, or its ± (k = 2)."""

    heading: str
    field: Field
    is_spread: bool = False

    def value(self, result: Result) -> Any:
        """Its value in a result; None where there is none."""
        if not self.is_spread:
            return clean(getattr(result.found, self.field.name))
        spread = result.uncertainties.get(self.field.name)
        return None if spread is None else clean(COVERAGE_K * spread)


def heading_of(field: Field, behind: str = "") -> str:
    """What stands above the values of a field: its words with the unit.

    >>> from bevelbook.formulas.fill_target import FILL
    >>> heading_of(FILL.outputs[0]), heading_of(FILL.outputs[0], SPREAD)
    ('stop mass [g]', 'stop mass ± (k = 2) [g]')
    """
    unit = "" if field.unit in _WITHOUT_UNIT else f" [{field.unit}]"
    return f"{field.words}{behind}{unit}"


def added_columns(calculator: Calculator[Any, Any], taken: Collection[str], *, with_spreads: bool) -> list[AddedColumn]:
    """The columns of the outputs, each under a heading of its own beside those that are taken."""
    held = set(taken)
    columns: list[AddedColumn] = []
    for field in calculator.outputs:
        columns.append(AddedColumn(unused(heading_of(field), held, calculator.name), field))
        if with_spreads and field.is_number and not field.exact:
            columns.append(AddedColumn(unused(heading_of(field, SPREAD), held, calculator.name), field, True))
    return columns


def unused(heading: str, held: set[str], whose: str) -> str:
    """A heading that is not held yet, which it then is: where it is, with the calculator's name, then a number."""
    named = heading if heading not in held else f"{heading} ({whose})"
    free, number = named, 2
    while free in held:
        free, number = f"{named} {number}", number + 1
    held.add(free)
    return free


def reasons_in_a_cell(result: Result) -> str:
    """Why, and what is worth a look, one after the other."""
    return BETWEEN.join((*result.judgement.reasons, *result.findings))


def inputs_in_words(inputs: TableInputs) -> Iterator[str]:
    """Which column gives which input, for people: ``dry mass from "Dry weight [oz]", in oz``."""
    for one in inputs.columns:
        unit = f", in {one.unit}" if one.unit else ""
        yield f"{one.field.words} from {one.heading!r}{unit}"


def others_in_words(inputs: TableInputs) -> Iterator[str]:
    """The other columns, each with the inputs that it may have meant."""
    yield from dict.fromkeys(_other(inputs, heading) for heading in inputs.others if heading.strip())


def _other(inputs: TableInputs, heading: str) -> str:
    alike = inputs.alike.get(heading, ())
    return f"{heading} (did you mean {' or '.join(alike)}?)" if alike else heading
