"""What is left in each bottle: by the scale, by what builds took, or by how full it looked.

A bottle on the scale settles all that was before it: what is left is its mass less that of the empty bottle, less what
builds took since. Without a reading, but with the full mass known, it is at most what is left of that: spills, and what
stayed in a syringe, are in no record. A look at it gives words; how many grams these stand for is this project's own
proposal (``SHARES``).
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import BOTTLE_LEVELS, OIL_CHANGE
from bevelbook.facts.oil import FILL_G, VISCOSITY_OF_BOTTLE
from bevelbook.facts.once import once
from bevelbook.facts.same_day import BuildsBefore
from bevelbook.facts.sql import Row, rows

if TYPE_CHECKING:
    import sqlite3

RestsOn = Literal["the scale", "full and empty mass", "how it looked", "nothing"]
BY_SCALE: Final = "the scale"
BY_MASSES: Final = "full and empty mass"
BY_LOOK: Final = "how it looked"
BY_NOTHING: Final = "nothing"
SHARES: Final = dict(zip(BOTTLE_LEVELS, ((0.8, 1.0), (0.3, 0.7), (0.0, 0.2)), strict=True))
"""Of a full bottle, the least and the most that each level by eye stands for: this project's own proposal."""
NOISE_G: Final = 0.1
"""So much less than nothing still counts as nothing, and so much under the empty mass as empty: two scales, or one of
0.1 g, differ as much. This project's own figure."""
_NOT_COUNTED: Final = "spills and what stayed in the syringe are not counted"
_NOT_KNOWN: Final = "not known"
_WEIGH_IT: Final = "put it on the scale"


class BottleLeft(NamedTuple):
    """A bottle that is not used up, and the least and the most that is left in it in g; None where that is not known.

    ``short`` says how much, ``how`` how that follows; ``is_below_none`` where builds took more than there was.
    """

    bottle: str
    label: str
    fluid: str
    fluid_label: str
    viscosity_cst: float | None
    low_g: float | None
    high_g: float | None
    short: str
    how: str
    rests_on: RestsOn
    is_below_none: bool = False

    @property
    def is_known(self) -> bool:
        """Whether anything is known of what is left in it."""
        return self.rests_on != BY_NOTHING

    @property
    def words(self) -> str:
        """How much is left, and how that follows."""
        return f"{self.short}: {self.how}" if self.how else self.short


class Poured(NamedTuple):
    """What a build took from a bottle, in g, the least and the most; the latter None where it is not known."""

    build: str
    built_on: str
    low_g: float
    high_g: float | None


class _BottleSeen(NamedTuple):
    row_id: str
    day: str
    mass_g: float | None
    level: str | None


class _Sum(NamedTuple):
    """What several builds took together; ``unknown`` counts those of which it is not known."""

    low_g: float
    high_g: float
    builds: int
    unknown: int

    @property
    def words(self) -> str:
        """``11.1 g in 6 builds``; of a build without its oil mass that too."""
        known = f"{_span(self.low_g, self.high_g)} in {counted(self.builds, 'build')}" if self.builds else ""
        unknown = f"{counted(self.unknown, 'build')} without the mass of its oil" if self.unknown else ""
        return " and ".join(filter(None, (known, unknown)))


_BOTTLES: Final = f"""
SELECT bo.id, bo.lot, bo.full_mass_g, bo.empty_mass_g, f.id AS fluid, f.label, {VISCOSITY_OF_BOTTLE} AS viscosity_cst
FROM bottles bo JOIN fluids f ON f.id = bo.fluid
WHERE coalesce(bo.empty, 'no') <> 'yes' ORDER BY f.label, bo.lot, bo.id
"""
_FILLS: Final = f"""
SELECT b.bottle, b.id, b.built_on, {FILL_G} AS fill_g,
       coalesce(b.kind = '{OIL_CHANGE}' AND b.washed IS NOT 'yes' AND b.dry_mass_g IS NULL, 0) AS over_old
FROM bottles bo CROSS JOIN builds b ON b.bottle = bo.id WHERE NOT EXISTS (
    SELECT 1 FROM blend_parts p WHERE p.build = b.id AND p.bottle = b.bottle)
ORDER BY b.id
"""
_BLENDED: Final = f"""
SELECT p.bottle, b.id, b.built_on, p.mass_g, {FILL_G} AS fill_g,
       (SELECT sum(q.mass_g) FROM blend_parts q WHERE q.build = b.id) AS blend_g
FROM blend_parts p CROSS JOIN builds b ON b.id = p.build WHERE p.bottle IS NOT NULL ORDER BY b.id, p.id
"""


