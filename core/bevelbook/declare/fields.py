"""Fields. Each is declared once; column, heading, option, form, description and checks follow from it.

A record is a frozen, keyword-only class whose attributes are made with the specifiers below::

    @record
    class Weighing:
        mass_g: float = quantity("g", "Mass on the scale", minimum=0)
        note: str | None = text("What else was seen", default=None)

A specifier without ``default`` makes a required field, with a value a field that may be left out, with ``None``
an optional one. The name of a quantity ends in its unit (:mod:`bevelbook.declare.known_units`), the longest suffix
counts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any, Final, Literal, NamedTuple, TypedDict, TypeVar, Unpack, cast, dataclass_transform, overload

from bevelbook.declare.errors import DeclarationError
from bevelbook.declare.known_units import A_SHARE, KNOWN, OF_CORE, suffix_in

Kind = Literal["quantity", "text", "choice", "date", "time", "which_day", "whole", "reference", "listing"]

SheetTime = Literal["day", "before", "coming in", "laps", "driving", "after"]
"""The times of a day at which the run sheet is filled in."""

LARGEST: Final = 1e12
"""No number about a diff is larger, in any unit: the bound of a field without a physical bound of its own."""
LARGEST_WORKED_OUT: Final = 1e100
"""The bound of what is worked out of numbers up to ``LARGEST``: far beyond any of them, and short of infinity."""
_NO_BEHAVIOUR: Final = frozenset(
    {
        "__annotate__",
        "__annotate_func__",
        "__annotations__",
        "__annotations_cache__",
        "__dict__",
        "__doc__",
        "__firstlineno__",
        "__module__",
        "__qualname__",
        "__slots__",
        "__static_attributes__",
        "__weakref__",
    }
)
"""Special names that every class has."""
LAP_S: Final = (3, 300)
"""Seconds that a lap of a small car takes: outside of them a person is asked."""
SMALLEST: Final = 1e-12
"""No number about a diff except 0 is closer to 0."""


class Missing:
    """Marks a field that has no default: it must be given."""

    def __repr__(self) -> str:
        return "required"


REQUIRED: Final = Missing()
_FRACTIONS: Final = ("fraction", "share")
"""How the name of a share ends."""
_CORE: Final = __name__.partition(".")[0] + "."
_TYPICAL: Final = {
    "g": "22.34",
    "runs": "6",
    "cSt": "7000",
    "°C": "30",
    "s": "18.4",
    "min": "40",
    "mm": "0.2",
    "text": "a",
    "time": "14:05",
    "which_day": "2026-05-03",
}
"""Values by unit or kind as they are typed, for examples."""


class Filling(NamedTuple):
    """What a column of a note row fills, and what it makes; see :func:`filling`."""

    fills: tuple[tuple[type[Any], str], ...]
    named: type[Any] | None = None
    makes: type[Any] | None = None
    of_build: bool = False
    headings: tuple[str, ...] = ()
    once: bool = False
    also: tuple[type[Any], ...] = ()

    @property
    def owners(self) -> frozenset[type[Any]]:
        """The records that take its value."""
        return frozenset((*(owner for owner, _ in self.fills), *self.also))


class Field(NamedTuple):
    """Everything known about one field.

    ``minimum`` and ``maximum`` are physical bounds (outside is an error), ``above`` and ``below`` the same with the
    bound itself excluded; ``plausible`` is the range of sane values (outside it, a person is asked to confirm).
    ``target`` names the record a reference points to, ``item`` the record that a listing holds, ``singular`` the
    option under which one item of a listing is given. ``same_as`` names the column (``builds.dry_mass_g``) or the
    listing of the store from which a value may come. ``exact`` marks an output that carries no uncertainty.
    ``uncertainty_of`` names the output whose uncertainty (k = 2) this output is, ``low_of`` and ``high_of`` the one
    whose interval it ends: what a person typed with ± is combined with it, in quadrature. ``own_part_of`` names
    outputs of whose uncertainty it is the calculator's own part, which stays as it is. ``no_spread`` marks an output
    with an uncertainty of its own that is not given as a number: a ± of what was typed alone would be too small, so
    none is printed. ``until_typed`` marks an input that assumes how far off others are: it does not
    count where each of them was typed with its own ±.
    ``digits`` are the decimals that are shown, where its unit's would say too much or too little; ``figures`` is how
    many significant figures are shown at most, for a number whose size is not known beforehand.
    ``nullable`` is a field that may be None by its type.
    ``carried`` is a field that ``like=`` takes over from another record: what was decided, not weighed or felt.
    ``facet`` counts its values on the page of its table. ``followed`` is a reference that leads to a record from which
    values may be taken. ``on_run_sheet`` is the time of the day at which it is written down at the track; fields of one
    time keep the order declared, except that ``sheet_after`` (``runs.laps``) puts one right after another.
    ``heading`` is what people call it where the name itself would not say enough.
    ``example`` is what a person might type, where a typical value of its unit or kind makes no sense for it.
    ``filling`` is what a column of a note row fills.
    ``explained`` marks an output, or a column of the rows found, that people see only where the working is shown.
    ``may_come`` marks a day that may be in the future.
    ``may_be_share`` marks a number that is a share or not by another field of its record, so that it takes a %.
    ``of_laps`` marks a text of lap times, one after the other, each of which is read.
    """

    name: str
    kind: Kind
    about: str
    default: object = REQUIRED
    unit: str | None = None
    minimum: float | None = None
    maximum: float | None = None
    above: float | None = None
    below: float | None = None
    plausible: tuple[float, float] | None = None
    choices: tuple[str, ...] = ()
    target: str | None = None
    item: type[Any] | None = None
    singular: str | None = None
    heading: str | None = None
    example: str | None = None
    same_as: str | None = None
    exact: bool = False
    uncertainty_of: str | None = None
    low_of: str | None = None
    high_of: str | None = None
    own_part_of: tuple[str, ...] = ()
    no_spread: bool = False
    until_typed: tuple[str, ...] = ()
    digits: int | None = None
    figures: int | None = None
    nullable: bool = False
    carried: bool = False
    facet: bool = False
    followed: bool = True
    on_run_sheet: SheetTime | None = None
    sheet_after: str | None = None
    filling: Filling | None = None
    explained: bool = False
    may_be_share: bool = False
    may_come: bool = False
    of_laps: bool = False

    @property
    def required(self) -> bool:
        return self.default is REQUIRED

    @property
    def stem(self) -> str:
        """The name without its unit: ``dry_mass`` of ``dry_mass_g``."""
        suffix = suffix_in(self.name, self.unit) if self.kind == "quantity" else None
        return self.name[: -len(suffix)] if suffix else self.name

    @property
    def words(self) -> str:
        """The name for people: ``dry mass``, or the ``heading`` declared for it."""
        return self.heading or self.stem.replace("_", " ")

    @property
    def option(self) -> str:
        """The name on the command line: ``--dry-mass``, one item of a listing under its singular."""
        return "--" + (self.singular or self.stem).replace("_", "-")

    @property
    def item_shape(self) -> str:
        """How one item of a listing is written, its values joined by colons: ``runs:mass``."""
        return ":".join(part.stem for part in fields_of(self.item))

    @property
    def needed_shape(self) -> str:
        """The same without what may be left out at the end."""
        return ":".join(part.stem for part in self.needed_parts)

    @property
    def needed_parts(self) -> tuple[Field, ...]:
        """The fields of an item up to the last one that it needs; one before that may be left empty, not out."""
        parts = fields_of(self.item)
        return parts[: max((place for place, part in enumerate(parts, start=1) if part.required), default=0)]

    @property
    def item_example(self) -> str:
        """An item in that shape, with typical values: ``6:22.34``."""
        return ":".join(_typical(part) for part in self.needed_parts)

    @property
    def spread_of(self) -> tuple[str, ...]:
        """The outputs that this one gives the uncertainty, an end of the interval, or the calculator's own part of."""
        one = self.uncertainty_of or self.low_of or self.high_of
        return (one,) if one else self.own_part_of

    @property
    def is_fraction(self) -> bool:
        """Whether it is a share of something, which may be typed in percent: a number without a unit whose name ends in
        ``fraction`` or ``share``, that is at most 1, or that may be one by another field (``may_be_share``)."""
        if self.kind != "quantity" or self.unit != "1":
            return False
        bounds = [bound for bound in (self.maximum, self.below) if bound is not None]
        return (
            self.may_be_share or self.name.rpartition("_")[2] in _FRACTIONS or (bool(bounds) and 0 < min(bounds) <= 1)
        )

    @property
    def read_in(self) -> str:
        """The unit that a bare number is in, for :mod:`bevelbook.reading.units`."""
        return A_SHARE if self.is_fraction else self.unit or "1"

    @property
    def is_number(self) -> bool:
        return self.kind in ("quantity", "whole")

    def described(self) -> str:
        """What it is, with its unit, for the description of a column."""
        unit = f" [{self.unit}]" if self.unit and self.unit != "1" else ""
        return f"{self.about}{unit}"


