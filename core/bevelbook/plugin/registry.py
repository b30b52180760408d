"""Plugins: found, loaded one by one, called one by one. One that fails is reported with its reason; the rest keeps
working."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from functools import cache, partial
from importlib.machinery import SourceFileLoader
from pathlib import Path
from types import CodeType, FunctionType, MappingProxyType, MethodType, ModuleType
from typing import TYPE_CHECKING, Any, Final, NamedTuple, TypeVar

import pluggy

from bevelbook.declare.errors import (
    BevelbookError,
    DatabaseError,
    Place,
    PluginFault,
    UnknownNameError,
    near_misses,
    shown,
)
from bevelbook.declare.known_units import HOOK as UNITS
from bevelbook.declare.known_units import KNOWN
from bevelbook.declare.units import Unit
from bevelbook.plugin import guard, hookspecs
from bevelbook.plugin.admitting import NOTHING_LEFT_OUT, Admitting, LeftOutOfPlugin, key_of
from bevelbook.plugin.api import MARK, fault_of_version, version_said, why_not_imported
from bevelbook.plugin.calculator import Calculator, Formula
from bevelbook.plugin.entry_points_here import BundledPlugin, bundled_alone
from bevelbook.plugin.guard import CodeOwner, fault_of_text, safe_repr
from bevelbook.plugin.hookspecs import PROJECT
from bevelbook.plugin.offered_units import OfferedUnit, faults_of_offered_unit, faults_of_units
from bevelbook.plugin.origin import Origin
from bevelbook.plugin.printed_apart import keep_apart
from bevelbook.reference import DataSet, rows

if TYPE_CHECKING:
    from importlib.metadata import EntryPoint

    from bevelbook.plugin.chart import Chart, Curve
    from bevelbook.plugin.check import Finding, Reader
    from bevelbook.plugin.elsewhere import Elsewhere
    from bevelbook.plugin.profile import Profile
    from bevelbook.plugin.where_shown import CardPart

GROUP: Final = "bevelbook"
HOOK_PREFIX: Final = "bevelbook_"
OF_TESTS: Final = ("test_", "conftest.")
"""How the files of a folder begin that are an author's tests, and no plugins."""
HOOKS: Final = tuple(name for name in vars(hookspecs) if name.startswith(HOOK_PREFIX))

_CHECKS: Final = "bevelbook_checks"
_DECLARING: Final = ("bevelbook_charts", "bevelbook_datasets", "bevelbook_profiles")
"""The hooks whose offers stay the same; those of units and calculators are asked as plugins are loaded."""
OF_HOOK: Final = {
    UNITS: "units",
    "bevelbook_checks": "checks",
    "bevelbook_charts": "charts",
    "bevelbook_datasets": "reference_tables",
    "bevelbook_profiles": "profiles",
}
"""Of the bundled plugins the one that answers each hook but that of calculators."""
_OF_CHART: Final = "bevelbook_charts returned chart {!r}: "
_MARK: Final = f"{PROJECT}_impl"
_BOUND: Final = (MethodType, classmethod, staticmethod)

T = TypeVar("T")


class Failure(NamedTuple):
    """A plugin, or one thing that it offers, that was left out, with the reason."""

    origin: Origin
    reason: str

    def __str__(self) -> str:
        return f"{self.origin} left out: {self.reason}"


class LoadedFrom(NamedTuple):
    """What another process has to load to have the same plugins: those installed, and those of a folder, without what
    was left out, by the plugin's key."""

    folder: Path | None
    left_out: Mapping[str, LeftOutOfPlugin] = MappingProxyType({})


class Offered(NamedTuple):
    """A calculator and the plugin that offers it."""

    calculator: Calculator[Any, Any]
    origin: Origin


class Replaced(NamedTuple):
    """A calculator, and the one that a plugin put in its place on purpose."""

    offered: Offered
    by: Offered


class PluginManager(pluggy.PluginManager):
    """Passes over whatever in a module cannot carry the mark of a hook: looking at each name in full takes ten times
    as long as all else that loading a plugin does."""

    def parse_hookimpl_opts(self, plugin: Any, name: str) -> pluggy.HookimplOpts | None:
        if type(plugin) is ModuleType:
            held = vars(plugin).get(name)
            if not isinstance(held, _BOUND) and not (isinstance(held, FunctionType) and _MARK in vars(held)):
                return None
        return super().parse_hookimpl_opts(plugin, name)


