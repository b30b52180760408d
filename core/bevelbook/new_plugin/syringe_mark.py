"""Where to stop the plunger of a syringe: ``syringe-mark``. One file, one calculator: change whatever you like.

Read it from top to bottom. What stands after >>> is an example: the tests run it and compare with the line under it.

>>> found = compute(Inputs(oil_mass_g=1.94, fills=2))
>>> f"draw {found.draw_cm3:.2f} cm³, stop at {found.marks[0].plunger_cm3:.2f} cm³"
'draw 4.00 cm³, stop at 2.00 cm³'
"""

from bevelbook import (
    Calculator,
    Chart,
    Curve,
    Judgement,
    OnCard,
    Source,
    Worked,
    hookimpl,
    listing,
    quantity,
    record,
    refuse,
    whole,
)

# The version of what a plugin may use that this was written for: a program with an older one says that it is too old.
BEVELBOOK_API = 1

# Every formula and every limit has a source. "computed": you worked it out. "proposal": a limit of your own. A book is
# Source("handbook", "its title", "its publisher", "1998", "p. 12", "read"); the last word says how you saw it.
MOST_OFF_PERCENT = 5.0
LIMIT = Source("proposal", f"over {MOST_OFF_PERCENT:g} % off is too much for a fill; invented for this example")
VOLUME = Source("computed", "volume is mass over density: 1.94 g / 0.97 g/cm³ = 2.00 cm³")


# What goes in. Each line makes an option of the command and a field of the form, with its unit and its bounds.
# - The end of a name says its unit (_g, _cm3, _c, _percent ...): 'bevelbook help units' lists them.
# - A value outside minimum and maximum (or above and below, which are themselves outside) is refused in words.
# - With a default it may be left out; default=None stands for "not known", and then the type is float | None.
# - same_as takes the value from the record after --for: 'bevelbook help tables' lists their columns.
# - There are also text("..."), choice(("dry", "wet"), "..."), date("...") and whole("..."), a count without a unit.
@record
class Inputs:
    oil_mass_g: float = quantity("g", "Oil of one fill", above=0, maximum=50, same_as="builds.oil_mass_g")
    density_g_cm3: float = quantity("g/cm3", "Density of the oil", default=0.97, minimum=0.5, maximum=2)
    line_cm3: float = quantity("cm3", "From one line of the syringe to the next", default=0.05, above=0, maximum=5)
    syringe_cm3: float = quantity("cm3", "What the syringe holds", default=5, above=0, maximum=100)
    fills: int = whole("Fills from one draw", default=1, minimum=1, maximum=10)


# What one row of the table holds that comes out.
@record
class PlungerMark:
    fill: int = whole("The fill, counted from the first")
    plunger_cm3: float = quantity("cm3", "Where the plunger stops after it", digits=2)


# What comes out. heading is its name where the field's own would say too little, digits are the decimals shown, and
# exact=True takes no part in the ± that somebody types behind an input (1.94 ± 0.02 g).
@record
class Outputs:
    draw_cm3: float = quantity("cm3", "Draw up to this mark", digits=2)
    off_g: float = quantity("g", "How far off a fill may be, either way", digits=2, exact=True)
    off_percent: float = quantity("%", "The same, of the fill", heading="off, of the fill", digits=1, exact=True)
    marks: tuple[PlungerMark, ...] = listing(PlungerMark, "Marks")


