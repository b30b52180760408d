"""Plans for people: what to write down before an event, what a plan says and never says, the day, and after it."""

from __future__ import annotations

from typing import Final

from bevelbook.declare.vocabulary import BOTTLE_LEVELS, PLAN_ACTS
from bevelbook.facts.bench_minutes import LEAST_BUILDS, NIGHT_MINUTES
from bevelbook.facts.bottles_left import SHARES
from bevelbook.facts.usual_runs import RUNS_OF_A_DAY
from bevelbook.manual.contents import Bullets, CommandLine, Entries, ManualEntry, ManualPage, Paragraph, Section
from bevelbook.planning.parts_wanted import BUILDS_LOOKED_AT

TOPIC: Final = "plan"
_ACTS: Final = dict(
    zip(
        PLAN_ACTS,
        (
            "Nothing is due within the runs planned, and its oil will do.",
            "The records cannot tell. The line says what would settle it: a weighing, a number written down.",
            "Whether it lost oil is not known well enough; the scale tells.",
            "Damp, rough by hand, or something odd in the records: wipe it, turn it, look.",
            "It is sound, but the oil in it is not the one for that day, or has done its runs.",
            "It lost oil, a seal is at its last use, a part is worn, or it lies open.",
            "A spare gets the second oil, where the forecast is too wide for one.",
        ),
        strict=True,
    )
)


def before_an_event_page() -> ManualPage:
    """Everything about plans that a person has to know."""
    return ManualPage(
        TOPIC,
        "A plan before an event",
        "The work of a team is decided on the evenings before: which diffs stay, which are opened, with which oil, are "
        "the rings there, how many hours is it.",
        (_before(), _what_it_says(), _what_it_takes(), _on_the_day(), _after(), _proposals(), _never()),
    )


def _before() -> Section:
    return Section(
        "Some evenings before",
        (
            Paragraph("Write the event down: what you expect, as far as you know it. All but the name may be missing."),
            CommandLine(
                'bevelbook record event name="spring race" venue="North Quay" first_on=2027-04-18 '
                "air_low=12 air_high=20 track_low=14 track_high=32 grip=medium runs_per_car=6"
            ),
            CommandLine('bevelbook record event-car event="spring race" car=red runs=8'),
            CommandLine('bevelbook plan "spring race"'),
            Bullets(
                (
                    "Without 'event-car' all cars go that you use. A plan needs to know what is in each: "
                    "'bevelbook record car-diff car=red rear=rear-a', or runs of that car.",
                    "Without a venue, a temperature or the runs planned the plan says so, and leaves out what rests on "
                    "it. Without any event, 'bevelbook plan' says what is due before a usual day.",
                    "The page *Plan* under 'bevelbook serve' and 'bevelbook enter' is the same, car by car, front to "
                    "rear; it prints on A4.",
                    "--keep keeps it, and a button of 'bevelbook enter' does. A later plan says what changed since: "
                    "'bevelbook plan \"spring race\" --against last'.",
                )
            ),
        ),
    )


def _what_it_says() -> Section:
    return Section(
        "What it says of each diff",
        (
            Paragraph("One of these, the heaviest that holds, with the reason in numbers:"),
            Entries(tuple(ManualEntry(act, words) for act, words in _ACTS.items())),
            Paragraph(
                "The oil is what you ran nearest in such weather, on days that you kept it or not: the feel of then at "
                "the temperature that the diff is expected to reach, with its interval. Where the cold end and the hot "
                "end of the forecast want two oils, a spare gets the second one. A blend is said in grams of the "
                "bottles that are there."
            ),
            Paragraph(
                "The order of work: first what may need a part that is not there, so that it can still be ordered; "
                "then what runs first, then the rest."
            ),
        ),
    )