class Registry:
    """What the loaded plugins offer, by name, and what was left out."""

    loaded_from: LoadedFrom | None = None
    """Set where :func:`load` made it of all that is installed."""
    elsewhere_for_upkeep: Callable[[], Elsewhere | None] | None = None
    """Gives what calls plugins while a record is stored, which must not be lost with a process that they end; None
    where they are called elsewhere anyway, or here."""

    def __init__(self) -> None:
        self._manager = PluginManager(PROJECT)
        self._manager.add_hookspecs(hookspecs)
        self._origins: dict[str, Origin] = {}
        self._origins_of_charts: dict[str, Origin] = {}
        self._charts_left_out: set[tuple[Origin, str]] = set()
        self._has_charts_looked_at = False
        self._elsewhere: Elsewhere | None = None
        self._kept_offers: dict[tuple[Origin, str], list[object]] = {}
        self._units: list[OfferedUnit] = []
        self._to_ask: list[tuple[object, Origin]] = []
        self._calculators: dict[str, Offered] = {}
        self._late: dict[str, tuple[Callable[[], object], Origin]] = {}
        self._in_order_of: dict[str, int] = {}
        self.replaced: dict[str, Replaced] = {}
        """Those that others took the place of, by name."""
        self._awaiting: list[Offered] = []
        self._charts_without_inputs: dict[str, str] = {}
        self.failures: list[Failure] = []
        self.left_out: Mapping[str, LeftOutOfPlugin] = {}
        """What examining the plugins left out, by their keys."""

    def load_when_asked(self, plugins: Sequence[tuple[Origin, Callable[[], object]]]) -> None:
        """Have bundled plugins wait until something of theirs is asked for: a command needs one or two of them. Units
        are known at once, since whatever is read or printed may hold one."""
        self._late = {origin.plugin: (imported, origin) for origin, imported in plugins}
        self._in_order_of = {name: place for place, name in enumerate(self._late)}
        self._load_late([OF_HOOK[UNITS]])

    def loaded_so_far(self) -> list[Origin]:
        """Where the plugins are from that were loaded so far."""
        return [*self._origins.values()]

    def load_all(self) -> None:
        """Load what still waits."""
        self._load_late(self._late)

    def _load_late(self, wanted: Iterable[str]) -> None:
        """Load those of these plugins that still wait; the order of all stays that of :func:`load`."""
        names = [name for name in wanted if name in self._late]
        if not names:
            return
        for name in names:
            self.add_from(*self._late.pop(name))
        self.take_offers()
        place = self._in_order_of
        self._origins = dict(sorted(self._origins.items(), key=lambda one: place[one[0]]))
        self._calculators = dict(sorted(self._calculators.items(), key=lambda one: place[one[1].origin.plugin]))

    def _load_calculator(self, name: str) -> None:
        """Load the calculator of that name; where the plugin named like it has none, all of them."""
        if self._late and self._held(name) is None:
            self._load_late([name.replace("-", "_")])
            if self._held(name) is None:
                self._load_late([one for one in self._late if one not in OF_HOOK.values()])

    def _held(self, name: str) -> Offered | Replaced | None:
        return self._calculators.get(name) or self.replaced.get(name)

    @property
    def calculators(self) -> dict[str, Offered]:
        """Those in force, by their own names."""
        if self._late:
            self._load_late([one for one in self._late if one not in OF_HOOK.values()])
        return self._calculators

    def calculator(self, name: str) -> Offered:
        """One calculator, or the one in its place. Raises UnknownNameError with near misses."""
        found = self.in_force(name)
        if found is None:
            unknown = UnknownNameError(
                "calculator", name, self.calculators, by_command="'bevelbook calculators' lists them all."
            )
            reason = self._why_calculator_left_out(name)
            if reason is not None:
                unknown.near = unknown.remedy = f"It was left out: {reason.removesuffix('.')}."
            raise unknown
        return found

    def _why_calculator_left_out(self, name: str) -> str | None:
        """Why no calculator of that name is offered, where one was left out."""
        begins, holds = f"calculator {name}: ", f"calculator {name!r}"
        reasons = [one.reason for one in self.failures if one.reason.startswith(begins) or holds in one.reason]
        return reasons[0].removeprefix(begins) if reasons else None

    def in_force(self, name: str) -> Offered | None:
        """The calculator that answers to a name: the one of that name, or the one that took its place; None without
        either."""
        self._load_calculator(name)
        while name in self.replaced and name not in self._calculators:
            name = self.replaced[name].by.calculator.name
        return self._calculators.get(name)

    def declared(self, name: str) -> Offered | None:
        """The calculator whose kept results bear that name, one that was replaced too; None where none is loaded."""
        self._load_calculator(name)
        return self._declared(name)

    def _declared(self, name: str) -> Offered | None:
        held = self.replaced.get(name)
        return self._calculators.get(name) or (held and held.offered)

    def with_rows(self) -> list[Offered]:
        """The calculators that kept results may be of, in order of name: those in force, and those that were replaced
        by one of another name."""
        names = sorted({*self.calculators, *self.replaced})
        return [offered for name in names if (offered := self.declared(name)) is not None]

    def resting_on(self, formula: Formula[Any, Any]) -> list[Offered]:
        """The calculators that offer a formula of core, the bundled first, then in order of name; with those that were
        replaced, as core goes on using its formula."""
        found = [
            *((name, offered) for name, offered in self.calculators.items()),
            *((name, one.offered) for name, one in self.replaced.items()),
        ]
        resting = [
            (not offered.origin.is_bundled, name, offered)
            for name, offered in found
            if (offered.calculator.given, offered.calculator.found) == (formula.given, formula.found)
        ]
        return [offered for *_, offered in sorted(resting, key=lambda one: one[:2])]

    def on_card(self, part: CardPart) -> list[Calculator[Any, Any]]:
        """The calculators shown under one part of the card, in order of name."""
        return [one for one in self._of_records() if one.card is not None and one.card.part == part]

    def on_page(self, kind: str) -> list[Calculator[Any, Any]]:
        """The calculators that the page of a record of this kind offers, in order of name."""
        return [one for one in self._in_order() if kind in one.page]

    def kept_after(self) -> list[Offered]:
        """The calculators whose results are kept after a record was written, in order of name."""
        return [self.calculators[one.name] for one in self._of_records() if one.kept_after]

    def for_conditions(self) -> list[Calculator[Any, Any]]:
        """The calculators that take conditions asked for, in order of name."""
        return [one for one in self._in_order() if one.for_conditions is not None]

    def for_forecast(self) -> list[Calculator[Any, Any]]:
        """The calculators that take weather to come, those first that need no more of it than a temperature."""
        taking = [one for one in self._in_order() if one.for_forecast is not None]
        return sorted(taking, key=lambda one: one.for_forecast is not None and one.for_forecast.grip is not None)

    def _of_records(self) -> list[Calculator[Any, Any]]:
        """Those that are on the card or kept after a record; one that names an unknown record is noted, once."""
        found = []
        for one in self._in_order():
            if one.card is None and not one.kept_after:
                continue
            try:
                one.check_records()
            except BevelbookError as fault:
                self._note(self.calculators[one.name].origin, fault.what)
            else:
                found.append(one)
        return found

    def _in_order(self) -> list[Calculator[Any, Any]]:
        return [self.calculators[name].calculator for name in sorted(self.calculators)]

    def add_from(self, imported: Callable[[], object], origin: Origin) -> None:
        """Register one plugin that has to be imported first; one that examining left out whole is not imported. What it
        offers waits for :meth:`take_offers`, since it may need the units of a plugin that comes later."""
        reason = self.left_out.get(key_of(origin), NOTHING_LEFT_OUT).whole
        if reason is not None:
            self.failures.append(Failure(origin, reason))
            return
        if not origin.is_bundled:
            keep_apart()
        try:
            module = guard.call(CodeOwner("", origin), "the import", imported, taken=_same)
        except PluginFault as fault:
            self.failures.append(Failure(origin, _why_not_imported(fault, origin)))
            return
        self._enter(module, origin)

    def add(self, module: object, origin: Origin) -> None:
        """Register one plugin and take what it offers; a fault is noted, never raised."""
        self._enter(module, origin)
        self.take_offers()

    def take_offers(self) -> None:
        """Take the units, then the calculators of the plugins that were registered since the last time: those that came
        with the program first, so that no other plugin's unit changes how their names are read."""
        waiting, self._to_ask = self._to_ask, []
        for are_bundled in (True, False):
            plugins = [(module, origin) for module, origin in waiting if origin.is_bundled == are_bundled]
            for module, origin in plugins:
                self._take_units(module, origin)
            for module, origin in plugins:
                for offer in self.collected("bevelbook_calculators", module, origin):
                    self._take_calculator(offer, origin)

    def _enter(self, module: object, origin: Origin) -> None:
        try:
            reason = guard.call(
                CodeOwner("", origin), "looking at its hooks", self._registered, module, origin, taken=_same
            )
        except PluginFault as fault:
            reason = fault.how
        if reason is not None:
            self.failures.append(Failure(origin, reason))
            return
        self._origins[self._key_of(origin)] = origin
        self._to_ask.append((module, origin))

    def _key_of(self, origin: Origin) -> str:
        """A plugin's name; of a second one with that name, also where it is from."""
        return origin.plugin if origin.plugin not in self._origins else f"{origin.plugin} in {origin.file}"

    def _registered(self, module: object, origin: Origin) -> str | None:
        """Register a plugin; returns why it cannot be, or None."""
        reason = fault_of_version(getattr(module, MARK, None)) or self._faults_of(module)
        if reason is None:
            try:
                self._manager.register(module, self._key_of(origin))
            except (ValueError, pluggy.PluginValidationError) as fault:
                return guard.one_line(fault)
        return reason

    def keep_out(self, elsewhere: Elsewhere | None) -> None:
        """Have the code of plugins that are not bundled called elsewhere from now on; None for here again.

        What each declares, its charts and tables among that, was loaded here and is asked for once, now.
        """
        self._kept_offers.clear()
        for module, origin in self.plugins():
            if elsewhere is not None and not origin.is_bundled:
                for hook in _DECLARING:
                    self._kept_offers[origin, hook] = self.collected(hook, module, origin)
        for offered in self.calculators.values():
            offered.calculator.elsewhere = None if offered.origin.is_bundled else elsewhere
        self._elsewhere = elsewhere

    def plugins_not_bundled(self) -> list[Origin]:
        """The loaded plugins that did not come with the program."""
        return [origin for origin in self._origins.values() if not origin.is_bundled]

    def _offers(self, hook: str, module: object, origin: Origin) -> list[object]:
        """What one plugin declares for one hook."""
        kept = self._kept_offers.get((origin, hook))
        return self.collected(hook, module, origin) if kept is None else kept

    def collected(self, hook: str, module: object, origin: Origin, **arguments: object) -> list[object]:
        """What one plugin returns for one hook; a fault while it does so is noted."""
        others = [plugin for plugin in self._manager.get_plugins() if plugin is not module]
        found: list[object] = []

        def ask() -> None:
            for offers in self._manager.subset_hook_caller(hook, others)(**arguments):
                found.extend(offers)

        try:
            guard.call(CodeOwner("", origin), hook, ask, taken=_same)
        except PluginFault as fault:
            self._note(origin, _how_and_where(fault))
        return found

    def _looked_at(self, origin: Origin, hook: str, look: Callable[[], T]) -> T | None:
        """The result of ``look`` at an object that a plugin offers; a fault of the object itself is noted, and gives
        None."""
        try:
            seen: T = guard.call(
                CodeOwner("", origin), f"{hook} returned something that, looked at,", look, taken=_same
            )
        except PluginFault as fault:
            self._note(origin, _how_and_where(fault))
            return None
        return seen

    def plugins(self) -> list[tuple[object, Origin]]:
        """The loaded plugins with where they came from, as they were loaded: the bundled first."""
        self.load_all()
        return self._loaded()

    def _loaded(self) -> list[tuple[object, Origin]]:
        return [(self._manager.get_plugin(name), origin) for name, origin in self._origins.items()]

    def _asked_for(self, hook: str) -> list[tuple[object, Origin]]:
        """The plugins, of the bundled ones at least those that answer a hook."""
        self._load_late([OF_HOOK[hook]])
        return self._loaded()

    def datasets(self) -> dict[str, DataSet]:
        """The reference tables of all plugins by name. One that lacks a source in a row is noted and left out."""
        found: dict[str, DataSet] = {}
        for module, origin in self._asked_for("bevelbook_datasets"):
            for offer in self._offers("bevelbook_datasets", module, origin):
                reasons = self._looked_at(origin, "bevelbook_datasets", partial(_faults_of_table, offer, found))
                for reason in reasons or ():
                    self._note(origin, reason)
                if reasons == () and isinstance(offer, DataSet):
                    found[offer.name] = offer
        return found

    def profiles(self, read: Callable[[Profile], object]) -> dict[str, Profile]:
        """The profiles of all plugins by name. One that is declared wrongly, whose name or language is taken, or for
        which ``read`` raises a BevelbookError is noted and left out."""
        from bevelbook.plugin.profile import Profile, fault_of_profile

        found: dict[str, Profile] = {}

        def faults_of(offer: object) -> tuple[str, ...]:
            reason = fault_of_profile(offer)
            if reason is None and isinstance(offer, Profile):
                taken = {one.name: one for one in found.values()} | {one.language: one for one in found.values()}
                held = next((taken[one] for one in (offer.name, offer.language) if one and one in taken), None)
                if held is not None:
                    return (f"profile {offer.name!r}: {held.name!r} is there already, which is used",)
                try:
                    read(offer)
                except (BevelbookError, OSError, ImportError, ValueError) as fault:
                    reason = f"profile {offer.name!r}: {guard.one_line(fault)}"
            return () if reason is None else (reason,)

        for module, origin in self._asked_for("bevelbook_profiles"):
            for offer in self._offers("bevelbook_profiles", module, origin):
                reasons = self._looked_at(origin, "bevelbook_profiles", partial(faults_of, offer))
                for reason in reasons or ():
                    self._note(origin, f"bevelbook_profiles returned {reason}")
                if reasons == () and isinstance(offer, Profile):
                    found[offer.name] = offer
        return dict(sorted(found.items()))

    def findings(self, reader: Reader) -> list[tuple[Finding, Origin]]:
        """What the checks of all plugins find, each with whose it is. A check that fails, or returns anything but
        findings, is noted."""
        found: list[tuple[Finding, Origin]] = []
        for module, origin in self._asked_for(_CHECKS):
            elsewhere = None if origin.is_bundled else self._elsewhere
            if elsewhere is None or not hasattr(module, _CHECKS):
                found += [(one, origin) for one in self._findings_of(module, origin, reader)]
                continue
            try:
                found_there, reasons = elsewhere.findings(origin, reader.opened_as)
            except PluginFault as fault:
                found_there, reasons = [], [f"{_CHECKS}: {fault.how}"]
            self.failures = [one for one in self.failures if one.origin != origin or not one.reason.startswith(_CHECKS)]
            for reason in reasons:
                self._note(origin, reason)
            found += [(one, origin) for one in found_there]
        return found

    def findings_of(self, plugin: tuple[str, str], reader: Reader) -> tuple[list[Finding], list[str]] | None:
        """What the checks of one plugin find, by its name and where it is from, and why others were left out; None
        where it is not loaded. Who asks may have named the folder otherwise."""
        name, file = plugin
        for module, origin in self._asked_for(_CHECKS):
            if origin.plugin == name and Path(origin.file).absolute() == Path(file).absolute():
                self.failures.clear()
                return self._findings_of(module, origin, reader), [one.reason for one in self.failures]
        return None

    def _findings_of(self, module: object, origin: Origin, reader: Reader) -> list[Finding]:
        from bevelbook.plugin.check import Finding, fault_of

        found: list[Finding] = []
        offers = self.collected(_CHECKS, module, origin, reader=reader)
        faults = [fault_of(offer) for offer in offers]
        sound = [one for one, fault in zip(offers, faults, strict=True) if isinstance(one, Finding) and not fault]
        known = _subjects_there(reader, sound)
        for offer, fault in zip(offers, faults, strict=True):
            if fault is not None or not isinstance(offer, Finding):
                self._note(origin, f"{_CHECKS} returned {fault}")
            elif offer.subject_id not in known[offer.subject_table]:
                self._note(origin, f"{_CHECKS} returned a Finding about no row of {offer.subject_table}")
            else:
                found.append(offer)
        return found

    def charts(self) -> list[Chart]:
        """The charts of all plugins by name. One that is declared wrongly, or has a name already taken, is noted."""
        from bevelbook.plugin.chart import Chart

        found: dict[str, Chart] = {}
        for module, origin in self.plugins():
            for offer in self._offers("bevelbook_charts", module, origin):
                reasons = self._looked_at(origin, "bevelbook_charts", partial(self._faults_of_chart, offer))
                for reason in reasons or ():
                    self._note(origin, f"bevelbook_charts returned {reason}")
                if reasons != () or not isinstance(offer, Chart) or (origin, offer.name) in self._charts_left_out:
                    continue
                if offer.name in found:
                    holder = self._origins_of_charts[offer.name]
                    self._note(origin, f"chart {offer.name!r} is offered by {holder} already; that one is used")
                elif not self._is_given_up(offer):
                    found[offer.name] = offer
                    self._origins_of_charts[offer.name] = origin
        return [found[name] for name in sorted(found)]

    def charts_to_look_at(self) -> list[Chart]:
        """The charts that nobody has looked at yet. The bundled ones are not among them: tests draw those."""
        if self._has_charts_looked_at:
            return []
        found = [chart for chart in self.charts() if self._origins_of_charts[chart.name].package != PROJECT]
        self._has_charts_looked_at = not found
        return found

    def leave_out_charts(self, looked_at: Sequence[Chart], fault_of: Callable[[Chart], str | None]) -> None:
        """Leave out from now on those of the charts for which ``fault_of`` gives a reason, or fails."""
        for chart in looked_at:
            origin = self._origins_of_charts[chart.name]
            reasons = self._looked_at(origin, "bevelbook_charts", partial(_in_a_tuple, fault_of, chart))
            if reasons == (None,):
                continue
            self._charts_left_out.add((origin, chart.name))
            if reasons is not None:
                self._note(origin, f"{_OF_CHART.format(chart.name)}{reasons[0]}")
        self._has_charts_looked_at = True

    def why_left_out(self, chart: str) -> str | None:
        """Why no chart of that name is offered, where one was left out."""
        if chart in self._charts_without_inputs:
            return self._charts_without_inputs[chart]
        named = _OF_CHART.format(chart)
        return next((one.reason.removeprefix(named) for one in self.failures if one.reason.startswith(named)), None)

    def owner_of_chart(self, name: str) -> CodeOwner:
        """How a fault names a chart; a chart that no plugin offers is part of the program."""
        origin = self._origins_of_charts.get(name)
        return CodeOwner(f"chart {name}", origin, is_core=origin is None)

    def _faults_of_chart(self, offer: object) -> tuple[str, ...]:
        from bevelbook.plugin.chart import fault_of_chart

        reason = fault_of_chart(offer) or self._fault_of_curve(offer)
        return () if reason is None else (reason,)

    def _fault_of_curve(self, offer: object) -> str | None:
        """Why the curve of a chart cannot be drawn, where its calculator is loaded."""
        curve = getattr(offer, "curve", None)
        offered = self.declared(curve.calculator) if curve is not None else None
        if curve is None or offered is None:
            return None
        unknown = _unknown_to(offered.calculator, curve)
        if unknown:
            return f"a chart of {', '.join(unknown)}, which the calculator {offered.calculator.name} does not have"
        return None

    def _is_given_up(self, chart: Chart) -> bool:
        """Whether the calculator of a curve was replaced by one that lacks what it draws: nobody's fault."""
        curve = chart.curve
        offered = self.in_force(curve.calculator) if curve is not None else None
        if curve is None or offered is None or not offered.calculator.replacing:
            return False
        unknown = _unknown_to(offered.calculator, curve)
        if unknown:
            one = offered.calculator
            self._charts_without_inputs[chart.name] = (
                f"it draws {', '.join(unknown)}, which {one.name} does not have, and that {one.replacing}"
            )
        return bool(unknown)

    def _note(self, origin: Origin, reason: str) -> None:
        failure = Failure(origin, reason)
        if failure not in self.failures:
            self.failures.append(failure)

    def _take_units(self, module: object, origin: Origin) -> None:
        """Know the units of a plugin, each but those that are none, or contradict core or another plugin."""
        if not hasattr(module, UNITS):
            return
        taken: list[Unit] = []
        calculators = None if origin.is_bundled else [one.calculator for one in self._calculators.values()]
        for offer in self.collected(UNITS, module, origin):
            look = partial(faults_of_offered_unit, offer, taken, self._units, calculators)
            reasons = self._looked_at(origin, UNITS, look)
            if reasons == () and isinstance(offer, Unit):
                taken.append(offer)
            elif reasons:
                name = offer.name if isinstance(offer, Unit) and isinstance(offer.name, str) else safe_repr(offer)
                self._note(origin, f"{UNITS} returned {shown(name)[1:-1]}: {reasons[0]}")
        self._units += (OfferedUnit(unit, origin) for unit in taken)
        KNOWN.take(str(origin), taken)

    def _take_calculator(self, offer: object, origin: Origin) -> None:
        if type(offer) is not Calculator:
            self._note(origin, f"bevelbook_calculators returned {safe_repr(offer)}, which is not a Calculator")
            return
        reason = self.left_out.get(key_of(origin), NOTHING_LEFT_OUT).calculators.get(offer.name)
        if reason is None and (fault := next(faults_of_units(offer), None)):
            reason = f"calculator {offer.name!r}: {fault}"
        if reason is not None:
            self._note(origin, reason)
            return
        offer.origin = origin
        self._put(Offered(offer, origin))
        while waiting := next((one for one in self._awaiting if one.calculator.replaces in self._calculators), None):
            self._awaiting.remove(waiting)
            self._put(waiting)

    def _put(self, offered: Offered) -> None:
        """Take a calculator under its name, and in place of the one that it replaces, if that is there yet."""
        calculator, origin = offered
        name, wanted = calculator.name, calculator.replaces
        held = self._declared(name)
        if wanted is None:
            if held is not None:
                self._note(
                    origin,
                    f"calculator {name!r} is offered by {held.origin} already; that one is used. Give this one another "
                    f"name; if it is to take the other's place, say replaces={name!r} too",
                )
                return
        elif held is not None and name != wanted:
            self._note(origin, f"calculator {name!r} is offered by {held.origin} already; that one is used")
            return
        elif wanted in self.replaced:
            by = self.replaced[wanted].by
            self._note(
                origin,
                f"calculator {name!r} replaces {wanted}, which the calculator {by.calculator.name} of "
                f"{by.origin.in_words} replaces already; that one is used",
            )
            return
        elif wanted not in self._calculators:
            self._awaiting.append(offered)
            return
        elif not self._replace(offered, self._calculators[wanted]):
            return
        self._calculators[name] = offered

    def _replace(self, offered: Offered, other: Offered) -> bool:
        """Take the place of another calculator; False, with the reason noted, where that cannot be."""
        (calculator, origin), (before, whose) = offered, other
        if calculator.name == before.name and calculator.version <= before.version:
            self._note(
                origin,
                f"calculator {calculator.name!r} replaces the one of {whose} under its own name, so kept results of "
                f"both stand together and the highest version counts: raise its version above {before.version}, or "
                "give it a name of its own",
            )
            return False
        bundled = "the bundled " if whose.is_bundled else ""
        calculator.replacing = f"replaces {bundled}{before.name}, by {origin.in_words}"
        calculator.take_place_of(before)
        del self._calculators[before.name]
        self.replaced[before.name] = Replaced(other, offered)
        return True

    def all_loaded(self) -> None:
        """Note what was to replace a calculator that no plugin offers."""
        for calculator, origin in self._awaiting:
            known = near_misses(calculator.replaces or "", self._calculators)
            self._note(
                origin,
                f"calculator {calculator.name!r} replaces {calculator.replaces!r}, which no plugin offers. "
                f"{known}".strip(),
            )
        self._awaiting.clear()

    def _faults_of(self, module: object) -> str | None:
        for name in dir(module):
            if not name.startswith(HOOK_PREFIX) or not callable(getattr(module, name)):
                continue
            if name not in HOOKS:
                return f"{name} is not a hook. {near_misses(name, HOOKS)}".strip()
            if self._manager.parse_hookimpl_opts(module, name) is None:
                return f"{name} lacks the @hookimpl mark"
        return None


