"""A small calculator declared for tests, of which any part may be changed."""

from __future__ import annotations

from typing import Any

from bevelbook.declare.fields import quantity, record
from bevelbook.declare.sources import Source
from bevelbook.plugin.calculator import Calculator, Judgement, Worked

HAND = Source("computed", "arithmetic")


@record
class Given:
    mass_g: float = quantity("g", "Mass", default=1.0)
    volume_cm3: float | None = quantity("cm3", "Volume", default=None)


@record
class Found:
    double_g: float = quantity("g", "Twice the mass")


def example(**changes: Any) -> Worked:
    return Worked({"mass_g": "1"}, {"double_g": 2.0}, 0, HAND)._replace(**changes)


def declared(**changes: Any) -> Calculator[Any, Any]:
    words: dict[str, Any] = {
        "name": "doubling",
        "title": "Doubling",
        "question": "What is twice that?",
        "purpose": "twice a mass",
        "version": 1,
        "given": Given,
        "found": Found,
        "compute": lambda given: Found(double_g=2 * given.mass_g),
        "judge": lambda given, found: Judgement("ok", ("twice",)),
        "working": lambda given, found: (),
        "valid": (),
        "sources": (HAND,),
        "worked": (Worked({"mass_g": "1"}, {"double_g": 2.0}, 0, HAND),),
        "answer": "double_g",
        **changes,
    }
    return Calculator(**words)