def bottles_left(connection: sqlite3.Connection) -> list[BottleLeft]:
    """Every bottle that is not marked as used up, by fluid and lot, with what is left in it."""
    return [*_bottles_left(connection)]


@once
def _bottles_left(connection: sqlite3.Connection) -> list[BottleLeft]:
    poured = poured_from(connection)
    checks: dict[str, list[_BottleSeen]] = {}
    found = connection.execute(
        "SELECT bottle, id, checked_on, mass_g, level FROM bottle_checks ORDER BY checked_on, created_at, id"
    )
    for bottle, *check in found:
        checks.setdefault(bottle, []).append(_BottleSeen(*check))
    before = BuildsBefore(connection, "bottle_checks", "checked_on")
    return [
        _left(row, checks.get(row["id"], []), poured.get(row["id"], []), before) for row in rows(connection, _BOTTLES)
    ]


def left_in(connection: sqlite3.Connection) -> dict[str, BottleLeft]:
    """The same by the bottle's id."""
    return {one.bottle: one for one in bottles_left(connection)}


def poured_from(connection: sqlite3.Connection) -> dict[str, list[Poured]]:
    """What each build took from each bottle, by the bottle's id.

    Of a top-up it is what was added. Of an oil change without a wash, whose oil follows from masses, some of it is the
    old oil. Of a blend at most all that was mixed, and at least the share of it that went in: what is noted of a blend
    may be carried over from the build before, which took it from the bottles.
    """
    taken: dict[str, list[Poured]] = {}
    for row in rows(connection, _FILLS):
        fill = row["fill_g"] if row["fill_g"] is not None and row["fill_g"] > 0 else None
        low = 0.0 if fill is None or row["over_old"] else fill
        taken.setdefault(row["bottle"], []).append(Poured(row["id"], row["built_on"], low, fill))
    for row in rows(connection, _BLENDED):
        mass, fill = row["mass_g"], row["fill_g"]
        low = min(mass, fill * mass / row["blend_g"]) if mass and fill and fill > 0 else 0.0
        taken.setdefault(row["bottle"], []).append(Poured(row["id"], row["built_on"], low, mass))
    return taken


