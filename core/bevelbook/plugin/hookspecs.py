"""The hooks that a plugin may implement. Each is called for one plugin at a time, by ``registry``."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import pluggy

if TYPE_CHECKING:
    from bevelbook.plugin.calculator import Calculator
    from bevelbook.plugin.chart import Chart
    from bevelbook.plugin.check import Finding, Reader
    from bevelbook.plugin.profile import Profile
    from bevelbook.reference import DataSet

PROJECT = "bevelbook"
hookspec = pluggy.HookspecMarker(PROJECT)
hookimpl = pluggy.HookimplMarker(PROJECT)


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
