"""The chart contract: rows from the database or from a formula, drawn by a Vega-Lite specification, and as a table."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any, Final, NamedTuple

from bevelbook.declare.late_pattern import late_pattern
from bevelbook.plugin.guard import fault_of_text, safe_repr

_FETCHES: Final = frozenset({"data", "datasets", "url", "usermeta"})
_MAKING_COLUMNS: Final = frozenset({"transform", "repeat"})
_NAME: Final = late_pattern(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


class Curve(NamedTuple):
    """One input of a calculator varied over a range, the others fixed.

    ``low`` and ``high`` are values of that input, or multiples of the given value if ``relative``. ``given`` has inputs
    as a person types them, used when none are given. Values that the calculator refuses are left out.
    """

    calculator: str
    moved: str
    low: float
    high: float
    outputs: tuple[str, ...]
    given: Mapping[str, str | list[str]] = {}
    relative: bool = False
    logarithmic: bool = False
    points: int = 41


class Chart(NamedTuple):
    """One chart of a plugin.

    name        lower-case words joined by hyphens, for its address
    title       for people;  ``about``: what it shows, in a sentence
    columns     the table beside it: column and heading with its unit, in order
    spec        Vega-Lite, without data or addresses: the page adds the rows
    sql         a SELECT over the team's database, and/or
    curve       a calculator's input varied over a range; with ``sql``, once for each of its rows, whose columns give
                the inputs of the same names and are kept beside the points; or
    points      a function that makes the rows from a formula: it is called with the inputs of ``calculator`` on that
                calculator's page, and with None elsewhere
    empty       what to say where there is nothing to draw yet
    made        with ``sql`` alone: a function that makes the rows drawn from those that the database gave
    summary     a function of the rows drawn: what they show, in words put after ``about``
    """

    name: str
    title: str
    about: str
    columns: tuple[tuple[str, str], ...]
    spec: Mapping[str, Any]
    sql: str | None = None
    curve: Curve | None = None
    points: Callable[[Any], Iterable[Mapping[str, Any]]] | None = None
    calculator: str | None = None
    empty: str = "Nothing to draw yet."
    made: Callable[[Sequence[Mapping[str, Any]]], Iterable[Mapping[str, Any]]] | None = None
    summary: Callable[[Sequence[Mapping[str, Any]]], str] | None = None

    @property
    def of_calculator(self) -> str | None:
        """The calculator whose page shows it, if any."""
        return self.curve.calculator if self.curve and not self.sql else self.calculator

    @property
    def drawn_spec(self) -> Mapping[str, Any]:
        """Its specification, with the headings of its table at the axes for which it has no words of its own.

        >>> axes = {"x": {"field": "oil_g"}, "y": {"field": "off_g", "title": "off by [g]"}}
        >>> chart = Chart("a", "A", "All.", (("oil_g", "Oil [g]"), ("off_g", "Off [g]")), {"encoding": axes})
        >>> [axis["title"] for axis in chart.drawn_spec["encoding"].values()]
        ['Oil [g]', 'off by [g]']
        """
        said = {channel for channel, one in _channels(self.spec) if _has_title(one)}
        titled: Mapping[str, Any] = _titled(self.spec, dict(self.columns), {"x", "y"} - said)
        return titled


def fault_of_chart(offer: object) -> str | None:
    """Why an object is not a usable chart, or None.

    >>> fault_of_chart(3)
    '3, which is not a Chart'
    """
    if type(offer) is not Chart:
        return f"{safe_repr(offer)}, which is not a Chart"
    if not isinstance(offer.name, str) or not _NAME.fullmatch(offer.name):
        return f"a Chart named {safe_repr(offer.name)}: lower-case words joined by hyphens are wanted"
    if fault_of_text(offer.title) or fault_of_text(offer.about) or not offer.columns:
        return f"chart {offer.name!r} without a title, a sentence about it, or columns"
    if wrong := _wrong_kinds(offer):
        return f"chart {offer.name!r}: {wrong}"
    if (offer.points is None) == (offer.sql is None and offer.curve is None):
        return f"chart {offer.name!r}: either points, or sql or curve or both"
    if offer.made is not None and (offer.sql is None or offer.curve is not None):
        return f"chart {offer.name!r}: its rows are made from those of sql, alone"
    if not isinstance(offer.spec, Mapping):
        return f"chart {offer.name!r}: its spec is not a mapping"
    if fetching := sorted(_FETCHES & set(_keys(offer.spec))):
        return f"chart {offer.name!r}: its spec holds {', '.join(fetching)}; the page adds the rows"
    return None


def _wrong_kinds(offer: Chart) -> str | None:
    """Attributes of a chart with the wrong type."""
    if any(len(one) != 2 or not all(isinstance(word, str) for word in one) for one in offer.columns):
        return "its columns have to be pairs of a column and a heading"
    if not isinstance(offer.sql, str | None) or not isinstance(offer.calculator, str | None):
        return "its sql and its calculator have to be words"
    if not isinstance(offer.curve, Curve | None):
        return "its curve has to be a Curve"
    if not isinstance(offer.empty, str):
        return "its text for nothing to draw has to be words"
    return None


def _channels(part: object) -> Iterator[tuple[str, Mapping[str, Any]]]:
    """Every channel of every encoding of a specification."""
    if isinstance(part, Mapping):
        for name, value in part.items():
            if name == "encoding" and isinstance(value, Mapping):
                yield from ((channel, one) for channel, one in value.items() if isinstance(one, Mapping))
            yield from _channels(value)
    elif isinstance(part, (list, tuple)):
        for value in part:
            yield from _channels(value)


def _has_title(channel: Mapping[str, Any]) -> bool:
    axis = channel.get("axis", {})
    return "title" in channel or not isinstance(axis, Mapping) or "title" in axis


def _titled(part: Any, headings: Mapping[str, str], channels: Collection[str]) -> Any:
    """A copy of a specification whose fields have their headings as the titles of these channels."""
    if isinstance(part, (list, tuple)):
        return [_titled(value, headings, channels) for value in part]
    if not isinstance(part, Mapping):
        return part
    copied = {}
    for name, value in part.items():
        copied[name] = _titled(value, headings, channels)
        field = value.get("field") if name in channels and isinstance(value, Mapping) else None
        if isinstance(field, str) and field in headings:
            copied[name]["title"] = headings[field]
    return copied


def fault_of_columns(chart: Chart, given: Collection[str], whence: str) -> str | None:
    """Why a chart cannot be drawn of rows that have these columns, or None; ``whence`` says where the rows come from.

    A picture that makes columns of its own out of others is not looked at.
    """
    for name, _ in chart.columns:
        if name not in given:
            return f"its columns name {name!r}, which {whence} not give"
    if not _MAKING_COLUMNS.isdisjoint(_keys(chart.spec)):
        return None
    for name in (value for key, value in _pairs(chart.spec) if key == "field" and isinstance(value, str)):
        if name not in given:
            return f"its spec draws {name!r}, which {whence} not give"
    return None


def _keys(part: object) -> Iterator[str]:
    return (name for name, _ in _pairs(part))


def _pairs(part: object) -> Iterator[tuple[str, object]]:
    """Every key with its value, at any depth."""
    if isinstance(part, Mapping):
        for name, value in part.items():
            yield str(name), value
            yield from _pairs(value)
    elif isinstance(part, (list, tuple)):
        for value in part:
            yield from _pairs(value)
