"""In the process that examines: a plugin is loaded beside the bundled ones, and all that it offers is looked at."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from functools import partial
from importlib.metadata import EntryPoint, entry_points
from pathlib import Path
from typing import Any, TypedDict

from bevelbook.declare.known_units import KNOWN
from bevelbook.examining.calling import Calls
from bevelbook.examining.declared_lines import DeclaredLines
from bevelbook.examining.deprecated_uses import flaws_of_deprecated
from bevelbook.examining.examine import examine
from bevelbook.examining.flaw import Flaw
from bevelbook.examining.left_out_flaws import flaws_of_left_out
from bevelbook.examining.parts import IMPORT
from bevelbook.examining.purity import Watch
from bevelbook.examining.target import Target
from bevelbook.examining.words import examine_docstring
from bevelbook.plugin.guard import CodeOwner
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.registry import GROUP, HOOKS, load, module_of_file


class Thorough(TypedDict):
    """Whether all that a plugin offers is tried, and the database that its checks are asked about, by its path."""

    all: bool
    database: str | None


class LookedAt:
    """What was found about one plugin: which calculators were looked at, and the flaws."""

    def __init__(self) -> None:
        self.calculators: list[str] = []
        self.flaws: list[Flaw] = []


def look_at(
    target: Target,
    beside: Iterable[Target],
    passed_over: Collection[str],
    begun: Callable[[str, str | None], None],
    thorough: Thorough,
) -> LookedAt:
    """Load one plugin, beside the bundled ones and those of ``beside``, and look at what it offers.

    ``passed_over`` are calculators that ended the process before; ``begun`` gets each part that is called, and the
    calculator that it is of. ``thorough`` asks for all that it offers to be tried: to load a plugin, its calculators
    are enough, since the rest is looked at where it is used.
    """
    looked = LookedAt()
    declared = DeclaredLines([Path(one) for one in target.files])
    registry = load(entry_points=_bundled_but(target))
    origin, module = _origin_and_import(target)
    calls = Calls(CodeOwner("", origin), None, Watch(target.is_own, partial(_of_none, begun)))
    calls.make(IMPORT, partial(registry.add_from, module, origin))
    for other in beside:
        if other != target:
            whose, imported = _origin_and_import(other)
            registry.add_from(imported, whose)
    calls.make("bevelbook_calculators", registry.take_offers)
    registry.all_loaded()
    own = [one.calculator for one in registry.calculators.values() if one.origin == origin]
    hooks = [hook for one, whose in registry.plugins() if whose == origin for hook in HOOKS if hasattr(one, hook)]
    for hook, ask in (("bevelbook_charts", registry.charts), ("bevelbook_datasets", registry.datasets)):
        if hook in hooks:
            calls.make(hook, ask)
    if thorough["all"]:
        from bevelbook.examining.offers import try_offers

        named = thorough["database"]
        try_offers(registry, origin, hooks, declared, calls, None if named is None else Path(named))
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


def _origin_and_import(target: Target) -> tuple[Origin, Callable[[], object]]:
    if target.is_file:
        return Origin(target.plugin, target.file), partial(module_of_file, Path(target.file))
    points = entry_points(group=GROUP, name=target.plugin)
    point = next((one for one in points if one.value == target.file), EntryPoint(target.plugin, target.file, GROUP))
    return Origin(target.plugin, target.file, point.dist), point.load


def _bundled_but(target: Target) -> list[EntryPoint]:
    return [
        one
        for one in entry_points(group=GROUP)
        if one.value != target.file and Origin(one.name, one.value, one.dist).is_bundled
    ]


def _of_none(begun: Callable[[str, str | None], None], part: str) -> None:
    begun(part, None)


def _of(begun: Callable[[str, str | None], None], calculator: str, part: str) -> None:
    begun(part, calculator)


def as_answer(looked: LookedAt) -> dict[str, Any]:
    """What crosses back."""
    return {"calculators": looked.calculators, "flaws": [one.as_dict() for one in looked.flaws]}
