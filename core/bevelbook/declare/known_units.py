"""The units that are known: those of core and those of plugins; and whether the name of a field says its unit.

Core brings its own (:mod:`bevelbook.declare.core_units`), plugins add theirs by the hook ``bevelbook_units``. The
table is one for the process: the registry fills it as it loads, so that everything that reads, shows or exports a
number knows them.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Final

from bevelbook.declare.core_units import CORE_UNITS
from bevelbook.declare.errors import near_names, shown
from bevelbook.declare.printable import printable
from bevelbook.declare.units import Unit, clash_of

UNITS_WITHOUT_SUFFIX: Final = ("1", "runs", "min")
"""Units of core whose fields have names that say no unit."""
_MAY_SAY_SO: Final = {"min": "_min"}
"""How a name may end that says such a unit, though it need not: a heading leaves that out too."""
A_SHARE: Final = "a share"
"""What a field in the unit 1 takes if it is a fraction: a number, or one with a percent sign."""
HOOK: Final = "bevelbook_units"


class KnownUnits:
    """The units that are known: those of core, and those that plugins gave, by their origin.

    ``by_name`` has those that a field may be declared in, ``by_about`` all of them by what they measure.
    """

    def __init__(self, of_core: tuple[Unit, ...]) -> None:
        self.of_core = of_core
        self._of_plugins: dict[str, tuple[Unit, ...]] = {}
        self._to_renew: list[Callable[[], object]] = []
        self._renew()

    @property
    def all(self) -> tuple[Unit, ...]:
        """Every unit, those of core first."""
        return (*self.of_core, *(unit for units in self._of_plugins.values() for unit in units))

    def origin_of(self, unit: Unit) -> str | None:
        """The plugin that gave a unit, None for one of core."""
        return next((origin for origin, units in self._of_plugins.items() if unit in units), None)

    def meant(self, canonical: str) -> Unit | None:
        """The unit of this name, or the first of those that measure this; None where it is not known."""
        return self.by_name.get(canonical) or next(iter(self.by_about.get(canonical, ())), None)

    def like(self, canonical: str) -> tuple[Unit, ...]:
        """All units that measure what this one does; none where it is not known."""
        unit = self.meant(canonical)
        return self.by_about[unit.about] if unit else ()

    def kept_in(self, unit: Unit) -> Unit:
        """The unit itself where fields are declared in it, else the first about the same that they are declared in."""
        if unit.suffix is not None:
            return unit
        return next((one for one in self.by_about[unit.about] if one.suffix is not None), unit)

    def take(self, origin: str, units: Iterable[Unit]) -> None:
        """Know the units of one plugin in place of those that it gave before.

        Those of another plugin that contradict them are forgotten: whoever loads plugins together has looked for
        clashes among them (:func:`clash_of`), so it is one that was loaded before, and is no more.
        """
        taken = tuple(units)
        if self._of_plugins.get(origin, ()) == taken:
            return
        others = {
            of: tuple(one for one in held if not any(clash_of(new, (one,)) for new in taken))
            for of, held in self._of_plugins.items()
            if of != origin
        }
        self._of_plugins = {**others, origin: taken} if taken else others
        self._renew()

    def when_changed(self, renew: Callable[[], object]) -> None:
        """Have something called whenever other units are known, such as the clearing of a cache."""
        self._to_renew.append(renew)

    def _renew(self) -> None:
        alike: dict[str, list[Unit]] = {}
        for unit in self.all:
            alike.setdefault(unit.about, []).append(unit)
        self.by_about: dict[str, tuple[Unit, ...]] = {about: tuple(units) for about, units in alike.items()}
        self.by_name: dict[str, Unit] = {}
        for unit in self.all:
            if unit.suffix is not None:
                self.by_name.setdefault(unit.name, unit)
        self.unit_of_suffix: dict[str, str] = {unit.suffix: name for name, unit in self.by_name.items() if unit.suffix}
        for renew in self._to_renew:
            renew()

    def suffix_of(self, name: str) -> str | None:
        """The longest suffix of a unit that a name ends in, if any."""
        start = name.find("_")
        while start >= 0:
            if name[start:] in self.unit_of_suffix:
                return name[start:]
            start = name.find("_", start + 1)
        return None

    def said_by(self, name: str) -> str | None:
        """The unit that a name says by its suffix, if any."""
        suffix = self.suffix_of(name)
        return self.unit_of_suffix[suffix] if suffix else None

    def contradiction(self, name: str, unit: str) -> str | None:
        """Why a field of this name cannot be declared in this unit, as far as known units say; None where a unit that
        is not known yet may settle it.

        >>> KNOWN.contradiction("mass_g", "g"), KNOWN.contradiction("pace_furlongs", "furlong/day")
        (None, None)
        >>> KNOWN.contradiction("mass", "g")
        'declared in g, but its name says no unit: call it mass_g'
        """
        said = self.said_by(name)
        known = self.by_name.get(unit)
        if known is not None:
            if said == unit or (said is None and not known.suffix):
                return None
            return f"declared in {unit}, but its name says {said or 'no unit'}: {self._right_name(name, known)}"
        if said is not None and any(unit in one.spellings for one in self.like(said)):
            return f"declared in {shown(unit)}, but its name says {said}: declare it in {said}, and type both"
        return None

    def fault_of_field(self, name: str, unit: str) -> str | None:
        """The same once all units are known: a unit that is none is a fault, with the known ones and near misses."""
        reason = self.contradiction(name, unit)
        if reason is not None or unit in self.by_name:
            return reason
        spelt = next((one for one in self.all if unit in one.spellings), None)
        if spelt is not None:
            kept = self.kept_in(spelt)
            return (
                f"declared in {shown(unit)}, which is a way to type {spelt.about}, and no field is declared in it. "
                f"Declare it in {kept.name}: {self._right_name(name, kept)}"
            )
        ends = [f"{one.name} (its name would end in {one.suffix})" for one in self._near(name, unit) if one.suffix]
        guess = f" Did you mean {' or '.join(ends)}?" if ends else ""
        return printable(
            f"declared in {shown(unit)}: there is no unit of that name.{guess} Known are {', '.join(self.by_name)}; "
            f"a plugin adds its own by the hook {HOOK}"
        )

    def _near(self, name: str, unit: str) -> list[Unit]:
        """Units with a spelling like this one; else that which the field's name says."""
        words: dict[str, Unit] = {}
        for one in self.all:
            for word in one.spellings:
                words.setdefault(word, self.kept_in(one))
        near = list(dict.fromkeys(words[word] for word in near_names(unit, words)))
        said = self.by_name.get(self.said_by(name) or "")
        return near or ([said] if said else [])

    def _right_name(self, name: str, unit: Unit) -> str:
        said = self.said_by(name)
        stem = name.removesuffix(self.suffix_of(name) or "")
        return f"call it {stem}{unit.suffix}" + (f", or declare it in {said}" if said and said != unit.name else "")


