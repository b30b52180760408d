"""The lines of a plan: what to do with each diff, car by car and front to rear, and places without a diff."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Any, Final, NamedTuple

from bevelbook.declare.vocabulary import SECOND_ONE, UNCLEAR_WHAT
from bevelbook.display.diff_names import with_mark
from bevelbook.display.format import wrapped
from bevelbook.facts.runs import count_of
from bevelbook.planning.minutes import Minutes
from bevelbook.planning.oils_at_hand import OilToPour, blend_cautions
from bevelbook.planning.parts_wanted import PartWanted
from bevelbook.planning.plain_data import plain_data
from bevelbook.reports.due import RunsToGo

SURER_OF_OILS: Final = "To be surer of the oils"
"""Heads what would make the oils of several diffs clear."""
_WITHOUT_POURING: Final = {"keep": "its oil stays", "none": "no oil is said"}
"""What is said of the oil of a diff into which none goes."""


class PlanLine(NamedTuple):
    """One diff in a plan: where it is, what to do with it (``act``), and why in numbers.

    ``place`` is its place in the order of work, None where there is nothing to do. ``settle`` says what would make
    clear what the records cannot tell. ``oil_what`` is what its oil asks for (see ``oil_for_event.OilForDiff``), and
    ``oil_reasons`` why; ``oils`` are those that go in. ``done`` says what was done of it since the plan was kept, if
    anything was.
    """

    place: int | None
    diff: str
    label: str
    mark: str | None
    build: str | None
    build_label: str | None
    car: str | None
    car_name: str | None
    position: str | None
    is_spare: bool
    shared_with: tuple[str, ...]
    runs_planned: float | None
    act: str
    reasons: tuple[str, ...]
    settle: tuple[str, ...]
    runs_left: RunsToGo | None = None
    oil_what: str = "none"
    oil_reasons: tuple[str, ...] = ()
    oils: tuple[OilToPour, ...] = ()
    parts: tuple[PartWanted, ...] = ()
    minutes: Minutes | None = None
    done: str = ""

    @property
    def called(self) -> str:
        """The diff as people know it."""
        return with_mark(self.label, self.mark)

    @property
    def what(self) -> str:
        """What to do, with the oil of a second one: ``build a second one with 5,000, 1.86 g``."""
        if self.act == SECOND_ONE and self.oils:
            return f"{self.act} with {self.oils[-1].words}"
        return self.act

    @property
    def why(self) -> str:
        """The reasons in one line."""
        return "; ".join(self.reasons)

    @property
    def where(self) -> str:
        """The place as it is said: ``blue front``, ``spare, rear``."""
        return " ".join(
            one
            for one in ("spare," if self.is_spare and self.position else self.car_name or "spare", self.position)
            if one
        )

    @property
    def shared(self) -> str:
        """With which cars it is shared, in words; empty where with none."""
        return f"shared with {' and '.join(self.shared_with)}" if self.shared_with else ""

    @property
    def oil(self) -> str:
        """The oil that goes in, in words; empty where none does, and where ``what`` has it already."""
        words = "" if self.act == SECOND_ONE else "; ".join(one.words for one in self.oils)
        return f"unclear which; what the records say is {words}" if words and self.oil_what == "unclear" else words

    def about_oil(self, *, in_full: bool = False, is_named: bool = False) -> str:
        """The oil that goes in, and the first reason for it, or all, where ``reasons`` do not have it; that the one in
        it is kept, or that none is said. Empty where nothing is known about an oil; the reason alone where the oil
        ``is_named`` beside it."""
        others = [one for one in self.oil_reasons if one not in self.reasons]
        is_said = len(others) < len(self.oil_reasons)
        why = "; ".join(others if in_full else () if is_said else others[:1])
        if self.oil and is_named and self.oil_what != "none":
            return why
        if self.oil:
            because = f"; whether it is right is not known: {why}" if self.oil_what == "none" else f" ({why})"
            return f"oil: {self.oil}{because if why else ''}"
        if not why:
            return ""
        said = "oil" if self.is_spare else _WITHOUT_POURING.get(self.oil_what, "oil")
        return f"{said}: {why}"

    def settle_in_words(self, said_once: Collection[str] = ()) -> tuple[str, ...]:
        """What would settle it, but for what is ``said_once`` for several diffs, to which one that is unclear leads."""
        own = [one for one in self.settle if one not in said_once]
        if self.act != UNCLEAR_WHAT:
            return tuple(f"also: {one}" for one in own)
        there = [f'see "{SURER_OF_OILS}"'] if len(own) < len(self.settle) else []
        return tuple(f"to settle it: {one}" for one in (*own, *there))

    def lines(
        self, indent: str = "  ", *, in_full: bool = False, of_all: str = "", said_once: Collection[str] = ()
    ) -> Iterator[str]:
        """The line for people: the place, the diff, what to do and why, then what it takes; ``in_full`` with all that
        speaks for its oil. Where it stands for several, ``of_all`` has their names, which follow what to do.
        ``said_once`` is what stands elsewhere for several diffs."""
        why = f": {self.why}" if self.reasons else ""
        place = f"{self.position or 'somewhere'}: " if not self.is_spare else ""
        if of_all:
            yield from wrapped(f"{place}{self.what}{why}:", indent)
            yield from wrapped(of_all, f"{indent}  ")
        else:
            yield from wrapped(f"{place}{self.called}: {self.what}{why}", indent)
        more = [*self.settle_in_words(said_once)]
        oil = self.about_oil(in_full=in_full)
        more += [oil] if oil else []
        more += [one.short for one in self.oils if one.short]
        more += [caution for one in self.oils for caution in blend_cautions(one)]
        more += [", ".join(part_in_words(one) for one in self.parts)] if self.parts else []
        more += [self.minutes.words] if self.minutes else []
        more += [self.shared] if self.shared_with else []
        more += [self.done] if self.done else []
        for one in more:
            yield from wrapped(one, f"{indent}  ")

    def as_dict(self) -> dict[str, Any]:
        """The line for programs, with the words that people see."""
        return {**plain_data(self), "what": self.what, "where": self.where}


def part_in_words(part: PartWanted) -> str:
    """What an act takes of a part, and whether it is there.

    >>> part_in_words(PartWanted("shaft ring", "1", 2, "", 1, 1))
    '2 x shaft ring (1 left in the box: 1 short)'
    >>> part_in_words(PartWanted("gasket", None, 1, "", None, 0))
    '1 x gasket (not counted)'
    >>> part_in_words(PartWanted("new seals", None, 0, "not known which: note the seals fitted", None, 0))
    'new seals: not known which: note the seals fitted'
    """
    if not part.pieces:
        return f"{part.what}: {part.why}"
    there = "not counted" if part.have is None else f"{part.have or 'none'} left in the box"
    return f"{part.pieces} x {part.what} ({there}{f': {part.short} short' if part.short else ''})"


class OilHint(NamedTuple):
    """What would make the oils of several diffs clear, and these by their labels."""

    what: str
    diffs: tuple[str, ...]

    @property
    def words(self) -> str:
        """The hint with the diffs.

        >>> OilHint("write down the grip", ("front-a", "rear-a")).words
        'front-a, rear-a: write down the grip'
        """
        return f"{', '.join(self.diffs)}: {self.what}"


class PlaceWithoutDiff(NamedTuple):
    """A place of a car without a diff of its own: what is there ``instead``, such as a spool or a diff that stands
    under another car, or None where nobody wrote what is there.

    ``command`` writes it down; empty where nothing is missing.
    """

    position: str | None
    instead: str | None
    words: str
    command: str

    def lines(self, indent: str = "  ") -> Iterator[str]:
        """The place for people."""
        yield from wrapped(f"{self.words}{f': {self.command}' if self.command else ''}", indent)


class CarInPlan(NamedTuple):
    """A car that goes, with its lines front to rear, and its places without a diff. ``runs`` are those planned."""

    car: str
    name: str
    runs: float | None
    lines_of_diffs: tuple[PlanLine, ...]
    without: tuple[PlaceWithoutDiff, ...]

    @property
    def title(self) -> str:
        """The car with the runs planned."""
        return f"{self.name}, {count_of(self.runs)} planned" if self.runs is not None else self.name

    def as_dict(self) -> dict[str, Any]:
        """The car for programs."""
        return {
            "car": self.car,
            "name": self.name,
            "runs": self.runs,
            "lines": [one.as_dict() for one in self.lines_of_diffs],
            "without": plain_data(self.without),
        }
