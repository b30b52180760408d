"""A calculator called from Python: ``from bevelbook import calculate``.

>>> from bevelbook import calculate
>>> found = calculate("viscosity", viscosity_cst=7000, temperature_c="140 °F")
>>> round(found.viscosity_at_temperature_cst), found.verdict
(3769, 'ok')

A column goes in, and a column of the same kind comes out:

>>> warm = calculate("viscosity", viscosity_cst=[5000, 7000], temperature_c=60)
>>> [round(one) for one in warm.viscosity_at_temperature_cst], warm.verdict
([2692, 3769], ['ok', 'ok'])
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final, Literal, NamedTuple

from bevelbook.calculating.calculate import Binder, Result, run
from bevelbook.calculating.python_values import (
    EXACT,
    GivenColumn,
    column_of,
    is_missing,
    options_for,
    text_of_value,
    texts_of_listing,
)
from bevelbook.declare.errors import InputError, Place, PluginFault, UnknownNameError
from bevelbook.declare.fields import Field
from bevelbook.declare.sentence import Sentence, parts_of
from bevelbook.reading import BY_HAND, Options

if TYPE_CHECKING:
    from bevelbook.plugin.calculator import Calculator
    from bevelbook.plugin.registry import Registry

OnError = Literal["raise", "keep"]
Known = Mapping[str, tuple[Any, str]]
_REGISTRIES: Final = 8


class OutputsByName(Mapping[str, Any]):
    """Outputs as attributes and as a mapping by their names."""

    _outputs: dict[str, Any]

    def __getitem__(self, name: str) -> Any:
        return self._outputs[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._outputs)

    def __len__(self) -> int:
        return len(self._outputs)

    def __getattr__(self, name: str) -> Any:
        return _output(self.__dict__.get("_outputs", {}), name)

    def __dir__(self) -> list[str]:
        return [*super().__dir__(), *self._outputs]


class Calculated(OutputsByName):
    """One result: its outputs as attributes and as a mapping by their names, numbers in the unit that the name says.

    ``verdict`` is one of ok, caution, stop, unclear; ``reasons`` say why, ``findings`` what is worth a look.
    ``uncertainties`` has the standard uncertainty (k = 1) of each output, where an input had one.
    """

    def __init__(self, result: Result) -> None:
        self._result = result
        self._outputs = result.outputs

    @property
    def verdict(self) -> str:
        return self._result.verdict

    @property
    def reasons(self) -> tuple[str, ...]:
        return self._result.judgement.reasons

    @property
    def findings(self) -> tuple[str, ...]:
        return self._result.findings

    @property
    def uncertainties(self) -> dict[str, float | None]:
        return dict(self._result.uncertainties)

    @property
    def inputs(self) -> dict[str, Any]:
        """What it was worked out from, with the defaults."""
        return self._result.inputs

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The rows that come out, where the calculator has a listing of them."""
        return self._result.rows

    def working(self) -> tuple[str, ...]:
        """The formula with the values put in. Raises PluginFault."""
        return self._result.working()

    def as_dict(self) -> dict[str, Any]:
        """All of it, as the command line prints it for programs."""
        return self._result.as_dict()

    def __repr__(self) -> str:
        lines = [f"{self._result.calculator.name}: {self.verdict}", *(f"  {reason}" for reason in self.reasons)]
        lines += [f"  {name} = {value!r}" for name, value in self.items() if value is not None]
        return "\n".join(lines)