KNOWN: Final = KnownUnits(CORE_UNITS)
"""The units known in this process."""
OF_CORE: Final = KnownUnits(CORE_UNITS)
"""Those that core declares its own fields in, whatever plugins add."""


def suffix_of(name: str) -> str | None:
    """The longest unit suffix that a name ends in, if any.

    >>> suffix_of("density_g_cm3"), suffix_of("ratio")
    ('_g_cm3', None)
    """
    return KNOWN.suffix_of(name)


def unit_said_by(name: str) -> str | None:
    """The unit that a name says by its suffix, if any.

    >>> unit_said_by("density_g_cm3"), unit_said_by("ratio")
    ('g/cm3', None)
    """
    return KNOWN.said_by(name)


def suffix_in(name: str, unit: str | None) -> str | None:
    """The suffix by which a field's name says its unit, None where it says none. Where the unit is not known any suffix
    that the name ends in.

    >>> suffix_in("mass_g", "g"), suffix_in("ratio", "1"), suffix_in("reading_g", None), suffix_in("lasts_min", "min")
    ('_g', None, '_g', '_min')
    """
    known = KNOWN.by_name.get(unit or "")
    if known is None:
        return KNOWN.suffix_of(name)
    suffix = known.suffix or (_MAY_SAY_SO.get(known.name) if known.suffix == "" else None)
    return suffix if suffix and name.endswith(suffix) else None
