"""The contents of the card of a build: its parts, their lines, and the results of formulas."""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from bevelbook.calculating.for_record import GIVEN_ON, Attempt
from bevelbook.card.steps import CardStep, shortened
from bevelbook.declare.errors import PluginFault
from bevelbook.reference import RULES_FIRST

LONGEST_REASON: Final = 400


class CardValue(NamedTuple):
    """A value with its name and where it came from; without a value it is a box to fill in.

    ``column`` is the column of the database that holds it, where there is one.
    """

    name: str
    value: str | None = None
    note: str = ""
    unit: str = ""
    column: str = ""


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


class StopMass(NamedTuple):
    """The one number of the card: where to stop pouring, and the readings that are fine too."""

    mass_g: str | None
    low_g: str | None
    high_g: str | None
    result: CalculatorResult

    @property
    def window_words(self) -> str:
        """The readings that are fine, in words."""
        if self.low_g == self.high_g:
            return "no other reading is nearer on this scale"
        return f"anything from {self.low_g} to {self.high_g} g is fine"


class Card(NamedTuple):
    """All that the sheet of a build shows."""

    build_id: str
    build: str
    diff: str
    head: tuple[CardValue, ...]
    note: str
    stop: StopMass
    parts: tuple[CardSection, ...]
    procedure: str
    steps: tuple[CardStep, ...]
    cautions: tuple[str, ...]
    rule: str = RULES_FIRST
    invented: bool = False
    plugin_faults: tuple[PluginFault, ...] = ()
    """What went wrong in calculators, each once; the parts and steps say it in words too."""

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