def compute(given: Inputs) -> Outputs:
    """The formula, with plain numbers in the units of the names. It reads no file and no clock.

    A fill is the difference of two readings, each half a line off at most: together one line.
    """
    one_cm3 = given.oil_mass_g / given.density_g_cm3
    draw_cm3 = one_cm3 * given.fills
    if draw_cm3 > given.syringe_cm3:
        # What cannot be: name the input, say what is wrong with the numbers, and what to do. Never give a wrong number.
        wrong = f"the syringe holds {given.syringe_cm3:g} cm³, and the oil is {draw_cm3:.2f} cm³"
        raise refuse(given, "fills", wrong, remedy="Fill fewer from one draw, or take a larger one.")
    off_g = given.line_cm3 * given.density_g_cm3
    return Outputs(
        draw_cm3=draw_cm3,
        off_g=off_g,
        off_percent=100 * off_g / given.oil_mass_g,
        marks=tuple(PlungerMark(fill=n, plunger_cm3=draw_cm3 - n * one_cm3) for n in range(1, given.fills + 1)),
    )


def judge(given: Inputs, found: Outputs) -> Judgement:
    """The verdict, with its reason in words: ok, caution (read it first), stop, or unclear (cannot be decided)."""
    if found.off_percent > MOST_OFF_PERCENT:
        limit = f"our own limit is {MOST_OFF_PERCENT:g} %"
        return Judgement("caution", (f"a fill may be {found.off_percent:.1f} % off, {limit}: weigh it instead",))
    return Judgement("ok", (f"draw {found.draw_cm3:.2f} cm³; a fill is within {found.off_g:.2f} g",))


def working(given: Inputs, found: Outputs) -> tuple[str, ...]:
    """The formula with its numbers, for "How this was worked out": a mate can follow it with a pocket calculator."""
    return (f"{given.fills} × {given.oil_mass_g:g} g / {given.density_g_cm3:g} g/cm³ = {found.draw_cm3:.3f} cm³",)


SYRINGE_MARK = Calculator(
    name="syringe-mark",
    title="Syringe mark",
    question="At which mark of the syringe do I stop for this fill?",
    purpose="where the plunger stops, and how far off the fill may be",
    version=1,  # one more whenever a number changes: what was kept stays, and shows which version it came from
    given=Inputs,
    found=Outputs,
    compute=compute,
    judge=judge,
    working=working,
    answer="draw_cm3",  # the number that is shown large
    valid=("Oil without bubbles, in a syringe with straight walls.",),  # where it holds
    sources=(VOLUME, LIMIT),
    cautions=("oil-on-skin",),  # a key, or a sentence of your own
    # Inputs as somebody types them, what comes out, how far off that may be, and who printed or worked out that number.
    worked=(Worked({"oil_mass_g": "1.94 g", "fills": "2"}, {"draw_cm3": 4.0, "off_g": 0.0485}, 1e-9, VOLUME, "ok"),),
    card=OnCard(),  # on the card of a build
    page=("build",),  # offered on the page of a build
    kept_after=("build",),  # worked out and kept each time a build is written down
)

# A chart: one input moved from low to high, and what comes out. The page draws the rows and lists them as a table under
# these headings, which name the axes too. The drawing is said in Vega-Lite; its second layer is the limit.
OFF_BY_FILL = Chart(
    "syringe-mark-off",
    "How far off a fill may be",
    "The less oil, the more one line of the syringe counts. The level line is our own limit.",
    (("oil_mass_g", "Oil of one fill [g]"), ("off_percent", "Off, either way [%]")),
    {
        "encoding": {
            "x": {"field": "oil_mass_g", "type": "quantitative"},
            "y": {"field": "off_percent", "type": "quantitative"},
        },
        "layer": [{"mark": "line"}, {"mark": "rule", "encoding": {"y": {"datum": MOST_OFF_PERCENT}, "x": None}}],
    },
    curve=Curve("syringe-mark", "oil_mass_g", 0.5, 4, ("off_percent",), given={"oil_mass_g": "1.94"}),
)


@hookimpl  # this is how bevelbook finds them; more calculators or charts go into the same brackets
def bevelbook_calculators() -> tuple[Calculator[Inputs, Outputs], ...]:
    return (SYRINGE_MARK,)


@hookimpl
def bevelbook_charts() -> tuple[Chart, ...]:
    return (OFF_BY_FILL,)