def _left(row: Row, checks: list[_BottleSeen], poured: list[Poured], before: BuildsBefore) -> BottleLeft:
    full, empty = row["full_mass_g"], row["empty_mass_g"]
    content = full - empty if full is not None and empty is not None and full > empty else None
    weighed = next((one for one in reversed(checks) if one.mass_g is not None), None)
    looked = next((one for one in reversed(checks) if one.mass_g is None and one.level is not None), None)

    def since(check: _BottleSeen) -> _Sum:
        return _sum(one for one in poured if not before.is_before(one.build, one.built_on, check.row_id, check.day))

    def said(low: float | None, high: float | None, short: str, how: str, rests_on: RestsOn) -> BottleLeft:
        if high is not None and high < -NOISE_G:
            is_under_empty = rests_on == BY_SCALE and weighed is not None and (weighed.mass_g or 0.0) < empty - NOISE_G
            much = (
                f"it cannot weigh less than empty: {_WEIGH_IT} again, or correct its empty mass"
                if is_under_empty
                else f"builds took {-high:.1f} g more than was in it: {_WEIGH_IT}, or mark it as used up"
            )
            return _bottle(row, None, None, _NOT_KNOWN, f"{much} ({how})", rests_on, is_below_none=True)
        low, high = (None if one is None else round(max(one, 0.0), 6) for one in (low, high))
        return _bottle(row, low, high, short, how, rests_on)

    if weighed is not None and weighed.mass_g is not None and empty is not None:
        took = since(weighed)
        on_scale = f"{weighed.mass_g:g} g on the scale on {weighed.day}, empty {empty:g} g"
        high = weighed.mass_g - empty - took.low_g
        low = None if took.unknown else weighed.mass_g - empty - took.high_g
        how = f"{on_scale}; {took.words} since" if took.words else on_scale
        if looked is not None and checks.index(looked) > checks.index(weighed):
            how = f"{how}; it looked {looked.level} on {looked.day}"
            if content is not None and low is not None:
                low = min(low, max(0.0, _by_eye(looked, content, since(looked))[1]))
        return said(low, high, _short(low, high, is_exact=not took.words), how, BY_SCALE)
    of_all = _sum(poured)
    if looked is not None and content is not None:
        took = since(looked)
        low, high = _by_eye(looked, content, took)
        high, middle = min(high, content - of_all.low_g), (low + high) / 2
        if took.words:
            how, short = f"{looked.level} by eye on {looked.day}; {took.words} since", _short(low, high)
        else:
            how, short = f"by eye on {looked.day}", f"{looked.level}, about {max(middle, 0.0):.0f} g"
        return said(None if took.unknown else low, high, short, how, BY_LOOK)
    if looked is not None:
        took = since(looked)
        since_then = f"; {took.words} since" if took.words else ""
        return _bottle(row, None, None, looked.level or "", f"by eye on {looked.day}{since_then}", BY_LOOK)
    if content is not None:
        how = f"{content:g} g when full" + (f", {of_all.words} since" if of_all.words else "")
        return said(
            None, content - of_all.low_g, _short(None, content - of_all.low_g), f"{how}; {_NOT_COUNTED}", BY_MASSES
        )
    lacking = f"{_WEIGH_IT}, and one like it that is empty" if empty is None else _WEIGH_IT
    if weighed is not None:
        lacking = f"{weighed.mass_g:g} g with the bottle on {weighed.day}, but its empty mass is not noted"
    return _bottle(row, None, None, _NOT_KNOWN, lacking, BY_NOTHING)


def _bottle(
    row: Row,
    low_g: float | None,
    high_g: float | None,
    short: str,
    how: str,
    rests_on: RestsOn,
    *,
    is_below_none: bool = False,
) -> BottleLeft:
    label = f"{row['label']}, {row['lot']}" if row["lot"] else str(row["label"])
    of_fluid = (row["fluid"], row["label"], row["viscosity_cst"])
    return BottleLeft(row["id"], label, *of_fluid, low_g, high_g, short, how, rests_on, is_below_none)


def _sum(poured: Iterable[Poured]) -> _Sum:
    pours = list(poured)
    known = [(one.low_g, one.high_g) for one in pours if one.high_g is not None]
    low, high = sum(one.low_g for one in pours), sum(high for _, high in known)
    return _Sum(low, high, len(known), len(pours) - len(known))


def _by_eye(looked: _BottleSeen, content_g: float, took: _Sum) -> tuple[float, float]:
    """The least and the most that is left by a look at the bottle and what was taken since."""
    least, most = SHARES[looked.level or BOTTLE_LEVELS[-1]]
    return least * content_g - took.high_g, most * content_g - took.low_g


def _short(low_g: float | None, high_g: float, *, is_exact: bool = False) -> str:
    if max(high_g, 0.0) < NOISE_G:
        return "nothing left"
    if low_g is None:
        return f"at most {high_g:.1f} g left"
    span = _span(max(low_g, 0.0), high_g)
    return f"{span} left" if is_exact or " to " in span else f"about {span} left"


def _span(low_g: float, high_g: float) -> str:
    """``11.1 g``, or ``9.8 to 11.1 g`` where both differ.

    >>> _span(11.14, 11.12), _span(0.0, 1.86)
    ('11.1 g', '0.0 to 1.9 g')
    """
    low, high = f"{low_g:.1f}", f"{high_g:.1f}"
    return f"{high} g" if low == high else f"{low} to {high} g"