def _typical(field: Field) -> str:
    """A value that the field takes, as a person types it."""
    if field.choices:
        return field.choices[0]
    if field.example is not None:
        return field.example
    text = _TYPICAL.get(field.unit or field.kind, "1")
    low, high = field.plausible or (None, None)
    return text if low is None or high is None or low <= float(text) <= high else f"{high / 10:g}"


class More(TypedDict, total=False):
    """What a specifier takes beside its default; see :class:`Field`."""

    minimum: float
    maximum: float
    above: float
    below: float
    plausible: tuple[float, float]
    singular: str
    heading: str
    example: str
    same_as: str
    exact: bool
    uncertainty_of: str
    low_of: str
    high_of: str
    own_part_of: tuple[str, ...]
    no_spread: bool
    until_typed: tuple[str, ...]
    digits: int
    figures: int
    carried: bool
    facet: bool
    followed: bool
    on_run_sheet: SheetTime
    sheet_after: str
    explained: bool
    may_be_share: bool
    may_come: bool
    of_laps: bool


class Declared(NamedTuple):
    """A field before it has a name."""

    kind: Kind
    about: str
    default: object
    more: dict[str, Any]


@overload
def quantity(unit: str, about: str, **more: Unpack[More]) -> float: ...
@overload
def quantity(unit: str, about: str, *, default: float, **more: Unpack[More]) -> float: ...
@overload
def quantity(unit: str, about: str, *, default: None, **more: Unpack[More]) -> float | None: ...
def quantity(unit: str, about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """A number with a unit: one that is known, or of the plugin itself. ``more``: minimum, maximum, above, below,
    plausible, same_as, exact, digits."""
    return Declared("quantity", about, default, {"unit": unit, **more})


@overload
def whole(about: str, **more: Unpack[More]) -> int: ...
@overload
def whole(about: str, *, default: int, **more: Unpack[More]) -> int: ...
@overload
def whole(about: str, *, default: None, **more: Unpack[More]) -> int | None: ...
def whole(about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """A whole number without a unit. ``more``: minimum, maximum, plausible, same_as."""
    return Declared("whole", about, default, {"exact": True, **more})


@overload
def text(about: str, **more: Unpack[More]) -> str: ...
@overload
def text(about: str, *, default: str, **more: Unpack[More]) -> str: ...
@overload
def text(about: str, *, default: None, **more: Unpack[More]) -> str | None: ...
def text(about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """Words, kept as written after trimming and composing accents (NFC). ``more``: same_as."""
    return Declared("text", about, default, {**more})


@overload
def choice(choices: tuple[str, ...], about: str, **more: Unpack[More]) -> str: ...
@overload
def choice(choices: tuple[str, ...], about: str, *, default: str, **more: Unpack[More]) -> str: ...
@overload
def choice(choices: tuple[str, ...], about: str, *, default: None, **more: Unpack[More]) -> str | None: ...
def choice(choices: tuple[str, ...], about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """One word of a fixed list. ``more``: same_as."""
    return Declared("choice", about, default, {"choices": choices, **more})


@overload
def date(about: str, **more: Unpack[More]) -> str: ...
@overload
def date(about: str, *, default: str, **more: Unpack[More]) -> str: ...
@overload
def date(about: str, *, default: None, **more: Unpack[More]) -> str | None: ...
def date(about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """A calendar day, ISO 8601 (``2026-05-03``)."""
    return Declared("date", about, default, {**more})


@overload
def time(about: str, **more: Unpack[More]) -> str: ...
@overload
def time(about: str, *, default: str, **more: Unpack[More]) -> str: ...
@overload
def time(about: str, *, default: None, **more: Unpack[More]) -> str | None: ...
def time(about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """A time of day, ``14:05``. Older files hold other texts in such a column."""
    return Declared("time", about, default, {**more})


@overload
def which_day(about: str, **more: Unpack[More]) -> str: ...
@overload
def which_day(about: str, *, default: None, **more: Unpack[More]) -> str | None: ...
def which_day(about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """Which day something was on, to keep days apart: a date in any form that reads in one way, as ISO 8601; else a
    number or a name (``1``, ``sat``), in small letters. See :func:`bevelbook.reading.dates.read_which_day`."""
    return Declared("which_day", about, default, {**more})


@overload
def reference(target: str, about: str, **more: Unpack[More]) -> str: ...
@overload
def reference(target: str, about: str, *, default: None, **more: Unpack[More]) -> str | None: ...
def reference(target: str, about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """The id of another record; ``target`` is the singular name of its kind."""
    return Declared("reference", about, default, {"target": target, **more})


T = TypeVar("T")


@overload
def listing(item: type[T], about: str, **more: Unpack[More]) -> tuple[T, ...]: ...
@overload
def listing(item: type[T], about: str, *, default: tuple[T, ...], **more: Unpack[More]) -> tuple[T, ...]: ...
def listing(item: type[Any], about: str, *, default: object = REQUIRED, **more: Unpack[More]) -> Any:
    """Any number of records of one kind. ``more``: singular (the option for one item), same_as."""
    return Declared("listing", about, default, {"item": item, **more})


_READ_BY: Final = ("unit", "minimum", "maximum", "above", "below", "plausible", "choices", "exact", "digits", "of_laps")


def filling(
    *fills: tuple[type[Any], str],
    named: tuple[type[Any], str] | None = None,
    read_as: tuple[type[Any], str] | None = None,
    about: str | None = None,
    required: bool = False,
    makes: type[Any] | None = None,
    of_build: bool = False,
    headings: tuple[str, ...] = (),
    once: bool = False,
    also: tuple[type[Any], ...] = (),
) -> Any:
    """A column of a note row. It is read like the first field that it fills, and fills each of those in ``fills``.

    ``named`` is the label of the record that the cell names, if the filled field is a reference; ``read_as`` another
    field to be read like. A value ``makes`` a record of that class; without it the value goes into the record if
    something else makes one, and else is kept beside the row. ``of_build`` marks a value that distinguishes the build
    from the one before: a row that leaves it empty is shown with the value of its build. ``once`` puts the value into
    the first record of ``fills`` that the row makes, and not into the others. ``also`` are records that take it in a
    column that placing works out; where these are all, ``read_as`` says how it is read. ``headings`` are what people
    write above such a column, in lower case; a word may be in those of several columns.

    Raises DeclarationError where a field is not declared, or where a reference is filled without ``named``.
    """
    for owner, column in (*fills, *(one for one in (named, read_as) if one)):
        if column not in {field.name for field in fields_of(owner)}:
            raise DeclarationError(f"{owner.__name__} has no field {column}", code="filling_unknown_field")
    first = (*fills, *(one for one in (read_as,) if one))[0]
    if (named is None) != (field_of(*first).kind != "reference"):
        raise DeclarationError(f"{first[1]}: a reference, and nothing else, takes named=", code="filling_named")
    source = field_of(*(named or read_as or first))
    said = Filling(fills, named[0] if named else None, makes, of_build, headings, once, also)
    more = {name: getattr(source, name) for name in _READ_BY}
    default = REQUIRED if required else None
    return Declared(source.kind, about or source.about, default, {**more, "filling": said})


class Record:
    """Behaviour of every record. Values are read-only; two records are equal when all their values are.

    Written out here instead of generated class by class: making a generated class costs over a millisecond each,
    and every start of the command line declares dozens.
    """

    __slots__ = ()
    fields: tuple[Field, ...] = ()
    _slots: tuple[tuple[str, object, Callable[[object, object], None]], ...] = ()

    def __init__(self, **values: Any) -> None:
        for name, default, put in self._slots:
            value = values.pop(name, default)
            if value is REQUIRED:
                made = type(self).__name__
                about = next((field.about for field in self.fields if field.name == name), "")
                raise TypeError(f"{made} needs {name}{f' ({about})' if about else ''}: {made}({name}=..., ...)")
            put(self, value)
        if values:
            raise TypeError(f"{type(self).__name__} has no {', '.join(sorted(values))}")

    def __setattr__(self, name: str, value: object) -> None:
        raise AttributeError(f"{type(self).__name__}.{name} is read-only")

    def __delattr__(self, name: str) -> None:
        raise AttributeError(f"{type(self).__name__}.{name} is read-only")

    def __eq__(self, other: object) -> bool:
        return type(self) is type(other) and list(items_of(self)) == list(items_of(other))

    def __hash__(self) -> int:
        return hash((type(self), tuple(items_of(self))))

    def __repr__(self) -> str:
        values = ((field.name, getattr(self, field.name, REQUIRED)) for field in self.fields)
        inside = ", ".join(f"{name}={value!r}" for name, value in values if value is not REQUIRED)
        return f"{type(self).__name__}({inside})"


_MADE_QUICKLY: Final[dict[type[Any], object]] = {}
"""The constructors that :func:`make_quickly` compiled, by class."""


def make_quickly(cls: type[Any]) -> None:
    """Compile the constructor of a record's class, for whoever makes thousands: it does what that of every record does,
    in a third of the time, and costs about as much to compile as a hundred records take."""
    names = [name for name, *_ in cls._slots]
    if cls in _MADE_QUICKLY or not is_of_fields(cls) or not names or any(name.startswith("_") for name in names):
        return
    scope: dict[str, Any] = {"_REQUIRED": REQUIRED, "_as_always": Record.__init__}
    for name, default, put in cls._slots:
        scope |= {f"_default_{name}": default, f"_put_{name}": put}
    is_odd = " or ".join(["_more", *(f"{name} is _REQUIRED" for name, default, _ in cls._slots if default is REQUIRED)])
    source = (
        f"def __init__(_self, *, {', '.join(f'{name}=_default_{name}' for name in names)}, **_more):\n"
        f"    if {is_odd}:\n"
        f"        return _as_always(_self, {', '.join(f'{name}={name}' for name in names)}, **_more)\n"
        f"{''.join(f'    _put_{name}(_self, {name})' + chr(10) for name in names)}"
    )
    exec(source, scope)
    _MADE_QUICKLY[cls] = scope["__init__"]
    type.__setattr__(cls, "__init__", scope["__init__"])


def items_of(one: object) -> Iterator[tuple[str, Any]]:
    """The names and values of a record, in the order declared."""
    for field in fields_of(one):
        yield field.name, getattr(one, field.name)


def fields_of(one: object) -> tuple[Field, ...]:
    """The fields of a record or of a record's class, in the order declared."""
    fields: tuple[Field, ...] = getattr(one, "fields", ())
    return fields


def field_of(one: object, name: str) -> Field:
    """One field by name."""
    for field in fields_of(one):
        if field.name == name:
            return field
    raise KeyError(name)


@dataclass_transform(
    kw_only_default=True,
    frozen_default=True,
    field_specifiers=(quantity, whole, text, choice, date, time, which_day, reference, listing, filling),
)
def record(cls: type[T]) -> type[T]:
    """Make a frozen, keyword-only, slotted class of the declared fields.

    It is its fields alone: to make one, to compare two and to print one runs no code of whoever declares it. Methods
    and properties of other names may be added.

    Raises DeclarationError when an annotation has no specifier, a name and its unit disagree, or the class is more than
    its fields. A unit that is not known may be one of the same plugin: it is looked at when the registry takes the
    calculator.
    """
    declared: dict[str, Any] = dict(cls.__dict__)
    for fault in _more_than_fields(cls, declared):
        raise DeclarationError(f"{cls.__name__} {fault}", code="record_not_of_fields")
    fields = tuple(_named(cls, name, type_, declared.get(name)) for name, type_ in cls.__annotations__.items())
    body = {key: value for key, value in declared.items() if key not in cls.__annotations__}
    body.pop("__dict__", None)
    body.pop("__weakref__", None)
    body["__slots__"] = tuple(field.name for field in fields)
    body["fields"] = fields
    made: Any = type(cls.__name__, (Record,), body)
    made._slots = tuple((field.name, field.default, getattr(made, field.name).__set__) for field in fields)
    return cast("type[T]", made)


def is_of_fields(cls: type[Any]) -> bool:
    """Whether a class was made by :func:`record`, and is nothing more."""
    held = {name: one for name, one in vars(cls).items() if name != "__init__" or one is not _MADE_QUICKLY.get(cls)}
    return type(cls) is type and cls.__bases__ == (Record,) and not next(_own_behaviour(held), None)


def _more_than_fields(cls: type[Any], declared: dict[str, Any]) -> Iterator[str]:
    if cls.__bases__ != (object,) or type(cls) is not type:
        named = ", ".join(base.__name__ for base in cls.__bases__ if base is not object) or type(cls).__name__
        yield f"is made of {named}: a record stands alone; write its fields out"
    for name in _own_behaviour(declared):
        yield f"has {name} of its own: a record is its fields alone; do that in a function"
    for name, value in declared.items():
        if isinstance(value, Declared) and name not in cls.__annotations__:
            yield f"has {name} without a type; write {name}: ... = ..."


def _own_behaviour(declared: Mapping[str, object]) -> Iterator[str]:
    """The special names of a class that Python or :func:`record` does not put there."""
    return (name for name in declared if name[:2] == name[-2:] == "__" and name not in _NO_BEHAVIOUR)


def _named(cls: type[Any], name: str, type_: object, declared: object) -> Field:
    owner, module = cls.__name__, cls.__module__
    if not isinstance(declared, Declared):
        raise DeclarationError(f"{owner}.{name} is declared without a specifier", code="field_without_specifier")
    field = Field(
        name, declared.kind, declared.about, declared.default, **declared.more, nullable=str(type_).endswith("None")
    )
    if field.kind == "quantity":
        known = OF_CORE if module.startswith(_CORE) else KNOWN
        reason = known.contradiction(name, field.unit or "")
        if reason is not None:
            raise DeclarationError(f"{owner}.{name} is {reason}", code="field_name_and_unit")
    return field


def record_from(cls: type[T], kept: str, rows: str | None = None) -> T | None:
    """A record of this class from JSON that names its fields; ``rows`` is the JSON of its listing if kept separately.

    None if it does not fit: not a JSON object, a needed field missing, an unknown one, a value of the wrong type.
    """
    import json

    try:
        values = json.loads(kept)
        listed = None if rows is None else json.loads(rows)
    except ValueError:
        return None
    apart = next((field.name for field in fields_of(cls) if field.kind == "listing"), None)
    if apart is not None and isinstance(values, dict) and apart not in values:
        values = {**values, apart: listed or []}
    return _record_of(cls, values)


class _Misfit(Exception):
    """A value that does not fit its field."""


def _record_of(cls: type[T], values: object) -> T | None:
    fields = {field.name: field for field in fields_of(cls)}
    if not isinstance(values, dict) or not values.keys() <= fields.keys():
        return None
    if any(field.required and name not in values for name, field in fields.items()):
        return None
    try:
        return cls(**{name: _value_of(fields[name], value) for name, value in values.items()})
    except _Misfit:
        return None


def _value_of(field: Field, value: object) -> object:
    if field.kind == "listing" and field.item is not None and isinstance(value, list):
        items = tuple(_record_of(field.item, item) for item in value)
        if None not in items:
            return items
    elif _fits(field, value):
        return float(value) if field.kind == "quantity" and isinstance(value, int) else value
    raise _Misfit


def _fits(field: Field, value: object) -> bool:
    if value is None:
        return field.nullable
    if field.is_number:
        return isinstance(value, (int, float) if field.kind == "quantity" else int) and not isinstance(value, bool)
    return isinstance(value, str) and (not field.choices or value in field.choices)
