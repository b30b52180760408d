"""What a plugin may import: fields, sources, errors, the calculator contract and the hook marker."""

from bevelbook.calculators import Calculator, Judgement, OneOf, Worked, refuse
from bevelbook.errors import InputError
from bevelbook.fields import choice, date, listing, quantity, record, text, whole
from bevelbook.hookspecs import hookimpl
from bevelbook.sources import Source

__version__ = "0.1.0"

__all__ = [
    "Calculator",
    "InputError",
    "Judgement",
    "OneOf",
    "Source",
    "Worked",
    "choice",
    "date",
    "hookimpl",
    "listing",
    "quantity",
    "record",
    "refuse",
    "text",
    "whole",
]