class CalculatedColumns(OutputsByName):
    """Results for the rows of columns: each output is a column of the kind that went in, also by its name.

    ``verdict``, ``reasons`` and ``findings`` are columns too, and ``error`` says why a row has no result; ``results``
    has each result as a :class:`Calculated`, None for such a row.
    """

    def __init__(
        self, calculator: Calculator[Any, Any], results: Sequence[Calculated | str], like: GivenColumn
    ) -> None:
        self._calculator = calculator
        self.results = [one if isinstance(one, Calculated) else None for one in results]
        self._like = like
        self._outputs = {field.name: self._column(field) for field in calculator.outputs}
        self.verdict = self._texts("verdict", [one and one.verdict for one in self.results])
        self.reasons = self._texts(
            "reasons", [one and "; ".join((*one.reasons, *one.findings)) for one in self.results]
        )
        self.error = self._texts("error", [one if isinstance(one, str) else None for one in results])

    def uncertainty(self, name: str) -> Any:
        """The standard uncertainty (k = 1) of an output, as a column. Raises KeyError for what is not an output."""
        field = next((one for one in self._calculator.outputs if one.name == name), None)
        if field is None:
            raise KeyError(name)
        return self._numbers(name, [one and one.uncertainties.get(name) for one in self.results])

    def _column(self, field: Field) -> Any:
        values = [one and one[field.name] for one in self.results]
        return self._numbers(field.name, values) if field.is_number else self._texts(field.name, values)

    def _numbers(self, name: str, values: Sequence[Any]) -> Any:
        return self._like.make(name, values, True)

    def _texts(self, name: str, values: Sequence[Any]) -> Any:
        return self._like.make(name, values, False)

    def __repr__(self) -> str:
        found = [one.verdict for one in self.results if one is not None]
        counts = ", ".join(f"{found.count(word)} {word}" for word in dict.fromkeys(found)) or "none"
        failed = len(self.results) - len(found)
        return (
            f"{self._calculator.name}: {len(self.results)} rows, {counts}"
            + (f", {failed} without a result" if failed else "")
            + f"\n  {', '.join(self)}"
        )


def calculate(
    calculator: str,
    /,
    *,
    db: str | Path | None = None,
    for_: str | Sequence[str] = (),
    plugins: str | Path | None = None,
    errors: OnError = "raise",
    **inputs: Any,
) -> Calculated | CalculatedColumns:
    """Work out a calculator: ``calculate("NAME", INPUT=VALUE, ...)`` gives a :class:`Calculated`.

    Inputs have their names as 'bevelbook help NAME' lists them. A number is in the unit that the name ends in; a text
    is read as on the command line, with its unit and its ± (``"12.40 ± 0.02 g (k = 2)"``). None is not given. A listing
    takes texts, tuples in the order of its fields, dicts, or a table.

    A column (a list, a column of pandas or polars, an array of numpy) is worked out row by row, one value beside it
    for every row; the result is then a :class:`CalculatedColumns`. ``errors="keep"`` leaves a row that cannot be worked
    out empty and says why in its ``error``; else the first such row ends the call.

    ``db`` is a database, from which ``for_`` takes what is not given: a record such as ``rear-a/3``, or several.
    ``plugins`` is a folder of plugins; left out, that of BEVELBOOK_PLUGINS, if any.

    Raises UnknownNameError for a calculator or an input of another name, InputError for what is missing, cannot be read
    or is out of bounds, with the input and the row, PluginFault where the calculator itself fails.
    """
    registry = _registry_of(plugins)
    try:
        one = registry.calculator(calculator).calculator
    except UnknownNameError as fault:
        for left_out in registry.failures:
            fault.add_note(str(left_out))
        raise
    fields = {field.name: field for field in one.inputs}
    for name in inputs:
        if name not in fields:
            raise UnknownNameError("input", name, fields, by_command=f"'bevelbook help {calculator}' lists them.")
    given = _given(fields, inputs)
    known = _known(one, db, for_, given.texts)
    binder = Binder(one, {}).with_row(given.texts, given.options)
    if not given.columns:
        return Calculated(run(one, binder.bind(known)))
    for unreadable in binder.unreadable():
        raise unreadable
    like = next(iter(given.columns.values()))
    _refuse_other_rows(given.columns)
    return CalculatedColumns(one, list(_rows(one, binder, given.columns, known, errors)), like)


class _Given(NamedTuple):
    """The inputs of one call: those with one value as texts, each with how it is read, and the columns."""

    texts: dict[str, str | list[str]]
    options: dict[str, Options]
    columns: dict[str, GivenColumn]


