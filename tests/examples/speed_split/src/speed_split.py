"""How far apart the two outputs of a diff turn in a bend, and how fast the motor does: ``speed-split``.

>>> found = compute(Bend(track_width_mm=160, turn_radius_m=0.98, speed_km_h=3.528, wheel_diameter_mm=78))
>>> f"{found.inner_per_min:.0f} and {found.outer_per_min:.0f} turns a minute"
'220 and 260 turns a minute'
"""

from math import pi

from bevelbook import (
    Calculator,
    Chart,
    Curve,
    Judgement,
    Source,
    Worked,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
    text,
    whole,
)

ROLLING = Source(
    "computed",
    "wheels that roll without slip on a circle: the car turns once around the middle of the bend in the time in which "
    "each wheel runs its own circle, so speeds are as the radii; the case of the diff turns at their mean",
)
BOOK = Source(
    "computed",
    "a tenth of a problem of a physics course, quoted in a public forum without the book's name: wheels of 0.78 m at "
    "the ends of an axle of 1.6 m around an inner radius of 9 m turn in the ratio (9 + 1.6) / 9",
)
GEARS = Source(
    "computed", "turns are as the teeth: 80 / 20 = 4, times 2.5 inside; 4 × 2.5 × 239.957 1/min = 2399.57 1/min"
)
S_PER_MIN = 60.0
KM_H = 3.6
MM_PER_M = 1000.0


@record
class Bend:
    track_width_mm: float = quantity("mm", "From the middle of one wheel to that of the other", above=0, maximum=1000)
    turn_radius_m: float = quantity("m", "Of the bend, in the middle between the wheels", above=0, maximum=1000)
    speed_km_h: float = quantity("km/h", "Of the car, in the middle between the wheels", above=0, maximum=200)
    wheel_diameter_mm: float = quantity("mm", "Of the wheels, with the tyre", above=0, maximum=500)
    pinion_teeth: int | None = whole("Teeth of the pinion on the motor", default=None, minimum=5, maximum=200)
    spur_teeth: int | None = whole("Teeth of the spur gear", default=None, minimum=5, maximum=300)
    inner_ratio: float = quantity(
        "1", "Turns of the spur gear for one of the diff's case", default=1.0, minimum=0.1, maximum=20
    )


@record
class Wheel:
    wheel: str = text("Which wheel")
    speed_m_s: float = quantity("m/s", "How fast it runs")
    turns_per_min: float = quantity("1/min", "How fast it turns")


@record
class Split:
    speed_difference_rad_s: float = quantity("rad/s", "From one output of the diff to the other", figures=3)
    difference_percent: float = quantity("%", "The same, of the case's own speed", digits=1)
    inner_per_min: float = quantity("1/min", "The inner output turns")
    outer_per_min: float = quantity("1/min", "The outer output turns")
    case_per_min: float = quantity("1/min", "The case of the diff turns, their mean")
    gear_ratio: float | None = quantity("1", "Turns of the motor for one of the case", digits=2)
    motor_per_min: float | None = quantity("1/min", "The motor turns")
    wheels: tuple[Wheel, ...] = listing(Wheel, "Wheels")


