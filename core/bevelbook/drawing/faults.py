"""Why a chart was not drawn."""

from __future__ import annotations

from bevelbook.plugin.guard import Unfit


class SpecRefused(Unfit):
    """A specification that the library cannot draw: the words say why."""


class CannotDraw(Exception):
    """Nothing can be drawn here: the words say why."""
