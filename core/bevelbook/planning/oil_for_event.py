"""Which oil each diff needs for the forecast of an event: the one that is in, another, a second build, or unclear.

It is never more certain than its inputs, and says nothing beyond what was run. Which oil fits two ends of a forecast,
when it takes two builds, and how far off a temperature is where none was measured are this project's own proposals.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Collection, Sequence
from math import isclose
from typing import Final, Literal, NamedTuple

from bevelbook.declare.in_command import in_command
from bevelbook.declare.vocabulary import TOP_UP
from bevelbook.facts.diffs import APART
from bevelbook.facts.measured_diffs import measured_diffs
from bevelbook.facts.sql import Row, rows
from bevelbook.formulas.expected_temperature import MeasuredPast
from bevelbook.formulas.oil_off import off_share
from bevelbook.formulas.oil_over_forecast import OilsWanted
from bevelbook.physics.viscosity import LABEL_TOLERANCE_SHARE, cst_in_words
from bevelbook.planning.event_to_come import EventToCome
from bevelbook.planning.oil_runs import OilRuns
from bevelbook.planning.oil_wished import FORECAST_AGAIN, AskedFor, OilWished, oil_wished
from bevelbook.planning.oils_at_hand import OilsAtHand, OilToPour, blend_cautions, oil_named
from bevelbook.planning.places import DiffInPlace

What = Literal["keep", "change", "second", "unclear", "none"]
_ENDS: Final = ("cold", "hot")
_STATES: Final = f"""
SELECT d.id AS diff, s.word, b.fluid, f.label AS fluid_label, f.medium, k.viscosity_cst,
       CASE WHEN b.kind IS '{TOP_UP}' THEN k.oil_in_g ELSE coalesce(b.target_oil_mass_g, k.oil_in_g) END AS mass_g