def load(
    *,
    entry_points: Iterable[EntryPoint] | None = None,
    folder: Path | None = None,
    admitted: Admitting | None = None,
    when_asked: bool = False,
) -> Registry:
    """Build the registry from the installed entry points and, when named, from a folder of single .py files.

    What is bundled is loaded first, so that nothing else takes one of its names by accident; the files of tests in a
    folder are left out. ``admitted`` is asked about the other plugins before any of them is imported; without it, all
    are. With ``when_asked``, where nothing but what is bundled is there, each is loaded once something of it is needed.
    """
    registry = Registry()
    found = [
        (Origin(one.name, one.value, one.dist), one) for one in (_installed() if entry_points is None else entry_points)
    ]
    found.sort(key=lambda one: (not one[0].is_bundled, one[0].plugin, one[0].file))
    plugins: list[tuple[Origin, Callable[[], object]]] = [(origin, point.load) for origin, point in found]
    if folder is not None:
        plugins += _in_folder(folder)
    others = [origin for origin, _ in plugins if not origin.is_bundled]
    if when_asked and not others:
        registry.loaded_from = LoadedFrom(folder and folder.absolute())
        registry.load_when_asked(plugins)
        return registry
    if admitted is not None and others:
        registry.left_out = admitted(others)
    if entry_points is None:
        registry.loaded_from = LoadedFrom(folder and folder.absolute(), registry.left_out)
    for origin, imported in plugins:
        registry.add_from(imported, origin)
    registry.take_offers()
    registry.all_loaded()
    return registry


