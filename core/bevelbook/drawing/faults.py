"""Why a chart was not drawn."""

from __future__ import annotations

from bevelbook.plugin.guard import Unfit


class SpecRefused(Unfit):
    """A specification that the library cannot draw: the words say why."""


class TookTooLong(SpecRefused):
    """A drawing that was given up: on a machine with less to do it may succeed."""


class CannotDraw(Exception):
    """Nothing can be drawn here: the words say why."""
