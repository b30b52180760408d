"""The readings of a scale, and what they say of it."""

from __future__ import annotations

import sqlite3
from typing import NamedTuple

from bevelbook.declare.errors import InputError
from bevelbook.facts.scales import ScaleKnown
from bevelbook.formulas.scale_check import (
    CheckReading,
    ScaleCheckFound,
    ScaleCheckGiven,
    ScaleFigures,
    doubt_about,
    figures_to_keep,
    judge_scale_check,
    scale_check,
)
from bevelbook.plugin.returned_values import Judgement


class ScaleSaid(NamedTuple):
    """What all readings of a scale say: ``found`` is None where they say nothing yet, ``judgement`` has the reason
    then; ``figures`` is what the scale counts with after them, None where they are too few or one is asked about;
    ``doubtful`` are the ids of those that are asked about."""

    found: ScaleCheckFound | None
    judgement: Judgement
    figures: ScaleFigures | None = None
    doubtful: tuple[str, ...] = ()

    def confirmed(self, given: ScaleCheckGiven, scale: ScaleKnown) -> ScaleSaid:
        """The same where a person says that what looks odd is right."""
        if self.found is None:
            return self
        of_days = scale.noise.day_to_day_g
        figures = figures_to_keep(given, self.found, is_confirmed=True, set_day_to_day_g=of_days)
        return self._replace(figures=figures)

    @property
    def says_of_days(self) -> bool:
        """Whether a thing was read on two days, so that they say something from day to day."""
        return self.found is not None and self.found.day_to_day_g is not None


def readings_of(connection: sqlite3.Connection, scale: str) -> tuple[CheckReading, ...]:
    """All readings of a scale (by id), in order."""
    return tuple(reading for _, reading in _readings(connection, scale))


def given_by(connection: sqlite3.Connection, scale: ScaleKnown) -> ScaleCheckGiven:
    """All readings of a scale, as inputs of its check."""
    return ScaleCheckGiven(readings=readings_of(connection, scale.row_id), scale_step_g=scale.noise.step_g)


def said_of(connection: sqlite3.Connection, scale: ScaleKnown) -> ScaleSaid:
    """What all readings of a scale say. Where they say nothing from day to day, the term that its record has stays."""
    given, of_days = given_by(connection, scale), scale.noise.day_to_day_g
    if not given.readings:
        return ScaleSaid(None, Judgement("unclear", ("no readings yet: put one thing on it ten times",)))
    try:
        found = scale_check(given)
    except InputError as fault:
        return ScaleSaid(None, Judgement("unclear", (f"{fault.what}: put one thing on it ten times on one day",)))
    doubt = doubt_about(given, found)
    ids = [row_id for row_id, _ in _readings(connection, scale.row_id)]
    return ScaleSaid(
        found,
        judge_scale_check(given, found, of_days),
        figures_to_keep(given, found, set_day_to_day_g=of_days),
        tuple(ids[place] for place in doubt.places) if doubt else (),
    )


def counts_with(scale: ScaleKnown) -> ScaleFigures | None:
    """What the record of a scale says; None for one that was never checked."""
    if scale.noise.repeatability_g is None:
        return None
    return ScaleFigures(scale.noise.repeatability_g, scale.noise.day_to_day_g)


def differs_in_words(scale: ScaleKnown, said: ScaleSaid) -> str | None:
    """That the readings say another figure than the record of the scale; None where they agree or say nothing."""
    now = counts_with(scale)
    if said.figures is None or said.figures == now:
        return None
    record = "has no repeatability" if now is None else f"says {now.words}"
    return f"the readings now say {said.figures.words}, the record {record}"


def _readings(connection: sqlite3.Connection, scale: str) -> list[tuple[str, CheckReading]]:
    return [
        (row_id, CheckReading(mass_g=mass_g, day=day, thing=thing))
        for row_id, mass_g, day, thing in connection.execute(
            "SELECT id, mass_g, read_on, thing FROM scale_readings WHERE scale = ? AND mass_g IS NOT NULL "
            "ORDER BY read_on, thing, place, id",
            (scale,),
        )
    ]