def _subjects_there(reader: Reader, findings: Sequence[Finding]) -> dict[str, set[str]]:
    """Which of the records that findings are about are in the database, by table."""
    from json import dumps

    asked: dict[str, set[str]] = {}
    for one in findings:
        asked.setdefault(one.subject_table, set()).add(one.subject_id)
    return {
        table: {
            row["id"]
            for row in reader.rows(
                f"SELECT t.id FROM json_each(?) j CROSS JOIN {table} t ON t.id = j.value", (dumps(sorted(ids)),)
            )
        }
        for table, ids in asked.items()
    }


def _unknown_to(calculator: Calculator[Any, Any], curve: Curve) -> list[str]:
    """What a curve draws or moves that the calculator does not have."""
    outputs, inputs = ({field.name for field in side} for side in (calculator.outputs, calculator.inputs))
    return [
        *(name for name in curve.outputs if name not in outputs),
        *(name for name in (curve.moved, *curve.given) if name not in inputs),
    ]


def _faults_of_table(offer: object, held: dict[str, DataSet]) -> tuple[str, ...]:
    if not isinstance(offer, DataSet):
        return (f"bevelbook_datasets returned {safe_repr(offer)}, which is not a DataSet",)
    if reason := next(filter(None, map(fault_of_text, offer)), None):
        return (f"bevelbook_datasets returned a DataSet with {reason}",)
    if offer.name in held:
        return (f"reference table {offer.name!r} is there already, from {held[offer.name].package}",)
    try:
        rows(offer.file, offer.package)
    except (BevelbookError, OSError, ImportError, KeyError, ValueError) as fault:
        return (f"reference table {offer.name!r}: {guard.one_line(fault)}",)
    return ()


