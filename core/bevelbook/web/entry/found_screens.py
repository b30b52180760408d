"""The screens of the bench that there are, found by the files in ``steps/``."""

from __future__ import annotations

from collections.abc import Mapping
from functools import cache
from importlib import import_module
from pkgutil import iter_modules

from bevelbook.web.entry import steps
from bevelbook.web.entry.steps.step_screen import StepScreen


@cache
def declared_screens() -> Mapping[str, StepScreen]:
    """The screen that each module of ``steps/`` declares as ``SCREEN``, by its name."""
    names = sorted(module.name for module in iter_modules(steps.__path__))
    modules = [import_module(f"{steps.__name__}.{name}") for name in names]
    found = [module.SCREEN for module in modules if hasattr(module, "SCREEN")]
    return {screen.name: screen for screen in found}