def _what_it_takes() -> Section:
    full, half, low = (f"{100 * least:.0f} to {100 * most:.0f} %" for least, most in SHARES.values())
    return Section(
        "Parts, oil and hours",
        (
            CommandLine('bevelbook record stock-part label="shaft ring" part=seal seal="shaft ring 5 x 1.5" least=4'),
            CommandLine('bevelbook record stock-change stock_part="shaft ring" what=counted pieces=12'),
            CommandLine('bevelbook record bottle fluid="house 7k" empty_mass=11.2g'),
            CommandLine('bevelbook record bottle-check bottle="house 7k" mass=34.6g'),
            CommandLine('bevelbook record job-time job="oil change" minutes=40 waiting_minutes="1 h"'),
            Bullets(
                (
                    "Only what you once counted is kept. What a build fits as new comes off by itself, a delivery is "
                    "added, and counting again settles it. A count that cannot be right is a line 'count it again', "
                    "and never stops a build from being written down. 'bevelbook help stock' says more.",
                    "A bottle on the scale tells what is left where its empty mass is known, and overrules the sum of "
                    f"what was poured. By eye, {BOTTLE_LEVELS[0]} stands for {full}, {BOTTLE_LEVELS[1]} for {half}, "
                    f"{BOTTLE_LEVELS[2]} for {low}.",
                    "Minutes come from your own builds at the bench, when each step was begun and done: from "
                    f"{LEAST_BUILDS} of a kind on the median and the quartiles. Until then the figure that you typed, "
                    "marked as yours, else 'not timed'.",
                    "Hands and waiting are apart. Several diffs share a wash and a wait, so the hours are hands added "
                    "up and the longest waiting once. Out of the car and in again is a figure of its own.",
                    "The list to pack is one of your own (--packing FILE) or the one that comes along, with the diffs, "
                    "oils and spare parts that the plan adds.",
                )
            ),
        ),
    )


def _on_the_day() -> Section:
    return Section(
        "At the bench and on the day",
        (
            Bullets(
                (
                    "A diff that was built, weighed or looked at since the plan was kept is ticked by itself. The "
                    "bench page works down the plan.",
                    "The evening before, write the forecast of that evening into the event and look once more: "
                    "'bevelbook record event \"spring race\" track_high=26'.",
                    "What to try there are ideas that are open for that venue; what to settle are findings of the "
                    "diffs that go; what to decide are comparisons that lack a few runs, with the order to run in.",
                )
            ),
        ),
    )


def _after() -> Section:
    return Section(
        "After the event",
        (
            Paragraph(
                "The page of the event has what is still missing, each a touch away: runs without a call, "
                "temperatures, diffs that were not weighed. Then the page of the day can be sent as one file."
            ),
        ),
    )


def _proposals() -> Section:
    return Section(
        "What rests on this project's own proposals",
        (
            Paragraph("Nobody published rules for these. They are ours; your own limits and figures go first."),
            Bullets(
                (
                    "Which act follows from which reason: a limit of runs asks for fresh oil while all else is sound; "
                    "a diff that is opened anyway is rebuilt where a seal is at its last use or something else is "
                    "wrong with it; oil that may run out within the runs planned is unclear, and rebuilt where it "
                    "does so for certain.",
                    "A usual day, where nobody wrote how many runs are planned: from your newest days with runs, "
                    f"else {RUNS_OF_A_DAY:g} runs.",
                    "Which runs are near enough to a forecast, by how much another oil must be nearer to be worth it, "
                    "when one does for all of the forecast and when it takes two, and how far off a diff's temperature "
                    "may be where it was never measured.",
                    "What levels by eye stand for, and that a new seal or gasket goes in each time where the last "
                    f"{BUILDS_LOOKED_AT} builds had one.",
                    f"{LEAST_BUILDS} builds before a kind has a time; that a build left over night (a gap of "
                    f"{NIGHT_MINUTES / 60:.0f} hours, part of it at night) or written down afterwards has none.",
                    "The order of work, and which cars go where nobody wrote it: those that ran in the six months "
                    "before the last run.",
                )
            ),
            Paragraph("The weighing, its uncertainty and the oil when warm rest on published sources, as everywhere."),
        ),
    )


def _never() -> Section:
    return Section(
        "What it never says",
        (
            Bullets(
                (
                    "An oil for weather or grip in which you ran nothing like it: then it says what is missing.",
                    "A number more certain than what it rests on, and no minutes that nobody timed or typed.",
                    "That a diff is sound because nothing is written about it. A run without a call, laps or grip "
                    "never makes a plan lighter.",
                    "That you will be faster. It says what you kept, how often, and in what weather.",
                    "Where to put a wheel: it is lines of a list, car by car, front to rear.",
                )
            ),
        ),
    )