@cache
def _installed() -> tuple[EntryPoint | BundledPlugin, ...]:
    """The entry points of this environment, read once in a process."""
    bundled = bundled_alone(GROUP)
    if bundled is not None:
        return bundled
    from importlib.metadata import entry_points

    return tuple(entry_points(group=GROUP))


def installed() -> tuple[EntryPoint | BundledPlugin, ...]:
    """The plugins that are installed in this environment, by their entry points."""
    return _installed()


def _in_folder(folder: Path) -> list[tuple[Origin, Callable[[], object]]]:
    """The plugins of a folder: each with where it is from, and how it is imported."""
    if not folder.is_dir():
        raise DatabaseError("no such folder of plugins", code="no_folder", place=Place(str(folder)))
    files = [file for file in sorted(folder.glob("*.py")) if not file.name.startswith(OF_TESTS)]
    return [(Origin(file.stem, str(file)), partial(module_of_file, file)) for file in files]


def module_of_file(file: Path) -> ModuleType:
    """Run a plugin's single file as a module."""
    from importlib.util import module_from_spec, spec_from_file_location

    name = f"bevelbook_folder_plugin_{file.stem}"
    spec = spec_from_file_location(name, file, loader=AsWritten(name, str(file)))
    if spec is None or spec.loader is None:
        raise ImportError(f"{file} cannot be run as Python")
    module = module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


