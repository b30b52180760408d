"""What was on the scale at a weighing, where nobody says it: taken from the known mass that the reading is near."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Final, NamedTuple

from bevelbook.declare.errors import InputError, Place
from bevelbook.declare.sentence import Named, Sentence
from bevelbook.declare.vocabulary import MASS_BASES, NOT_SAID
from bevelbook.entering.question import Question, Way
from bevelbook.facts.kept_facts import facts_of_some
from bevelbook.facts.near_masses import WeighedOff, known_masses, weighed_on_that_day
from bevelbook.facts.scales import noise_of
from bevelbook.formulas.near_masses import KnownMass, Offset, are_off_alike, fitting, is_equal, offset_of
from bevelbook.kept_json import object_in
from bevelbook.reading.dates import today_iso
from bevelbook.records.facts import BuildFacts

if TYPE_CHECKING:
    from bevelbook.entering.record import PreparedRecord

BOTH: Final = "both"
"""The field of the question whether two readings of a day are off by one thing on the scale."""
WEIGH_AGAIN: Final = "again"
KEEP_READING: Final = "keep"
NOT_KNOWN: Final = "none of these, or not known: it is compared with nothing until that is said"
TAKEN_AS: Final = "taken as "
"""Begins what is kept beside a basis that was taken and not typed."""
_BASIS: Final = "mass_basis"


class WeighedNow(NamedTuple):
    """A weighing to be written: its build and diff (by id), its day, the reading in g with its variance, and what is
    known of the build: in all, and from before that day."""

    build: str
    diff: str
    day: str
    mass_g: float
    variance_g2: float
    known: list[KnownMass]
    known_before: list[KnownMass]
    oil_in_g: float | None


class SameAmount(NamedTuple):
    """Another diff that was weighed that day, off by the same amount."""

    offset: Offset
    other: WeighedOff

    @property
    def words(self) -> str:
        """``both readings are 0.30 g over ...: a lid or a tray may be on the scale``, with what they are over."""
        over = self.offset.offset_g > 0
        thing = "a lid or a tray may be on the scale" if over else "the scale may have been zeroed with something on it"
        return (
            f"both readings are {abs(self.offset.offset_g):.2f} g {'over' if over else 'under'}, this one "
            f"{self.offset.of_what} and {self.other.diff_label} on the same day {self.other.offset.of_what}: {thing}"
        )


class WeighingQuestion(Question):
    """What only a person knows of a weighing, with the ways to answer. ``in_a_script`` is the error where nobody can be
    asked. Where the reading is kept all the same then, ``said`` is what is remarked about it."""

    def __init__(self, weighed: WeighedNow, what: str, code: str, field: str, ways: Iterable[Way]) -> None:
        super().__init__(what, code=code, field=field, found=f"{weighed.mass_g:.2f} g", answers=ways)
        self.in_a_script: InputError | None = None
        self.said = ""


def settled(connection: sqlite3.Connection, entry: PreparedRecord, answers: Mapping[str, str]) -> PreparedRecord:
    """A weighing with what was on the scale, where that is certain or answered; any other record as it is.

    ``answers`` has the key of a way by the field of its question. Raises WeighingQuestion for the first question that
    is left, whoever asks it.
    """
    weighed = weighed_now(connection, entry)
    if weighed is None:
        return entry
    alike = same_amount(connection, weighed)
    if alike is not None and answers.get(BOTH) != KEEP_READING:
        raise _about_both(weighed, alike)
    if not is_left_open(connection, entry):
        return entry
    near, answer = possible(weighed), answers.get(_BASIS)
    if len(near) == 1:
        return taken(entry, near[0])
    if near:
        by_key = dict(zip(_keys(near), near, strict=True))
        if answer in by_key:
            return taken(entry, by_key[answer])
        ways = [Way(key, one.words) for key, one in by_key.items()]
        what = f"{weighed.mass_g:.2f} g may be of several: what was on the scale?"
        question = WeighingQuestion(weighed, what, "mass_basis_open", _BASIS, ways)
        question.in_a_script = open_question(weighed, near)
        raise question
    off = off_known(weighed)
    if off is None or answer == NOT_SAID:
        return entry
    if answer in MASS_BASES:
        return with_basis(entry, answer, "asked for")
    raise _about_off(weighed, off)


def _about_both(weighed: WeighedNow, alike: SameAmount) -> WeighingQuestion:
    ways = (
        Way(WEIGH_AGAIN, "Weigh both again with nothing else on the scale"),
        Way(KEEP_READING, "Keep the reading"),
    )
    return WeighingQuestion(weighed, alike.words, "same_amount_off", BOTH, ways)


def _about_off(weighed: WeighedNow, off: Offset) -> WeighingQuestion:
    said = f"{weighed.mass_g:.2f} g is {off.words}, more than the scale or lost oil explains"
    ways = [*(Way(basis, basis) for basis in MASS_BASES), Way(NOT_SAID, NOT_KNOWN)]
    question = WeighingQuestion(weighed, f"{said}. What was on the scale?", "mass_basis_open", _BASIS, ways)
    question.said = said
    return question


def _keys(near: Sequence[KnownMass]) -> list[str]:
    """The key of each: its basis, with its place where that is the basis of one before it."""
    bases = [one.mass_basis for one in near]
    return [basis if basis not in bases[:place] else f"{basis} {place + 1}" for place, basis in enumerate(bases)]


def weighed_now(connection: sqlite3.Connection, entry: PreparedRecord) -> WeighedNow | None:
    """The reading that a weighing brings; None where neither mass nor build change, and for another kind of record.

    None also for a build that is written with it: nothing is known of its masses.
    """
    if entry.kind.name != "weighing" or not {"mass_g", "build"} & entry.values.keys():
        return None
    held = {}
    if entry.row_id is not None:
        row = connection.execute(
            "SELECT build, mass_g, scale, weighed_on, substr(created_at, 1, 10) FROM weighings WHERE id = ?",
            (entry.row_id,),
        ).fetchone()
        held = {"build": row[0], "mass_g": row[1], "scale": row[2], "weighed_on": row[3] or row[4]}
    values = {**held, **entry.values}
    build = connection.execute("SELECT diff, scale FROM builds WHERE id = ?", (values["build"],)).fetchone()
    if build is None:
        return None
    noise = noise_of(connection, values.get("scale") or build[1])
    day = values.get("weighed_on") or today_iso()
    facts = facts_of_some(connection, BuildFacts, (values["build"],)).get(values["build"])
    return WeighedNow(
        values["build"],
        build[0],
        day,
        values["mass_g"],
        noise.variance_g2,
        known_masses(connection, values["build"], noise, day, but=entry.row_id),
        known_masses(connection, values["build"], noise, day, but=entry.row_id, before=day),
        None if facts is None else facts.oil_in_g,
    )


def is_left_open(connection: sqlite3.Connection, entry: PreparedRecord) -> bool:
    """Whether nobody said what was on the scale: neither now nor, of a weighing that is changed, before."""
    if {_BASIS, "parts_on_pan"} & entry.values.keys():
        return False
    if entry.row_id is None:
        return True
    basis, entered = connection.execute(
        "SELECT mass_basis, entered FROM weighings WHERE id = ?", (entry.row_id,)
    ).fetchone()
    return basis is None or str((object_in(entered) or {}).get(_BASIS, "")).startswith(TAKEN_AS)


def possible(weighed: WeighedNow) -> list[KnownMass]:
    """The known masses on a named basis that the reading may be of, nearest first: one if there is no question.

    A reading that equals one of them is that one, even if it could be another with some oil lost.
    """
    found = [
        one
        for one in fitting(weighed.mass_g, weighed.variance_g2, weighed.known, weighed.oil_in_g)
        if one.mass_basis != NOT_SAID
    ]
    equal = [one for one in found if is_equal(weighed.mass_g, weighed.variance_g2, one)]
    return equal if len(equal) == 1 else found


def with_basis(entry: PreparedRecord, basis: str | None, words: str) -> PreparedRecord:
    """The weighing with the basis that was taken, and with the words that are kept beside it."""
    return entry._replace(values={**entry.values, _BASIS: basis}, taken={**entry.taken, _BASIS: words})


def taken(entry: PreparedRecord, near: KnownMass) -> PreparedRecord:
    """The weighing with the basis of the known mass that it is near."""
    return with_basis(entry, near.mass_basis, f"{TAKEN_AS}{near.words}")


def open_question(weighed: WeighedNow, near: list[KnownMass]) -> InputError:
    """Why the basis has to be said, where the reading may be of several known masses."""
    named = [
        part
        for place, one in enumerate(near)
        for part in ([" or "] if place else []) + [Named(_BASIS, _in_quotes(one.mass_basis))]
    ]
    return InputError(
        f"{weighed.mass_g:.2f} g may be "
        + ", or ".join(f"{one.mass_basis} ({one.words.partition(': ')[2]})" for one in near),
        code="mass_basis_open",
        place=Place(field=_BASIS),
        remedy=Sentence("Give ", *named, ". Nothing was changed."),
    )


def off_known(weighed: WeighedNow) -> Offset | None:
    """How far the reading is from the nearest known mass, if that is more than oil lost or the scale explains."""
    if fitting(weighed.mass_g, weighed.variance_g2, weighed.known, weighed.oil_in_g):
        return None
    return offset_of(weighed.mass_g, weighed.variance_g2, weighed.known)


def off_as_said(connection: sqlite3.Connection, weighing: str) -> Offset | None:
    """How far a stored weighing (by id) is from the nearest known mass on the basis that it has, if that is more than
    oil lost or the scale explains; None where no mass on that basis is known."""
    build, mass_g, scale, day, basis = connection.execute(
        "SELECT w.build, w.mass_g, coalesce(w.scale, b.scale), w.weighed_on, w.mass_basis "
        "FROM weighings w JOIN builds b ON b.id = w.build WHERE w.id = ?",
        (weighing,),
    ).fetchone()
    noise = noise_of(connection, scale)
    known = [
        one
        for one in known_masses(connection, build, noise, day or today_iso(), but=weighing)
        if one.mass_basis == basis
    ]
    facts = facts_of_some(connection, BuildFacts, (build,)).get(build)
    if fitting(mass_g, noise.variance_g2, known, None if facts is None else facts.oil_in_g):
        return None
    return offset_of(mass_g, noise.variance_g2, known)


def same_amount(connection: sqlite3.Connection, weighed: WeighedNow) -> SameAmount | None:
    """Another diff weighed that day whose reading is off its known masses by the same amount; None if there is none."""
    offset = offset_of(weighed.mass_g, weighed.variance_g2, weighed.known_before)
    if offset is None:
        return None
    for other in weighed_on_that_day(connection, weighed.day, weighed.diff):
        if are_off_alike(offset, other.offset):
            return SameAmount(offset, other)
    return None


def _in_quotes(text: str) -> str:
    return f'"{text}"' if " " in text else text
