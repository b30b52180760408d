"""A plan that cannot say an oil says what its runs lack, each with a command that writes it down. All invented."""

from __future__ import annotations

import re
import shlex
from collections.abc import Callable
from pathlib import Path

from conftest import Outcome

TYPED = {
    "grip": "low",
    "air_temp": "20",
    "track_temp": "28",
    "viscosity": "7000",
    "viscosity_source": "label",
}


def test_what_the_runs_lack_comes_with_the_command_that_settles_it(bevelbook: Callable[..., Outcome], db: Path) -> None:
    def say(*words: str) -> Outcome:
        done = bevelbook("--db", db, *words)
        assert done.code in (0, 1), done.err
        return done

    for words in (
        "diff label=rear-a usual_position=rear",
        'fluid label="old tin"',
        'build diff=rear-a built_on=2026-05-01 fluid="old tin" oil_mass=1.86',
        "car name=blue",
        "venue name=hall surface=carpet",
        "run run_on=2026-05-02 label=one car=blue rear=rear-a air_temp=20 track_temp=28 grip=low call=keep",
        "run run_on=2026-05-03 label=two car=blue rear=rear-a",
        'event name="spring race" venue=hall first_on=2026-06-13 air_low=18 air_high=22 runs_per_car=4 grip=low',
        'event-car event="spring race" car=blue',
    ):
        say("record", *shlex.split(words))
    said = " ".join(say("plan", "spring race").out.split()).replace(f"--db {db} ", "")
    lacking = said.partition("each run: in the rear ")[2]
    found = dict(re.findall(r"runs? without ([a-zA-Z ]+) \('bevelbook ([^']+)'\)", lacking))
    assert found == {
        "a call": "calls",
        "air and track": "record run two air_temp=... track_temp=...",
        "grip": "record run two grip=...",
        "the cSt of the oil": 'record fluid "old tin" viscosity=... viscosity_source=...',
    }
    for command in found.values():
        if command != "calls":
            typed = re.sub(r"(\w+)=\.\.\.", lambda field: f"{field[1]}={TYPED[field[1]]}", command)
            assert say(*shlex.split(typed)).code == 0
    assert "without the cSt" not in " ".join(say("plan", "spring race").out.split())
