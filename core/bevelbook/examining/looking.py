"""In the process that examines: a plugin is loaded beside the bundled ones, and all that it offers is looked at."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from functools import partial
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import Any, Final

from bevelbook.declare.known_units import KNOWN
from bevelbook.examining.calling import Calls
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.examining.deprecated_uses import flaws_of_deprecated
from bevelbook.examining.examine import examine
from bevelbook.examining.flaw import Flaw
from bevelbook.examining.left_out_flaws import flaws_of_left_out
from bevelbook.examining.purity import Watch
from bevelbook.examining.target import Target
from bevelbook.examining.words import examine_docstring
from bevelbook.plugin.guard import CodeOwner
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import GROUP, Registry, load, module_of_file

IMPORT: Final = "the import"


class LookedAt:
    """What was found about one plugin: which calculators were looked at, and the flaws."""

    def __init__(self) -> None:
        self.calculators: list[str] = []
        self.flaws: list[Flaw] = []


def look_at(
    target: Target, beside: Iterable[Target], passed_over: Collection[str], begun: Callable[[str, str | None], None]
) -> LookedAt:
    """Load one plugin, beside the bundled ones and those of ``beside``, and look at what it offers.

    ``passed_over`` are calculators that ended the process before; ``begun`` gets each part that is called, and the
    calculator that it is of.
    """
    looked = LookedAt()
    declared = DeclaredLines([Path(one) for one in target.files])
    registry = load(entry_points=[one for one in _bundled() if one.value != target.file])
    for other in beside:
        if other != target:
            add(registry, other)
    origin, module = _origin_and_import(target)
    calls = Calls(CodeOwner("", origin), None, Watch(target.is_own, partial(_of_none, begun)))
    calls.make(IMPORT, partial(registry.add_from, module, origin))
    calls.make("bevelbook_calculators", registry.take_offers)
    registry.all_loaded()
    own = [one.calculator for one in registry.calculators.values() if one.origin == origin]
    for hook in (registry.charts, registry.datasets):
        calls.make(f"bevelbook_{hook.__name__}", hook)
    if own:
        examine_docstring(declared, calls)
    looked.flaws += calls.flaws
    looked.flaws += flaws_of_deprecated(Path(one) for one in target.files)
    if not any(one.is_serious for one in calls.flaws):
        looked.flaws += flaws_of_left_out([one for one in registry.failures if one.origin == origin], declared)
    for calculator in own:
        if calculator.name not in passed_over:
            watch = Watch(target.is_own, partial(_of, begun, calculator.name))
            looked.flaws += examine(calculator, declared, watch)
            looked.calculators.append(calculator.name)
    KNOWN.take(str(origin), ())
    return looked


def add(registry: Registry, target: Target) -> None:
    """Load a plugin into a registry."""
    origin, module = _origin_and_import(target)
    registry.add_from(module, origin)


def _origin_and_import(target: Target) -> tuple[Origin, Callable[[], object]]:
    if target.is_file:
        return Origin(target.plugin, target.file), partial(module_of_file, Path(target.file))
    points = entry_points(group=GROUP, name=target.plugin)
    point = next((one for one in points if one.value == target.file), EntryPoint(target.plugin, target.file, GROUP))
    return Origin(target.plugin, target.file, point.dist), point.load


def _bundled() -> list[EntryPoint]:
    points = entry_points(group=GROUP)
    return [one for one in points if Origin(one.name, one.value, one.dist).is_bundled]


def _of_none(begun: Callable[[str, str | None], None], part: str) -> None:
    begun(part, None)


def _of(begun: Callable[[str, str | None], None], calculator: str, part: str) -> None:
    begun(part, calculator)


def as_answer(looked: LookedAt) -> dict[str, Any]:
    """What crosses back."""
    return {"calculators": looked.calculators, "flaws": [one.as_dict() for one in looked.flaws]}
