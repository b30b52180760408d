"""What an event says, what is missing of it, and what is odd: the lines above its plan."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date

from bevelbook.declare.in_command import in_command
from bevelbook.display.begun import begun
from bevelbook.display.days import day_in_words
from bevelbook.planning.event_to_come import EventToCome


def remarks_on(event: EventToCome | None, today: date, said_of_all: Sequence[str]) -> Iterator[str]:
    """What an event says, and each thing that is missing or odd, with the command that writes it down.

    ``said_of_all`` is why no oil is said, where that holds for every diff alike.
    """
    if event is None:
        return
    about = ", ".join(filter(None, (event.venue_name or "", _days(event), *_expected(event))))
    if about:
        yield about
    name = in_command(event.name)
    if event.first_on is None:
        yield f"When it is, is not written down: 'bevelbook record event {name} first_on=...'."
    elif event.last_on is not None and event.last_on < today.isoformat():
        yield "That is in the past: this is what the plan would be now."
    yield from _without_oil(event, said_of_all)
    pair = f"{in_command(f'event={event.name}')} car=..."
    if not event.cars:
        yield (
            f"No car goes yet, as none is in use: 'bevelbook record event-car {pair}'. "
            "A car that is not written down: 'bevelbook record car name=...' first."
        )
    elif not event.are_cars_said:
        yield f"Which cars go is not written down, so these are the ones in use: 'bevelbook record event-car {pair}'."
    if any(one.runs is None for one in event.cars):
        yield (
            "How many runs are planned is not written down, so a usual day is taken: "
            f"'bevelbook record event {name} runs_per_car=...'."
        )


def _days(event: EventToCome) -> str:
    return " to ".join(day_in_words(one) for one in dict.fromkeys((event.first_on, event.last_on)) if one)


def _expected(event: EventToCome) -> Iterator[str]:
    if event.air.is_known:
        yield f"air {event.air.words}"
    if event.track.is_known:
        yield f"track {event.track.words}"
    if event.grip is not None:
        yield f"{event.grip} grip"


def _without_oil(event: EventToCome, said_of_all: Sequence[str]) -> Iterator[str]:
    fields = [] if event.venue else ["venue=..."]
    what = [] if event.venue else ["the venue"]
    if not event.has_forecast:
        fields += ["air_low=...", "air_high=..."]
        what += ["the weather expected"]
    if fields:
        no_oil = ", so no oil is said" if said_of_all else ""
        command = f"bevelbook record event {in_command(event.name)} {' '.join(fields)}"
        yield f"Not written down: {' and '.join(what)}{no_oil}: '{command}'."
    else:
        yield from (f"{begun(one)}." for one in said_of_all)