def _given(fields: Mapping[str, Field], inputs: Mapping[str, Any]) -> _Given:
    found = _Given({}, {}, {})
    for name, value in inputs.items():
        field = fields[name]
        if is_missing(value):
            continue
        if field.kind == "listing":
            found.texts[name] = texts_of_listing(field, value)
            is_typed = any(isinstance(one, str) for one in (value if isinstance(value, (list, tuple)) else [value]))
            found.options[name] = BY_HAND if is_typed else EXACT
        elif (column := column_of(value)) is not None:
            found.columns[name] = column
        else:
            found.texts[name] = text_of_value(field, value)
            found.options[name] = options_for(value)
    return found


def _refuse_other_rows(columns: Mapping[str, GivenColumn]) -> None:
    """Raise InputError unless all columns have the same rows: they are never put in another order."""
    (first, like), *others = columns.items()
    for name, column in others:
        if len(column.values) != len(like.values):
            raise InputError(
                f"{len(column.values)} rows, where {first} has {len(like.values)}",
                code="columns_differ",
                place=Place(field=name),
                remedy="Give columns of the same length.",
            )
        if like.index is not None and column.index is not None and not like.index.equals(column.index):
            raise InputError(
                f"its index is another one than that of {first}",
                code="columns_differ",
                place=Place(field=name),
                remedy="Put both in one table first, or drop the index.",
            )


def _rows(
    calculator: Calculator[Any, Any],
    binder: Binder[Any],
    columns: Mapping[str, GivenColumn],
    known: Known,
    errors: OnError,
) -> Iterator[Calculated | str]:
    fields = {field.name: field for field in calculator.inputs}
    like = next(iter(columns.values()))
    for place in range(len(like.values)):
        given = {name: value for name, one in columns.items() if not is_missing(value := one.values[place])}
        try:
            texts: dict[str, str | list[str]] = {name: text_of_value(fields[name], one) for name, one in given.items()}
            row = binder.with_row(texts, {name: options_for(one) for name, one in given.items()})
            yield Calculated(run(calculator, row.bind(known)))
        except InputError as fault:
            if errors == "keep":
                yield str(fault)
                continue
            fault.what = Sentence(f"{like.row_in_words(place + 1)}: ", *parts_of(fault.what))
            raise
        except PluginFault as fault:
            if errors == "keep":
                yield fault.in_words()
                continue
            fault.add_note(f"in {like.row_in_words(place + 1)}")
            raise


def _known(
    calculator: Calculator[Any, Any], db: str | Path | None, named: str | Sequence[str], texts: Mapping[str, Any]
) -> Known:
    """What a database says of the inputs."""
    names = [named] if isinstance(named, str) else list(named)
    if db is None:
        if names:
            raise InputError(
                "for_ names a record, and no database is named",
                code="missing_input",
                place=Place(column="db"),
                remedy='Name it: db="team.db".',
            )
        return {}
    from contextlib import closing

    from bevelbook.calculating.known import find_subject, known_of
    from bevelbook.store.opened_to_read import open_for_reading
    from bevelbook.store.sqlite_errors import in_words

    path = Path(db)
    with closing(open_for_reading(path)) as connection, in_words(path):
        subjects = [find_subject(connection, name) for name in names]
        return known_of(connection, calculator, subjects, dict(texts))


def _registry_of(plugins: str | Path | None) -> Registry:
    """The plugins, loaded once; those of a folder again where one of its files is another than before."""
    plugins = plugins or os.environ.get("BEVELBOOK_PLUGINS")
    if not plugins:
        return _loaded(None, ())
    folder = Path(plugins)
    seen = [(file.name, file.stat().st_mtime_ns, file.stat().st_size) for file in sorted(folder.glob("*.py"))]
    return _loaded(folder, tuple(seen))


@lru_cache(_REGISTRIES)
def _loaded(folder: Path | None, _: tuple[tuple[str, int, int], ...]) -> Registry:
    from bevelbook.examining.admit import admitted
    from bevelbook.plugin.registry import load

    return load(folder=folder, admitted=admitted)


def _output(outputs: Mapping[str, Any], name: str) -> Any:
    """An output by its name. Raises AttributeError with near misses."""
    if name in outputs:
        return outputs[name]
    from bevelbook.declare.errors import near_misses

    near = "" if name.startswith("_") else near_misses(name, outputs)
    raise AttributeError(f"there is no output named {name!r}. {near}".strip())
