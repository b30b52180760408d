"""In what order and how hard to tighten the screws of a lid: ``tightening``."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from math import pi
from typing import Any, Final, NamedTuple

from bevelbook import (
    BenchPass,
    Calculator,
    InputError,
    Judgement,
    Named,
    OnBench,
    OnCard,
    Place,
    Sentence,
    Source,
    Supplied,
    Worked,
    choice,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
    text,
    vocabulary,
    whole,
)
from bevelbook.formulas.percent import percent
from bevelbook.physics.constants import STANDARD_GRAVITY_M_S2
from bevelbook.reference import rows
from bevelbook_plugins.screw_pattern import (
    ANGLE_RULE,
    FEWEST_SCREWS,
    MOST_SCREWS,
    PAIR_RULE,
    TWO_CONVENTIONS,
    number_at_each_screw,
    pattern_svg,
    tightening_order,
)

SCHEMES: Final = ("plastic", "plastic lined", "flange", "gasket", "gasket with gap check", "thirds", "machine screws")
CLASSES: Final = ("8.8", "9.8", "10.9", "12.9", "unknown")
WEAKEST_CLASS: Final = "8.8"
WINDOW_LOW: Final = 0.3
WINDOW_HIGH: Final = 0.5
STRIP_SHARE: Final = 0.7
STRIP_SHARE_BETTER: Final = 0.5

PLASTIC_FLANGE: Final = Source(
    "handbook",
    "Bolt torque and flange procedures, after PPI TN-38",
    "Improved Piping Products",
    year="undated",
    where="20, 40, 60, 80, 100 % cross, then 100 % round",
    seen="quoted in these procedures; TN-38 was not opened",
)
STRIP_RULE: Final = Source(
    "handbook",
    "Plastic boss design guidelines",
    "ZIP Fastener",
    year="undated",
    where="about 70 % of the mean failure torque",
    seen="read",
)
WINDOW_RULE: Final = Source(
    "standard",
    "GB/T 43655-2024, M = Ms + k (Mo - Ms), k 0.3 to 0.5",
    publisher="publisher not named",
    year="2024",
    seen="quoted in a web page of low weight; the standard was not opened",
)
LEAST_TORQUE: Final = Source(
    "data sheet",
    "page on thread-forming screws",
    "Semblex",
    year="undated",
    where="relaxation and stress cracks grow with clamp load",
    seen="read",
)
BREAKING: Final = Source(
    "standard",
    "898-7:1992, torsional test and minimum torques",
    "ISO",
    "1992",
    "clause 3",
    "read: the formula, in a scan of an excerpt; its ratios, root diameters and table from memory, unverified",
)
REUSE: Final = Source(
    "data sheet",
    "Self-tapping screws, design page",
    "DSM",
    year="undated",
    where="thread-forming screws take repeated assembly",
    seen="read",
)
OLD_THREAD: Final = Source("common practice", "turn the screw back until it drops into its old thread, then in")
GRAVITY: Final = Source(
    "standard",
    "standard acceleration of gravity, 9.80665 m/s²",
    "CGPM",
    "1901",
    seen="from memory; exact by definition",
)


@record
class TightenGiven:
    screw_count: int = whole(
        "Screws on the circle", default=4, minimum=FEWEST_SCREWS, maximum=MOST_SCREWS, same_as="diffs.screw_count"
    )
    target_torque_nm: float | None = quantity(
        "N·m", "Final torque, if a source gives it", default=None, above=0, below=10
    )
    torque_source: str | None = text("Where that torque comes from", default=None)
    drive_torque_nm: float | None = quantity(
        "N·m", "Measured torque to cut or run the thread, head not seated", default=None, above=0, below=10
    )
    strip_torque_nm: float | None = quantity(
        "N·m", "Measured torque that stripped the thread: the least of three on a scrap housing", default=None, above=0,
        below=10,
    )  # fmt: skip
    pull_mass_g: float | None = quantity(
        "g", "Reading of a luggage scale that pulled the key square to its arm", default=None, above=0
    )
    arm_mm: float | None = quantity("mm", "Arm of the key, screw to hook", default=None, above=0, below=1000)
    scheme: str = choice(SCHEMES, "Passes", default="plastic")
    screw_size: str | None = text("Thread, such as M2", default=None, same_as="diffs.screw_size")
    property_class: str = choice(CLASSES, "Property class on the head", default="unknown")
    hole: str | None = choice(
        vocabulary.SCREW_HOLES, "What the screws go into", default=None, same_as="diffs.screw_hole"
    )
    thread: str = choice(("plastic", "metal"), "What the thread is in", default="plastic")


@record
class Turn:
    pass_number: int = whole("Pass")
    order: int = whole("Turn within the pass")
    screw: int = whole("Screw, counted clockwise from screw 1")
    torque_nm: float | None = quantity("N·m", "Torque of this pass")
    share: float | None = quantity("1", "Share of the final torque")
    words: str = text("What to do")


@record
class TightenFound:
    order_of_screws: str = text("Screws, numbered clockwise, in the order they are turned")
    number_at_each_screw: str = text("The same, as the turn written at each screw, clockwise from screw 1")
    torque_nm: float | None = quantity("N·m", "Final torque")
    torque_low_nm: float | None = quantity("N·m", "Least torque by the measured drive and strip torque")
    torque_high_nm: float | None = quantity("N·m", "Most torque by the measured drive and strip torque")
    final_pull_g: float | None = quantity("g", "Pull on the key's arm that makes the final torque", digits=0)
    breaking_torque_nm: float | None = quantity("N·m", "Torque at which the weakest such screw may break", exact=True)
    turns: tuple[Turn, ...] = listing(Turn, "Every turn of every pass")


class _Pass(NamedTuple):
    """One pass: round the circle or crossing, its share of the final torque, what to do."""

    crossing: bool
    share: float | None
    words: str


def tighten(given: TightenGiven) -> TightenFound:
    """The order, the final torque and every turn.

    Final torque: the one given, or m g arm of a pull, or Ms + 0.3 (Mo - Ms) of measured drive and strip torque, with
    Ms + 0.5 (Mo - Ms) and 0.7 Mo as the most. Never above the measured strip torque or the screw's breaking torque.
    """
    order = tightening_order(given.screw_count)
    low, high = _window(given)
    torque = _final_torque(given, low, high)
    breaking = breaking_torque_nm(given.screw_size, given.property_class)
    _check_ceilings(given, torque, breaking)
    return TightenFound(
        order_of_screws="-".join(str(screw) for screw in order),
        number_at_each_screw="-".join(str(turn) for turn in number_at_each_screw(order)),
        torque_nm=torque,
        torque_low_nm=low,
        torque_high_nm=high,
        final_pull_g=None if torque is None or given.arm_mm is None else _pull_g(torque, given.arm_mm),
        breaking_torque_nm=breaking,
        turns=tuple(_turns(given, order, torque)),
    )


def _window(given: TightenGiven) -> tuple[float | None, float | None]:
    drive, strip = given.drive_torque_nm, given.strip_torque_nm
    if drive is None or strip is None:
        return None, None
    if drive >= strip:
        raise refuse(
            given,
            "drive_torque_nm",
            f"running the thread takes {drive:g} N·m and {strip:g} N·m strips it: nothing is left to clamp with",
            remedy="Measure both again on a scrap housing; a hole that is too small or a worn thread does this.",
        )
    return drive + WINDOW_LOW * (strip - drive), min(drive + WINDOW_HIGH * (strip - drive), STRIP_SHARE * strip)


def _final_torque(given: TightenGiven, low: float | None, high: float | None) -> float | None:
    if given.pull_mass_g is not None:
        if given.arm_mm is None:
            raise refuse(
                given,
                "arm_mm",
                "a pull needs the arm it acts on",
                remedy=Sentence("Measure from the middle of the screw to the hook and give ", Named("arm_mm"), "."),
                code="missing_input",
            )
        if given.target_torque_nm is not None:
            raise InputError(
                "both a torque and a pull are given",
                code="too_many_inputs",
                place=Place(field="target_torque_nm"),
                remedy=Sentence(
                    "Give ",
                    Named("target_torque_nm"),
                    ", or ",
                    Named("pull_mass_g"),
                    " with ",
                    Named("arm_mm"),
                    "; ",
                    Named("arm_mm"),
                    " alone turns a torque into a pull.",
                ),
            )
        return given.pull_mass_g / 1000.0 * STANDARD_GRAVITY_M_S2 * given.arm_mm / 1000.0
    if given.target_torque_nm is not None:
        return given.target_torque_nm
    return low if low is not None and high is not None and low <= high else None


def _pull_g(torque_nm: float, arm_mm: float) -> float:
    return torque_nm / (STANDARD_GRAVITY_M_S2 * arm_mm / 1000.0) * 1000.0


def breaking_torque_nm(screw_size: str | None, property_class: str) -> float | None:
    """Least torque at which a screw of ISO 898-7 may break, in N·m; None for a size that is not listed.

    MB = tauB pi / 16 d3min^3 with tauB = X Rm. Class unknown: the weakest listed, 8.8.

    Source: ISO 898-7:1992, clause 3 (formula read in an excerpt); X and d3min from memory, unverified.

    >>> breaking_torque_nm("M2", "unknown")
    0.368
    """
    wanted = WEAKEST_CLASS if property_class == "unknown" else property_class
    size = "" if screw_size is None else screw_size.strip().upper().replace(",", ".").split("X")[0].strip()
    for row in rows("screw_breaking_torque.csv"):
        if row["screw_size"] == size and row["property_class"] == wanted:
            shear_n_mm2 = float(row["shear_ratio"]) * float(row["strength_n_mm2"])
            return shear_n_mm2 * pi / 16.0 * float(row["root_diameter_mm"]) ** 3 / 1000.0
    return None


def _check_ceilings(given: TightenGiven, torque: float | None, breaking: float | None) -> None:
    if torque is None:
        return
    name = next(
        (one for one in ("target_torque_nm", "pull_mass_g") if getattr(given, one) is not None), "strip_torque_nm"
    )
    for ceiling, what in (
        (given.strip_torque_nm, "the measured strip torque"),
        (breaking, f"the breaking torque of an {given.screw_size} screw (from memory, unverified)"),
    ):
        if ceiling is not None and torque > ceiling:
            raise refuse(
                given,
                name,
                f"{torque:.2f} N·m is above {what}, {ceiling:.2f} N·m",
                remedy="Tighten less, or measure again.",
            )


def _turns(given: TightenGiven, order: tuple[int, ...], torque: float | None) -> Iterator[Turn]:
    for number, one in enumerate(_passes(given, torque), start=1):
        screws = order if one.crossing else tuple(range(1, given.screw_count + 1))
        aim = None if torque is None or one.share is None else min(one.share, 1.0) * torque
        words = one.words
        if aim is not None:
            pull = f" ({_pull_g(aim, given.arm_mm):.0f} g on the arm)" if given.arm_mm is not None else ""
            words = f"{words} {aim:.2f} N·m{pull}".strip()
        for place, screw in enumerate(screws, start=1):
            yield Turn(
                pass_number=number,
                order=place,
                screw=screw,
                torque_nm=aim,
                share=None if aim is None else one.share,
                words=words,
            )


def _passes(given: TightenGiven, torque: float | None) -> list[_Pass]:
    start = _start_in_words(given)
    if torque is None:
        return [
            _Pass(True, None, f"{start}, until the head touches"),
            _Pass(True, None, "snug: until the lid lies flat"),
            _Pass(True, None, "final: the same small turn more for each, by feel"),
            _Pass(False, None, "round the circle: none may turn further at the same feel"),
        ]
    row = next(row for row in rows("tightening_schemes.csv") if row["scheme"] == given.scheme)
    shares = [float(one) / 100.0 for one in row["cross_percent"].split(";") if one]
    if not shares:
        return [
            _Pass(True, None, f"{start}, until the head touches"),
            _Pass(True, None, "snug: until the lid lies flat"),
            _Pass(True, 1.0, "with the torque tool to"),
        ]
    passes = [_Pass(True, shares[0], f"{start}, until the head touches, then to")]
    passes += [_Pass(True, share, "to") for share in shares[1:]]
    if row["round_percent"]:
        passes.append(_Pass(False, float(row["round_percent"]) / 100.0, "round the circle, until none turns, at"))
    return passes


def _start_in_words(given: TightenGiven) -> str:
    dry = "wipe the hole dry, " if given.hole != "through" else ""
    old = "turn back until it drops into its old thread, then in" if given.thread == "plastic" else "in by hand"
    return f"{dry}{old}"


def judge_tighten(given: TightenGiven, found: TightenFound) -> Judgement:
    same = found.order_of_screws == found.number_at_each_screw
    instructions = [
        f"go {found.order_of_screws}: the screws are numbered clockwise from the top of the drawing and turned in "
        "this order",
        f"the turn written at each screw, clockwise, reads {found.number_at_each_screw}"
        + (" (here both lists are equal)" if same else " (not the same list: it is the inverse)"),
    ]
    if given.hole != "through":
        instructions.append(
            "blind hole: oil or dirt in it stops a screw early; then stop, take it out, wipe the hole dry, never more "
            "torque"
        )
    findings = tuple(_tighten_findings(given, found))
    torque = found.torque_nm
    if torque is None:
        if found.torque_low_nm is not None:
            why = (
                f"no torque fits: it takes {given.drive_torque_nm:g} N·m to run the thread, and "
                f"{percent(STRIP_SHARE)} of the strip torque is {found.torque_high_nm:.2f} N·m"
            )
            return Judgement(
                "stop", (why, "a hole that is too small or a worn thread does this", *instructions), findings
            )
        by_hand = (
            "by hand in three passes and a round: no torque is measured, and none was found for screws this small "
            "in plastic"
        )
        return Judgement("ok", (by_hand, *instructions), findings)
    pull = f" ({found.final_pull_g:.0f} g on an arm of {given.arm_mm:g} mm)" if found.final_pull_g is not None else ""
    final = f"final torque {torque:.2f} N·m{pull}"
    cautions = list(_torque_cautions(given, torque))
    if cautions:
        return Judgement("caution", (*cautions, final, *instructions), findings)
    return Judgement("ok", (final, *instructions), findings)


def _torque_cautions(given: TightenGiven, torque: float) -> Iterator[str]:
    if given.target_torque_nm is not None and given.torque_source is None and given.strip_torque_nm is None:
        yield "that torque has neither a source nor a measured strip torque: give one of them"
    if given.strip_torque_nm is not None and torque > STRIP_SHARE * given.strip_torque_nm * (1 + 1e-9):
        share = percent(torque / given.strip_torque_nm)
        yield f"{share} of the strip torque; {percent(STRIP_SHARE)} is what a guide allows"
    if given.drive_torque_nm is not None and torque < given.drive_torque_nm:
        yield f"running the thread alone takes {given.drive_torque_nm:.2f} N·m: the head will not seat"


def _tighten_findings(given: TightenGiven, found: TightenFound) -> Iterator[str]:
    status = next(
        (row["status"] for row in rows("tightening_sequences.csv") if row["screw_count"] == str(given.screw_count)),
        "constructed from the rule of opposite pairs; no published list was found",
    )
    yield f"order for {given.screw_count} screws: {status}"
    torque, strip = found.torque_nm, given.strip_torque_nm
    if (given.drive_torque_nm is None) != (strip is None):
        yield "drive and strip torque give a torque only together: measure both on a scrap housing"
    least = min((turn.torque_nm for turn in found.turns if turn.torque_nm is not None), default=None)
    if given.drive_torque_nm is not None and least is not None and least < given.drive_torque_nm:
        yield f"passes under {given.drive_torque_nm:.2f} N·m only run the thread: end them where the head touches"
    if torque is not None and strip is None and given.thread == "plastic":
        yield "no strip torque is measured: strip three threads of a scrap housing and take the least"
    if torque is not None and strip is not None and STRIP_SHARE_BETTER < torque / strip <= STRIP_SHARE * (1 + 1e-9):
        yield f"{percent(torque / strip)} of the strip torque: the least torque that seals is better, as plastic creeps"
    if found.breaking_torque_nm is not None:
        weakest = (
            ", class unknown, 8.8 taken; a stainless one may break below" if given.property_class == "unknown" else ""
        )
        yield (
            f"an {given.screw_size} screw may break at {found.breaking_torque_nm:.2f} N·m{weakest} (from memory, "
            "unverified)"
        )
    elif given.screw_size is not None:
        yield f"no breaking torque is known for {given.screw_size}"
    yield from _scheme_findings(given, torque)


def _scheme_findings(given: TightenGiven, torque: float | None) -> Iterator[str]:
    if torque is None:
        return
    row = next(row for row in rows("tightening_schemes.csv") if row["scheme"] == given.scheme)
    note = f"; {row['note']}" if row["note"] else ""
    yield f"passes of a {row['title']}{note} ({row['status']})"
    if row["recheck_after_h"]:
        yield f"once more after {row['recheck_after_h']} h, to the same torque and never above it"


def tighten_working(given: TightenGiven, found: TightenFound) -> tuple[str, ...]:
    count = given.screw_count
    step = f"steps of (N − 1)/2 = {(count - 1) // 2}" if count % 2 else f"opposite pairs, {count // 2} apart"
    lines = [f"N = {count}: {step}; {found.order_of_screws}"]
    if given.pull_mass_g is not None and given.arm_mm is not None:
        lines.append(
            f"torque = m g arm = {given.pull_mass_g / 1000:g} kg × {STANDARD_GRAVITY_M_S2} m/s² × "
            f"{given.arm_mm / 1000:g} m = {found.torque_nm:.4f} N·m"
        )
    if found.torque_low_nm is not None and found.torque_high_nm is not None:
        drive, strip = given.drive_torque_nm, given.strip_torque_nm
        lines.append(
            f"least = Ms + 0.3 (Mo − Ms) = {drive:g} + 0.3 ({strip:g} − {drive:g}) = {found.torque_low_nm:.3f} N·m"
        )
        lines.append(
            f"most = the smaller of Ms + 0.5 (Mo − Ms) and 0.7 Mo = {found.torque_high_nm:.3f} N·m; the least that "
            "seals is better"
        )
    aims = {turn.pass_number: turn.torque_nm for turn in found.turns if turn.torque_nm is not None}
    if aims:
        lines.append("passes: " + ", ".join(f"{aim:.3f}" for aim in aims.values()) + " N·m")
    return tuple(lines)


def bench_passes(given: TightenGiven, found: TightenFound) -> Iterator[BenchPass]:
    """Each pass with its torque, and the screws drawn with their turns in it."""
    by_pass: dict[int, list[Turn]] = {}
    for turn in found.turns:
        by_pass.setdefault(turn.pass_number, []).append(turn)
    crossing = tightening_order(given.screw_count)
    for turns in by_pass.values():
        order = tuple(turn.screw for turn in turns)
        torque = turns[0].torque_nm
        yield BenchPass(
            turns[0].words,
            "" if torque is None else f"{torque:.2f} N·m",
            "-".join(map(str, order)),
            pattern_svg(given.screw_count, is_crossing=order == crossing),
        )


TIGHTENING = Calculator(
    name="tightening",
    title="Tightening the lid",
    question="In what order and how hard do I tighten the screws?",
    purpose="order, passes and torque of the lid's screws",
    version=1,
    given=TightenGiven,
    found=TightenFound,
    compute=tighten,
    judge=judge_tighten,
    working=tighten_working,
    picture=lambda given, found: pattern_svg(given.screw_count),
    answer="order_of_screws",
    seen_first=("screw_count", "target_torque_nm"),
    card=OnCard(
        "screws",
        passes=lambda given, found: {turn.pass_number: turn.words for turn in found.turns}.values(),
        picture_words=lambda given, found: found.order_of_screws,
        supplied=(Supplied("target_torque_nm", "screw_torque_nm"),),
        never_default=("screw_count",),
    ),
    bench=OnBench(passes=bench_passes),
    valid=(
        "2 to 32 screws evenly on a circle. Orders for 4 and 8 were read; 12 in an article of low weight; 16 is "
        "computed from the rule; 20 and 24 are from memory, unverified; the rest is constructed from the same rule, "
        "odd counts in steps of (N - 1)/2.",
        "Torque only from a measured drive and strip torque, a pull on the key's arm, or a source. For 2 to 3 mm "
        "screws in plastic none was found; without one the passes are in words.",
        "A strip torque that is calculated instead of measured moves by a factor of 2.6 with friction: not offered.",
        "Breaking torques: M2, M2.5 and M3 steel screws (from memory, unverified).",
        "Measuring: hold the housing in soft jaws, pull square to the arm, read as the thread runs (drive) and as it "
        "gives (strip).",
    ),
    sources=(
        PAIR_RULE,
        ANGLE_RULE,
        TWO_CONVENTIONS,
        PLASTIC_FLANGE,
        STRIP_RULE,
        WINDOW_RULE,
        LEAST_TORQUE,
        BREAKING,
        REUSE,
        OLD_THREAD,
        GRAVITY,
    ),
    cautions=("screw-driving", "thread-lock", "oil-on-floor"),
    worked=(
        Worked(
            {"screw_count": "4", "target_torque_nm": "0.18 N·m", "torque_source": "measured on a scrap housing"},
            {"order_of_screws": "1-3-2-4", "number_at_each_screw": "1-3-2-4", "torque_nm": 0.18},
            1e-9,
            PAIR_RULE,
            "ok",
        ),
        Worked(
            {"screw_count": "4", "screw_size": "M2 x 8", "pull_mass_g": "334 g", "arm_mm": "55 mm"},
            {"torque_nm": 0.18, "breaking_torque_nm": 0.3683},
            0.0005,
            Source(
                "computed",
                "hand calculation: 0.334 kg × 9.80665 m/s² × 0.055 m = 0.1801 N·m; "
                "0.84 × 800 N/mm² × π/16 × (1.408 mm)³ = 0.3683 N·m",
            ),
            "ok",
        ),
        Worked(
            {"screw_count": "12", "drive_torque_nm": "0.08", "strip_torque_nm": "0.34"},
            {"order_of_screws": "1-7-4-10-2-8-5-11-3-9-6-12", "torque_low_nm": 0.158, "torque_high_nm": 0.21},
            0.0005,
            WINDOW_RULE,
            "ok",
        ),
    ),
)


@hookimpl
def bevelbook_calculators() -> Iterable[Calculator[Any, Any]]:
    return (TIGHTENING,)
