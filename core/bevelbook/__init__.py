"""What a plugin may import: fields, sources, errors, the calculator contract and the hook marker.

The names are looked up when they are first used: a command that needs no plugin does not pay for the plugin machinery.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from bevelbook.calculators import Calculator, Judgement, OneOf, Worked, refuse
    from bevelbook.charts import Chart, Curve
    from bevelbook.errors import InputError
    from bevelbook.fields import choice, date, listing, quantity, record, text, whole
    from bevelbook.findings import NEAR_SHARE, Finding, Reader, milder
    from bevelbook.hookspecs import hookimpl
    from bevelbook.sources import Source

__version__ = "0.1.0"

__all__ = [
    "NEAR_SHARE",
    "Calculator",
    "Chart",
    "Curve",
    "Finding",
    "InputError",
    "Judgement",
    "OneOf",
    "Reader",
    "Source",
    "Worked",
    "choice",
    "date",
    "hookimpl",
    "listing",
    "milder",
    "quantity",
    "record",
    "refuse",
    "text",
    "whole",
]

_HOME: Final = {
    "calculators": ("Calculator", "Judgement", "OneOf", "Worked", "refuse"),
    "charts": ("Chart", "Curve"),
    "errors": ("InputError",),
    "fields": ("choice", "date", "listing", "quantity", "record", "text", "whole"),
    "findings": ("NEAR_SHARE", "Finding", "Reader", "milder"),
    "hookspecs": ("hookimpl",),
    "sources": ("Source",),
}


def __getattr__(name: str) -> object:
    for module, names in _HOME.items():
        if name in names:
            return getattr(import_module(f"bevelbook.{module}"), name)
    raise AttributeError(f"module 'bevelbook' has no attribute {name!r}")
