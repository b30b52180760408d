"""The hooks that a plugin may implement. Each is called for one plugin at a time, by ``registry``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import pluggy

if TYPE_CHECKING:
    from bevelbook.declare.units import Unit
    from bevelbook.plugin.calculator import Calculator
    from bevelbook.plugin.chart import Chart
    from bevelbook.plugin.check import Finding, Reader
    from bevelbook.plugin.profile import Profile
    from bevelbook.reference import DataSet

PROJECT = "bevelbook"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


@hookspec
def bevelbook_units() -> Iterable[Unit]:  # type: ignore[empty-body]
    """The units that this plugin adds: any field may then be declared in them, its own calculators' among them.

    >>> from bevelbook import Unit, hookimpl
    >>> @hookimpl
    ... def bevelbook_units():
    ...     return (
    ...         Unit("km/h", "a speed", 1 / 3.6, "_km_h", any_case="kmh kph", ucum="km/h"),
    ...         Unit("knot", "a speed", 1852 / 3600, any_case="kn knots"),
    ...     )
    >>> [unit.suffix for unit in bevelbook_units()]
    ['_km_h', None]

    A field of that plugin, or of any other, is then ``speed_km_h: float = quantity("km/h", "Speed", minimum=0)``;
    people type ``36``, ``36 km/h`` or ``20 knots`` for it.
    """


@hookspec
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:  # type: ignore[empty-body]
    """The calculators that this plugin offers."""


@hookspec
def bevelbook_datasets() -> Iterable[DataSet]:  # type: ignore[empty-body]
    """The reference tables that this plugin brings; every row names its source."""


@hookspec
def bevelbook_checks(reader: Reader) -> Iterable[Finding]:  # type: ignore[empty-body]
    """The findings of this plugin about the database, which it may only read."""


@hookspec
def bevelbook_charts() -> Iterable[Chart]:  # type: ignore[empty-body]
    """The charts that this plugin offers: each drawn on a page, with its rows as a table."""


@hookspec
def bevelbook_profiles() -> Iterable[Profile]:  # type: ignore[empty-body]
    """The profiles for imports that this plugin brings: what a team, or a language, writes above its sheets."""