def compute(given: Bend) -> Split:
    """Each wheel runs its own circle around the middle of the bend in the same time."""
    half_m = given.track_width_mm / MM_PER_M / 2
    if given.turn_radius_m <= half_m:
        raise refuse(
            given,
            "turn_radius_m",
            f"the bend is tighter than half the track width, {half_m:g} m: the inner wheel stands or runs backwards",
            remedy="Give the radius in the middle between the wheels.",
        )
    around_rad_s = given.speed_km_h / KM_H / given.turn_radius_m
    speeds_m_s = [around_rad_s * (given.turn_radius_m + side * half_m) for side in (-1, 1)]
    around_m = pi * given.wheel_diameter_mm / MM_PER_M
    inner, outer = (S_PER_MIN * speed / around_m for speed in speeds_m_s)
    case = (inner + outer) / 2
    if (given.spur_teeth is None) != (given.pinion_teeth is None):
        lacking = "spur_teeth" if given.spur_teeth is None else "pinion_teeth"
        raise refuse(
            given, lacking, "the other gear's teeth are given, and these are not", remedy="Give both, or none."
        )
    ratio = None
    if given.spur_teeth is not None and given.pinion_teeth is not None:
        ratio = given.spur_teeth / given.pinion_teeth * given.inner_ratio
    return Split(
        speed_difference_rad_s=(outer - inner) * 2 * pi / S_PER_MIN,
        difference_percent=100 * (outer - inner) / case,
        inner_per_min=inner,
        outer_per_min=outer,
        case_per_min=case,
        gear_ratio=ratio,
        motor_per_min=None if ratio is None else ratio * case,
        wheels=tuple(
            Wheel(wheel=name, speed_m_s=speed, turns_per_min=turns)
            for name, speed, turns in zip(("inner", "outer"), speeds_m_s, (inner, outer), strict=True)
        ),
    )


def judge(given: Bend, found: Split) -> Judgement:
    """No limit is known for a speed split: it says what the oil of the diff has to bear."""
    return Judgement(
        "ok",
        (
            f"the outputs turn {found.speed_difference_rad_s:.3g} rad/s apart, {found.difference_percent:.1f} % of the "
            "case: that is what the oil drags against",
        ),
    )


def working(given: Bend, found: Split) -> tuple[str, ...]:
    """Numbers put into the formula."""
    return (
        f"outer to inner is (R + w/2) / (R - w/2): R {given.turn_radius_m:g} m, w {given.track_width_mm:g} mm",
        f"apart: v w / (R r) = {given.speed_km_h / KM_H:.4g} m/s × {given.track_width_mm:g} mm / "
        f"({given.turn_radius_m:g} m × {given.wheel_diameter_mm / 2:g} mm) = {found.speed_difference_rad_s:.4g} rad/s",
    )


BEND = {"track_width_mm": "160", "turn_radius_m": "0.98", "speed_km_h": "0.98 m/s", "wheel_diameter_mm": "78"}
SPEED_SPLIT = Calculator(
    name="speed-split",
    title="Speed split in a bend",
    question="How far apart do the two outputs of the diff turn in this bend, and how fast does the motor?",
    purpose="speeds of wheels, diff and motor in a bend",
    version=1,
    given=Bend,
    found=Split,
    compute=compute,
    judge=judge,
    working=working,
    answer="speed_difference_rad_s",
    valid=("Wheels that roll without slip, on a bend of one radius.", "Both wheels of the axle are equally large."),
    sources=(ROLLING, GEARS),
    cautions=("wheels-on-stand",),
    worked=(
        Worked(BEND, {"inner_per_min": 220.3684, "outer_per_min": 259.5450}, 1e-3, BOOK, "ok"),
        Worked(
            {**BEND, "pinion_teeth": "20", "spur_teeth": "80", "inner_ratio": "2.5"},
            {"gear_ratio": 10.0, "motor_per_min": 2399.57},
            1e-2,
            GEARS,
            "ok",
        ),
    ),
)

SPLIT_BY_RADIUS = Chart(
    "speed-split-by-radius",
    "Speed split by the radius of the bend",
    "The tighter the bend, the further apart the outputs turn.",
    (("turn_radius_m", "Radius of the bend [m]"), ("difference_percent", "Apart, of the case's speed [%]")),
    {
        "mark": "line",
        "encoding": {
            "x": {"field": "turn_radius_m", "type": "quantitative", "title": "radius of the bend [m]"},
            "y": {"field": "difference_percent", "type": "quantitative", "title": "apart [%]"},
        },
    },
    curve=Curve("speed-split", "turn_radius_m", 0.5, 6, ("difference_percent",), given=BEND),
)


@hookimpl
def bevelbook_calculators() -> tuple[Calculator[Bend, Split], ...]:
    return (SPEED_SPLIT,)


@hookimpl
def bevelbook_charts() -> tuple[Chart, ...]:
    return (SPLIT_BY_RADIUS,)
