"""The contents of the card of a build: its parts, their lines, and the results of formulas."""

from __future__ import annotations

from textwrap import shorten
from typing import Any, Final, NamedTuple

from bevelbook.calculating.for_record import GIVEN_ON, Attempt
from bevelbook.card.steps import CardStep, shortened
from bevelbook.declare.errors import PluginFault
from bevelbook.formulas.fill_window import grams_in_words, reading_in_words, window_in_words
from bevelbook.formulas.pouring_strip import PouringRow
from bevelbook.reference import RULES_FIRST

LONGEST_REASON: Final = 400
SHORT_NOTE: Final = 34
TURN_AT_EACH_SCREW: Final = "The figure at each screw is its turn"


class CardValue(NamedTuple):
    """A value with its name and where it came from; without a value it is a box to fill in.

    ``column`` is the column of the database that holds it, where there is one.
    """

    name: str
    value: str | None = None
    note: str = ""
    unit: str = ""
    column: str = ""

    @property
    def short_note(self) -> str:
        """The note as a sheet of paper has room for it: where it is too long, what was said of its source is left out.

        >>> CardValue("Oil", "1.86 g", "carried over from R1/1, where it was the oil put in").short_note
        'carried over from R1/1'
        """
        source = self.note.partition(", where ")[0]
        if len(source) <= SHORT_NOTE < len(self.note):
            return source
        return shorten(self.note, SHORT_NOTE, placeholder=" …")


class CalculatorResult(NamedTuple):
    """What a calculator says: its verdict, why, and what is worth a look; or what it lacks, or why it refused.

    ``given`` names the inputs that a person gave for it on an earlier day.
    """

    title: str
    verdict: str | None = None
    reasons: tuple[str, ...] = ()
    findings: tuple[str, ...] = ()
    lacking: tuple[str, ...] = ()
    refused: str | None = None
    given: str = ""


class CardSection(NamedTuple):
    """One part of the card: lines, what calculators say of them, and passes or pieces one after the other."""

    key: str
    title: str
    lines: tuple[CardValue, ...] = ()
    results: tuple[CalculatorResult, ...] = ()
    listed: tuple[str, ...] = ()
    picture: str | None = None
    picture_words: str = ""

    @property
    def caption(self) -> str:
        """What stands under the picture."""
        if not self.picture:
            return ""
        return TURN_AT_EACH_SCREW if self.key == "screws" else self.picture_words

    @property
    def has_blanks(self) -> bool:
        """Whether a value is not known yet."""
        return any(line.value is None for line in self.lines)

    @property
    def words(self) -> tuple[str, ...]:
        """In short: the verdicts of its results, and what is still to be measured."""
        return tuple(
            dict.fromkeys(one.verdict or ("to be measured" if one.lacking else "unclear") for one in self.results)
        )


class StopMass(NamedTuple):
    """The one number of the card: where to stop pouring, and the readings that are fine too."""

    mass_g: str | None
    low_g: str | None
    high_g: str | None
    result: CalculatorResult

    @property
    def window_words(self) -> str:
        """The readings that are fine, in words."""
        return window_in_words(self.low_g or "", self.high_g or "")


class PouringLine(NamedTuple):
    """One row of the strip for pouring, in words; a reading that is not known is a box to fill in."""

    on_scale: str | None
    zeroed: str | None
    to_go: str
    is_fine: bool
    is_stop: bool


class PouringStrip(NamedTuple):
    """Readings, each with what is still to go, with the diff on the scale and with the scale zeroed on the diff."""

    lines: tuple[PouringLine, ...]


def pouring_in_words(rows: tuple[PouringRow, ...], scale_step_g: float) -> PouringStrip:
    """A strip as the card shows it."""

    def reading(mass_g: float | None) -> str | None:
        return None if mass_g is None else reading_in_words(mass_g, scale_step_g)

    return PouringStrip(
        tuple(
            PouringLine(
                reading(row.reading_g),
                reading(row.zeroed_g),
                "stop" if row.is_stop else grams_in_words(row.to_go_g, scale_step_g),
                row.is_fine,
                row.is_stop,
            )
            for row in rows
        )
    )


class Card(NamedTuple):
    """All that the sheet of a build shows."""

    build_id: str
    build: str
    diff: str
    head: tuple[CardValue, ...]
    note: str
    stop: StopMass
    oil: str
    """The oil in one line: what goes in, how much, and how thick it is."""
    different: tuple[str, ...]
    """What differs from the build before, as far as it is written down."""
    before: str
    """The build before, empty where there is none."""
    pouring: PouringStrip
    parts: tuple[CardSection, ...]
    procedure: str
    steps: tuple[CardStep, ...]
    cautions: tuple[str, ...]
    rule: str = RULES_FIRST
    invented: bool = False
    clash: str = ""
    """That the build, or a part of it, was changed in two places, with what each version says."""
    leak: str = ""
    """What it lost of its oil, by which run, and what its opening found; empty where nothing says that it leaks."""
    plugin_faults: tuple[PluginFault, ...] = ()
    """What went wrong in calculators, each once; the parts and steps say it in words too."""

    @property
    def how_to_stop(self) -> str:
        """Where to stop pouring while the dry mass or the oil is not known."""
        oil = self.pouring.lines[-1].zeroed
        return "dry mass + oil to put in" if oil is None else f"dry mass + {oil} g; zeroed on the diff: {oil} g"

    @property
    def verdicts(self) -> tuple[str, ...]:
        results = [self.stop.result, *(result for part in self.parts for result in part.results)]
        return tuple(result.verdict for result in results if result.verdict)

    def as_dict(self) -> dict[str, Any]:
        """The card for programs; the picture is left out."""

        def plain(one: Any) -> Any:
            if isinstance(one, PluginFault):
                return one.as_dict()
            if hasattr(one, "_asdict"):
                found = {key: plain(value) for key, value in one._asdict().items()}
                found.pop("picture", None)
                return found
            return [plain(item) for item in one] if isinstance(one, tuple) else one

        card: dict[str, Any] = plain(self)
        return card


def result_of(done: Attempt[Any, Any]) -> CalculatorResult:
    """The result of a formula, as the card shows it."""
    if done.answer is None:
        return CalculatorResult(
            done.title, lacking=done.lacking, refused=done.refused and shortened(done.refused, LONGEST_REASON)
        )
    judged = done.answer.judgement
    by_origin: dict[str, list[str]] = {}
    for field in done.answer.formula.inputs:
        origin = done.answer.bound.origins[field.name]
        if origin.startswith(GIVEN_ON):
            by_origin.setdefault(origin, []).append(field.words)
    given = "; ".join(f"{', '.join(words)} as {origin}" for origin, words in by_origin.items())
    reasons, findings = (
        tuple(shortened(one, LONGEST_REASON) for one in texts) for texts in (judged.reasons, done.answer.findings)
    )
    return CalculatorResult(done.title, judged.verdict, reasons, findings, given=given)
