"""What a plugin may import: fields, sources, errors, the lists of words, the calculator contract, the hook marker.

Names are imported when first used: a command without plugins does not load the plugin machinery.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from bevelbook.declare import vocabulary
    from bevelbook.declare.counting import counted
    from bevelbook.declare.errors import InputError, Place
    from bevelbook.declare.factor_by_pint import factor_by_pint
    from bevelbook.declare.fields import choice, date, items_of, listing, quantity, record, text, which_day, whole
    from bevelbook.declare.in_command import in_command
    from bevelbook.declare.sentence import Named, Sentence
    from bevelbook.declare.sources import Source
    from bevelbook.declare.units import Unit
    from bevelbook.facts.builds import newest_first, oldest_first
    from bevelbook.facts.oil import DENSITY_G_CM3, FILLED_G
    from bevelbook.notebook import Calculated, CalculatedColumns, calculate
    from bevelbook.notes.bundled_profiles import language_profiles
    from bevelbook.plugin.calculator import Calculator, OneOf, Worked, about_inputs, refuse
    from bevelbook.plugin.chart import Chart, Curve
    from bevelbook.plugin.check import NEAR_SHARE, Finding, Reader, about_build, milder
    from bevelbook.plugin.hookspecs import hookimpl
    from bevelbook.plugin.on_bench import BenchPass, BenchWait, OnBench
    from bevelbook.plugin.profile import Profile
    from bevelbook.plugin.returned_values import Judgement
    from bevelbook.plugin.where_shown import CardLine, ForConditions, ForForecast, OnCard, ShownInput, Supplied, Where
    from bevelbook.reference import DataSet

__version__ = "0.1.0"

__all__ = [
    "DENSITY_G_CM3",
    "FILLED_G",
    "NEAR_SHARE",
    "BenchPass",
    "BenchWait",
    "Calculated",
    "CalculatedColumns",
    "Calculator",
    "CardLine",
    "Chart",
    "Curve",
    "DataSet",
    "Finding",
    "ForConditions",
    "ForForecast",
    "InputError",
    "Judgement",
    "Named",
    "OnBench",
    "OnCard",
    "OneOf",
    "Place",
    "Profile",
    "Reader",
    "Sentence",
    "ShownInput",
    "Source",
    "Supplied",
    "Unit",
    "Where",
    "Worked",
    "about_build",
    "about_inputs",
    "calculate",
    "choice",
    "counted",
    "date",
    "factor_by_pint",
    "hookimpl",
    "in_command",
    "items_of",
    "language_profiles",
    "listing",
    "milder",
    "newest_first",
    "oldest_first",
    "quantity",
    "record",
    "refuse",
    "text",
    "vocabulary",
    "which_day",
    "whole",
]

_HOME: Final = {
    "notes.bundled_profiles": ("language_profiles",),
    "plugin.calculator": ("Calculator", "OneOf", "Worked", "about_inputs", "refuse"),
    "plugin.chart": ("Chart", "Curve"),
    "declare.counting": ("counted",),
    "declare.in_command": ("in_command",),
    "declare.errors": ("InputError", "Place"),
    "facts.builds": ("newest_first", "oldest_first"),
    "facts.oil": ("DENSITY_G_CM3", "FILLED_G"),
    "declare.fields": ("choice", "date", "items_of", "listing", "quantity", "record", "text", "which_day", "whole"),
    "declare.sentence": ("Named", "Sentence"),
    "notebook": ("Calculated", "CalculatedColumns", "calculate"),
    "plugin.check": ("NEAR_SHARE", "Finding", "Reader", "about_build", "milder"),
    "plugin.hookspecs": ("hookimpl",),
    "plugin.on_bench": ("BenchPass", "BenchWait", "OnBench"),
    "plugin.profile": ("Profile",),
    "plugin.returned_values": ("Judgement",),
    "declare.sources": ("Source",),
    "declare.factor_by_pint": ("factor_by_pint",),
    "declare.units": ("Unit",),
    "reference": ("DataSet",),
    "plugin.where_shown": ("CardLine", "ForConditions", "ForForecast", "OnCard", "ShownInput", "Supplied", "Where"),
}


def __getattr__(name: str) -> object:
    if name == "vocabulary":
        return import_module("bevelbook.declare.vocabulary")
    for module, names in _HOME.items():
        if name in names:
            from bevelbook.plugin.api import warn_of

            warn_of(name, 3)
            return getattr(import_module(f"bevelbook.{module}"), name)
    raise AttributeError(f"module 'bevelbook' has no attribute {name!r}")