class AsWritten(SourceFileLoader):
    """Runs a file as it is written now: what Python keeps of it compiled counts as the same for an edit of equal length
    within a second."""

    def get_code(self, fullname: str) -> CodeType:
        path = self.get_filename(fullname)
        code: CodeType = self.source_to_code(self.get_data(path), path)
        return code


def _same(value: Any) -> Any:
    return value


def _how_and_where(fault: PluginFault, known: str = "") -> str:
    """What went wrong, without the ``known`` beginning; with the file's bare name and the line if known."""
    place, how = fault.place, fault.how.removeprefix(known)
    return f"{how} ({Path(place.file).name}, line {place.line})" if place.file and place.line else how


def _why_not_imported(fault: PluginFault, origin: Origin) -> str:
    """Why a plugin cannot be imported; of one that was written for a newer program, that."""
    newer = fault_of_version(version_said(_text_of(origin)))
    if newer is not None:
        return newer
    if isinstance(fault.__cause__, ImportError):
        reason = why_not_imported(fault.__cause__, tuple(sys.modules[PROJECT].__all__))
        if reason is not None:
            fault.how = reason
    return f"cannot be imported: {_how_and_where(fault, 'the import raised ')}"


def _text_of(origin: Origin) -> str:
    """The text of a plugin's file, empty where it cannot be found or read."""
    from importlib.util import find_spec

    with suppress(OSError, ValueError, ImportError, AttributeError):
        spec = None if origin.distribution is None else find_spec(origin.file.partition(":")[0])
        file = origin.file if spec is None else spec.origin or ""
        return Path(file).read_text(encoding="utf-8") if file.endswith(".py") else ""
    return ""


def _in_a_tuple(fault_of: Callable[[Chart], str | None], chart: Chart) -> tuple[str | None]:
    """The reason, apart from the None of a look that failed."""
    return (fault_of(chart),)