FROM diffs d LEFT JOIN diff_facts s ON s.diff = d.id LEFT JOIN builds b ON b.id = s.current_build
LEFT JOIN build_facts k ON k.build = b.id LEFT JOIN fluids f ON f.id = b.fluid ORDER BY d.id
"""


class OilForDiff(NamedTuple):
    """What the forecast asks of a diff.

    keep     the oil that is in stays; ``oils`` has it, for a diff that is opened for another reason
    change   another one goes in, that of ``oils``
    second   of a spare: it gets the other of two oils that the forecast wants, that of ``oils``
    unclear  the records cannot tell; ``oils`` has what they say for the middle of the forecast, ``settle`` what would
             make it clear
    none     no oil is said, with the reason; ``oils`` may have the one that it had, or what a spare would need

    What feels right at both ends is from ``from_cst`` to ``to_cst`` at 25 °C, the interval of the temperature included.
    """

    what: What
    oils: tuple[OilToPour, ...]
    reasons: tuple[str, ...]
    settle: tuple[str, ...] = ()
    from_cst: float | None = None
    to_cst: float | None = None


class _State(NamedTuple):
    """The oil in a diff: in words, at 25 °C, by id; whether it is apart, holds an oil at all, and how much goes in."""

    name: str
    had_cst: float | None
    fluid: str | None
    fluid_label: str | None
    is_apart: bool
    is_oil: bool
    mass_g: float | None

    @property
    def is_in_cst(self) -> float | None:
        """The oil that is in; None of a diff that is apart, and where it is not known."""
        return None if self.is_apart else self.had_cst


class _Pour(NamedTuple):
    """An oil to pour: which is wanted, and what feels right."""

    wanted_cst: float
    needed_cst: float
    is_same_again: bool = False


class _Decided(NamedTuple):
    """What is said of a diff, before it is known what is left in the bottles."""

    what: What
    pours: tuple[_Pour, ...]
    reasons: tuple[str, ...]
    settle: tuple[str, ...] = ()
    wish: OilWished | None = None


def oils_for(
    connection: sqlite3.Connection,
    event: EventToCome,
    places: Sequence[DiffInPlace],
    opened: Collection[str] = (),
) -> dict[str, OilForDiff]:
    """Which oil each diff needs for an event, by the diff's id. Diffs ``opened`` for another reason, by id, are filled
    again, with the oil that stays.

    Two oils for one place are two builds: one for the diff in the car, one for a spare of that place. Bottles are
    shared out in the order of the places, so that what one diff takes is missing for the next.
    """
    team = _Team(connection, event, places)
    decided = {place.diff: team.decided(place) for place in places}
    _share_out(team, places, decided)
    found: dict[str, OilForDiff] = {}
    for takes in (True, False):
        for place in places:
            one = decided[place.diff]
            if (one.what in ("change", "second") or place.diff in opened) is takes:
                found[place.diff] = team.poured(place, one, takes=takes)
    return {place.diff: found[place.diff] for place in places}


class _Team:
    """What the records of a team say that a plan of its oils needs, read once."""

    def __init__(self, connection: sqlite3.Connection, event: EventToCome, places: Sequence[DiffInPlace]) -> None:
        self.event = event
        self.at_hand = OilsAtHand(connection)
        self._runs = OilRuns(connection)
        self._measured = measured_diffs(connection)
        self._pasts: dict[str, MeasuredPast] = {}
        self._wished: dict[tuple[str, AskedFor], OilWished] = {}
        self._at_hand_cst = tuple(self.at_hand.viscosities_cst)
        venue = rows(connection, "SELECT surface FROM venues WHERE id = ?", (event.venue,))
        self._surface = venue[0]["surface"] if venue else None
        self._states = {row["diff"]: _state(row) for row in rows(connection, _STATES)}
        self._names_at: dict[str | None, dict[str, None]] = {}
        """The names of the cars that have a diff in each place, in the order of the diffs."""
        for one in places:
            self._names_at.setdefault(one.position, {}).update(dict.fromkeys(_names_of(one)))
        self._cars: dict[str, list[str]] = {}
        for car in event.cars:
            self._cars.setdefault(car.name, []).append(car.car)

    def state(self, diff: str) -> _State:
        """The oil in a diff."""
        return self._states[diff]

    def decided(self, place: DiffInPlace) -> _Decided:
        """What the forecast asks of one diff by itself."""
        state = self.state(place.diff)
        same = (_Pour(state.had_cst, state.had_cst, True),) if state.had_cst is not None else ()
        if not state.is_oil:
            return _Decided("none", (), (f"{state.name} is not an oil",))
        if missing := _missing(self.event):
            return _Decided("none", (), (f"{missing[0]}, so no oil is said",), (missing[1],))
        if place.position is None:
            why = f"where {place.label} runs in the car is not known"
            return _Decided("none", same, (why,), (_where_it_runs(place.label),))
        wishes = self._wishes(place, place.position, state)
        if place.is_spare:
            return _of_spare(place, state, wishes, same)
        wish = _agreed(wishes)
        if wish.wanted is None:
            return _Decided("none", same, wish.reasons, wish.settle)
        pours = _pours(wish, state)
        if not state.is_apart and state.had_cst is None:
            why, settle = _unknown_oil(place, state)
            return _Decided("unclear", pours, (why, *wish.reasons), (settle, *wish.settle), wish)
        what: What = "unclear" if wish.wanted.what == "two" else wish.wanted.what
        return _Decided(what, pours or same, wish.reasons, wish.settle, wish)

    def _wishes(self, place: DiffInPlace, position: str, state: _State) -> list[OilWished]:
        """What the forecast wants in a place, for each car that shares the diff, and each grip that may be; of a spare
        for each car that has such a place."""
        there = self._runs.at(position, self._surface)
        if position not in self._pasts:
            self._pasts[position] = MeasuredPast(self._measured, position)
        names = self._names_at[position] if place.is_spare else _names_of(place)
        cars: list[tuple[str, str | None]] = [
            (name, car) for name in dict.fromkeys(names) for car in self._cars.get(name, [])
        ]
        cars = cars or [("", place.car)]
        grips: list[str | None] = [self.event.grip] if self.event.grip is not None else [*there.grips_kept] or [None]
        found = []
        for name, car in cars:
            for grip in grips:
                asked = AskedFor(state.is_in_cst, state.name, self._at_hand_cst, car, grip)
                key = (position, asked)
                if key not in self._wished:
                    self._wished[key] = oil_wished(self.event, there, self._pasts[position], asked)
                wish = self._wished[key]
                whose = [*([name] if len(cars) > 1 else []), *([f"{grip} grip"] if len(grips) > 1 else [])]
                settle = ("write down what grip is expected", *wish.settle) if len(grips) > 1 else wish.settle
                found.append(wish._replace(whose=" on ".join(whose), settle=settle))
        return found

    def poured(self, place: DiffInPlace, one: _Decided, *, takes: bool) -> OilForDiff:
        """The same with what goes in, by what is left in the bottles; what it ``takes`` is missing for the next."""
        state = self.state(place.diff)
        oils = []
        for pour in one.pours:
            oil = self.at_hand.poured(
                pour.wanted_cst, pour.needed_cst, state.mass_g, is_same_again=pour.is_same_again, fluid=state.fluid
            )
            if takes:
                self.at_hand.take(oil)
            oils.append(oil)
        reasons = [*one.reasons, *(caution for oil in oils for caution in blend_cautions(oil))]
        if one.what == "keep" and one.wish is not None and (hits := self._better_blend(state, one.wish)) is not None:
            reasons.append(f"if it is opened anyway, a blend hits the middle of it: {hits.words}")
        spans = (
            [cst for end in (one.wish.needed_low, one.wish.needed_high) if end is not None for cst in end[1:]]
            if one.wish is not None
            else []
        )
        settle = list(one.settle)
        if takes and any(oil.enough is None and oil.oil_mass_g is None for oil in oils):
            settle.append(f"write down how much oil went into {place.label}")
        return OilForDiff(
            one.what,
            tuple(oils),
            tuple(reasons),
            tuple(dict.fromkeys(settle)),
            min(spans, default=None),
            max(spans, default=None),
        )

    def _better_blend(self, state: _State, wish: OilWished) -> OilToPour | None:
        """A blend for the middle of the forecast, where the oil that stays is farther off than labels are exact."""
        if wish.wanted is None or wish.wanted.what != "keep" or state.is_in_cst is None:
            return None
        if abs(off_share(state.is_in_cst, wish.middle_cst)) <= LABEL_TOLERANCE_SHARE:
            return None
        return self.at_hand.blend_that_hits(wish.middle_cst, state.mass_g)


def _state(row: Row) -> _State:
    return _State(
        oil_named(row["fluid_label"], row["viscosity_cst"]),
        row["viscosity_cst"],
        row["fluid"],
        row["fluid_label"],
        row["word"] in (None, APART),
        row["medium"] in (None, "oil"),
        row["mass_g"] if row["mass_g"] is not None and row["mass_g"] > 0 else None,
    )


def _names_of(place: DiffInPlace) -> list[str]:
    """The cars that a diff is in or shared by, by name."""
    return [name for name in (place.car_name, *place.shared_with) if name]


def _where_it_runs(diff: str) -> str:
    return f"write down where {diff} usually runs: 'bevelbook record diff {in_command(diff)} usual_position=...'"


def _missing(event: EventToCome) -> tuple[str, str] | None:
    """What an event lacks for an oil to be said, and what to do about it."""
    if event.venue is None:
        return "no venue is written down for the event", "write down where it is"
    if not event.has_forecast:
        return "neither air nor track is expected for the event yet", "write down what air and track are expected"
    return None


def _unknown_oil(place: DiffInPlace, state: _State) -> tuple[str, str]:
    if state.fluid_label:
        return (
            f"how thick {state.fluid_label} is, that is in, is not known",
            f"give {state.fluid_label} its viscosity at 25 °C, and where that is from",
        )
    return (
        f"the oil in {place.build_label or place.label} is not recorded",
        f"write down the oil in {place.build_label or place.label}",
    )


def _pours(wish: OilWished, state: _State) -> tuple[_Pour, ...]:
    """What goes in by itself: of two that are wanted the one nearer to what the middle of the forecast takes."""
    assert wish.wanted is not None
    oils = wish.wanted.oils_cst
    if len(oils) > 1:
        nearer = min(oils, key=lambda one: abs(off_share(one, wish.middle_cst)))
        return (_Pour(nearer, nearer, _is_same(nearer, state.is_in_cst)),)
    return tuple(_Pour(one, wish.middle_cst, _is_same(one, state.is_in_cst)) for one in oils)


def _is_same(one_cst: float, other_cst: float | None) -> bool:
    return other_cst is not None and isclose(one_cst, other_cst, rel_tol=1e-9)


def _of_spare(place: DiffInPlace, state: _State, wishes: Sequence[OilWished], same: tuple[_Pour, ...]) -> _Decided:
    """A spare that nothing asks for: it is said for what it fits or what it would need, and it gives no work."""
    fits = next((one for one in wishes if one.wanted is not None and one.wanted.what == "keep"), None)
    if fits is not None:
        whose = f"for {fits.whose}: " if fits.whose else ""
        return _Decided("keep", _pours(fits, state), (f"{whose}{fits.reasons[0]}",), (), fits)
    wish = _agreed(wishes)
    pours = _pours(wish, state) if wish.wanted is not None else ()
    of_unknown = ", of which the viscosity is not known" if state.fluid_label and state.had_cst is None else ""
    is_in = "is open" if state.is_apart else f"has {state.name}{of_unknown}"
    return _Decided("none", pours or same, (f"a spare, which {is_in}", *wish.reasons[:2]), (), wish)


def _agreed(wishes: Sequence[OilWished]) -> OilWished:
    """One wish out of several: theirs where they want the same, else unclear with what each wants."""
    first = wishes[0]
    said = [one for one in wishes if one.wanted is not None]
    if not said or len({None if one.wanted is None else one.wanted[:2] for one in wishes}) == 1:
        return first
    wants = [f"{one.whose} wants {_oils_of(one)}" for one in wishes]
    of_all = [end for one in said for end in (one.needed_low, one.needed_high) if end is not None]
    oils_cst = tuple(sorted({cst for one in said if one.wanted is not None for cst in one.wanted.oils_cst}))
    return OilWished(
        OilsWanted("unclear", oils_cst),
        ("; ".join(wants), *(f"{one.whose}: {one.reasons[0]}" for one in wishes)),
        tuple(dict.fromkeys(one for wish in wishes for one in wish.settle)),
        min(of_all, key=lambda one: one.cst),
        max(of_all, key=lambda one: one.cst),
    )


def _oils_of(wish: OilWished) -> str:
    if wish.wanted is None:
        return "an oil that cannot be said"
    return " and ".join(f"{cst_in_words(cst, 4)} cSt" for cst in wish.wanted.oils_cst) or "none of those at hand"


def _share_out(team: _Team, places: Sequence[DiffInPlace], decided: dict[str, _Decided]) -> None:
    """Give each place that wants two oils a second build, in a spare of that place, as long as there is one."""
    free = [one for one in places if one.is_spare and team.state(one.diff).is_oil]
    for place in places:
        wish = decided[place.diff].wish
        if decided[place.diff].what == "change" and wish is not None and not place.is_spare:
            there = [one for one in free if one.position == place.position]
            held = [one for one in there if _fits(team.state(one.diff), wish.middle_cst)]
            saves = [f"{one.label}, a spare, has {_oil_of(team, one)}: in its place it saves the work" for one in held]
            one = decided[place.diff]
            decided[place.diff] = one._replace(reasons=(*one.reasons[:1], *saves, *one.reasons[1:]))
        is_known = team.state(place.diff).is_apart or team.state(place.diff).had_cst is not None
        if place.is_spare or not is_known or wish is None or wish.wanted is None or wish.wanted.what != "two":
            continue
        builds = _two_builds(team, place, wish, [one for one in free if one.position == place.position])
        if builds is None:
            one = decided[place.diff]
            middle = "; ".join(f"{cst_in_words(pour.wanted_cst, 4)} cSt" for pour in one.pours)
            why = (
                f"there is no spare for the {place.position} to build a second one, {middle} is nearer to the middle "
                "of the forecast"
            )
            reasons = (f"{one.reasons[0]}; {why}", *one.reasons[1:])
            decided[place.diff] = one._replace(reasons=reasons, settle=(FORECAST_AGAIN, *one.settle))
            continue
        decided.update(builds)
        free = [one for one in free if one.diff not in builds]


def _two_builds(
    team: _Team, place: DiffInPlace, wish: OilWished, spares: Sequence[DiffInPlace]
) -> dict[str, _Decided] | None:
    """What becomes of the diff in the car and of spares where a forecast wants two oils; None without a spare.

    An oil that the diff has stays in it; one that a spare has is there already.
    """
    assert wish.wanted is not None and wish.needed_low is not None and wish.needed_high is not None
    oils, takes = wish.wanted.oils_cst, (wish.needed_low.cst, wish.needed_high.cst)
    own = next((end for end in (0, 1) if _is_same(oils[end], team.state(place.diff).is_in_cst)), None)
    has: dict[int, DiffInPlace] = {}
    for end in (0, 1):
        free = (one for one in spares if one not in has.values() and _fits(team.state(one.diff), takes[end]))
        if end != own and (found := next(free, None)) is not None:
            has[end] = found
    left = [end for end in (0, 1) if end != own and end not in has]
    is_changed = own is None and bool(left)
    if is_changed:
        own = min(left, key=lambda end: abs(off_share(oils[end], wish.middle_cst)))
        left.remove(own)
    unused = [one for one in spares if one not in has.values()]
    if len(unused) < len(left):
        return None
    built = dict(zip(left, unused, strict=False))
    said = {
        **({own: f"{place.label} {'gets' if is_changed else 'keeps'}"} if own is not None else {}),
        **{end: f"{one.label} has" for end, one in has.items()},
        **{end: f"{one.label} gets" for end, one in built.items()},
    }
    words = ", ".join(
        f"{said[end]} {_oil_of(team, has[end]) if end in has else f'{cst_in_words(oils[end], 4)} cSt'} for the "
        f"{_ENDS[end]} end"
        for end in (0, 1)
    )
    reasons = (words, *wish.reasons)
    found_of: dict[str, _Decided] = {}
    if own is None:
        found_of[place.diff] = _Decided("none", (), reasons, wish.settle, wish)
    else:
        what: What = "change" if is_changed else "keep"
        pour = _Pour(oils[own], takes[own], not is_changed)
        found_of[place.diff] = _Decided(what, (pour,), reasons, wish.settle, wish)
    for one in has.values():
        had = team.state(one.diff).had_cst
        pours = (_Pour(had, had, True),) if had is not None else ()
        found_of[one.diff] = _Decided("keep", pours, reasons, (), wish)
    for end, one in built.items():
        found_of[one.diff] = _Decided("second", (_Pour(oils[end], takes[end]),), reasons, wish.settle, wish)
    return found_of


def _oil_of(team: _Team, one: DiffInPlace) -> str:
    return team.state(one.diff).name


def _fits(state: _State, needed_cst: float) -> bool:
    """Whether the oil in a diff is what feels right, as far as labels are exact."""
    return state.is_in_cst is not None and abs(off_share(state.is_in_cst, needed_cst)) <= LABEL_TOLERANCE_SHARE
