"""All records of the team, each declared once. Everything about a table follows from its entry here."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from types import MappingProxyType
from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import UnknownNameError
from bevelbook.declare.fields import Field, field_of, fields_of
from bevelbook.declare.in_command import command_of
from bevelbook.records import (
    bench,
    bookkeeping,
    building,
    cars,
    events,
    facts,
    job_times,
    joins,
    parts,
    people,
    photos,
    plans,
    put_by,
    stock,
    track,
)


class Order(NamedTuple):
    """The column by which a page shows the rows of a table or a view."""

    column: str
    newest_first: bool = False


class Kind(NamedTuple):
    """One kind of record.

    ``label`` is the column that names a row for people; ``day`` the column of its day; ``searched`` the text columns
    that the search looks through. ``own`` kinds are written by people or by an import; the others only by the tool.
    ``fact`` kinds follow from the others: their first column is their key, and they can be worked out again.
    ``order`` is the row order on a page, if it is neither by day nor by label. ``spoken`` are shorter or other names
    by which people call such a record. Of the references in ``one_of`` each record has exactly one. ``from_file`` is
    the field that is filled from a file given with the record, and that nobody types. ``with_files`` marks what leaves
    the team only where its files do: kept files of notes, photographs and their pictures. ``derived`` kinds follow from
    the others, and are neither sent along nor asked of other databases.
    """

    name: str
    table: str
    title: str
    about: str
    cls: type[Any]
    label: str | None = None
    day: str | None = None
    searched: tuple[str, ...] = ()
    own: bool = True
    fact: bool = False
    order: Order | None = None
    spoken: tuple[str, ...] = ()
    one_of: tuple[str, ...] = ()
    from_file: str | None = None
    with_files: bool = False
    derived: bool = False

    @property
    def fields(self) -> tuple[Field, ...]:
        return fields_of(self.cls)

    @property
    def joined_references(self) -> tuple[Field, ...]:
        """The references to kinds of which several records may be one thing: they show the one that stands for it."""
        return tuple(one for one in self.fields if self.own and one.target in joins.JOINED_KINDS)

    @property
    def shown_otherwise(self) -> tuple[str, ...]:
        """The columns that may show something else than was written: those references, and a name that two have."""
        names = (self.label,) if self.name in joins.TOLD_APART_KINDS and self.label else ()
        return (*(one.name for one in self.joined_references), *names)

    @property
    def defaults(self) -> dict[str, object]:
        """The values of fields that are left out, if they are not empty."""
        return {field.name: field.default for field in self.fields if not field.required and field.default is not None}

    def field(self, name: str) -> Field:
        """One field by name."""
        return field_of(self.cls, name)

    @property
    def columns(self) -> tuple[str, ...]:
        return tuple(field.name for field in self.fields)

    @property
    def shown_by(self) -> Order | None:
        """The order in which its rows are shown and written out: its own, the newest day first, or by label."""
        if self.order is not None:
            return self.order
        if self.day is not None:
            return Order(self.day, newest_first=True)
        return Order(self.label) if self.label is not None else None

    @property
    def needed(self) -> tuple[Field, ...]:
        """The fields that a new record has to be given; the tool makes the labels of builds and runs, and takes the day
        of the last entry or today."""
        made = ("label", self.day, self.from_file) if self.name in ("build", "run") else (self.day, self.from_file)
        return tuple(field for field in self.fields if field.required and field.name not in made)

    @property
    def needs_more(self) -> bool:
        """Whether a new record needs more than its label."""
        return any(field.name != self.label for field in self.needed)

    def command(self, known: Mapping[str, str] = MappingProxyType({})) -> str:
        """The command that writes a new record, with the fields that it needs, else with its day or label; of
        ``known`` ones, by what they are typed as, with their values.

        >>> BY_NAME["build"].command()
        'bevelbook record build diff=...'
        >>> BY_NAME["person"].command({"name": "ana maria"})
        'bevelbook record person "name=ana maria"'
        """
        names = [field.stem for field in self.needed] or [self.day or self.label or "..."]
        return command_of(
            "record", self.name.replace("_", "-"), *(f"{name}={known.get(name) or '...'}" for name in names)
        )


KINDS: Final = (
    Kind("person", "people", "People", "Team mates", people.Person, "name"),
    Kind("car", "cars", "Cars", "The team's cars", people.Car, "name"),
    Kind("venue", "venues", "Venues", "Tracks and halls", people.Venue, "name", searched=("name", "note")),
    Kind(
        "event",
        "events",
        "Events",
        "Race days to prepare for: where, when, the weather and grip expected, the runs planned",
        events.Event,
        "name",
        "first_on",
        ("name", "note"),
    ),
    Kind(
        "event_car",
        "event_cars",
        "Cars at events",
        "Which cars go to an event, and how many runs each is to do",
        events.EventCar,
        spoken=("car at event", "car at an event"),
    ),
    Kind("scale", "scales", "Scales", "Scales, with their steps and errors", people.Scale, "name"),
    Kind(
        "scale_reading",
        "scale_readings",
        "Scale readings",
        "One thing weighed again and again, which shows what a scale can tell",
        people.ScaleReading,
        day="read_on",
        searched=("thing",),
    ),
    Kind("seal", "seals", "Seals", "Kinds of seal with their sizes when new", parts.Seal, "label"),
    Kind(
        "diff",
        "diffs",
        "Diffs",
        "Each sealed bevel-gear differential of the team",
        parts.Diff,
        "label",
        searched=("label", "mark", "note"),
    ),
    Kind("fluid", "fluids", "Fluids", "Oils as labelled", parts.Fluid, "label", searched=("label", "note")),
    Kind(
        "bottle",
        "bottles",
        "Bottles",
        "Bottles and own measurements of them",
        parts.Bottle,
        "lot",
        "opened_on",
        ("lot", "note"),
    ),
    Kind(
        "fluid_comparison",
        "fluid_comparisons",
        "Fluid comparisons",
        "Which of two bottles is thicker, from equal tests",
        parts.FluidComparison,
        day="compared_on",
    ),
    Kind(
        "idea",
        "ideas",
        "Ideas",
        "Things to try; open until a build tries them",
        track.Idea,
        "text",
        "noted_on",
        ("text",),
    ),
    Kind(
        "build",
        "builds",
        "Builds",
        "Each filling of a diff, with its masses, oil and parts",
        building.Build,
        "label",
        "built_on",
        ("label", "note"),
    ),
    Kind(
        "blend_part",
        "blend_parts",
        "Blend parts",
        "The oils that a build's blend was made of",
        building.BlendPart,
    ),
    Kind(
        "seal_fitting",
        "seal_fittings",
        "Seals fitted",
        "Which seal sits where in a build",
        building.SealFitting,
        spoken=("seal fitted",),
    ),
    Kind(
        "build_part",
        "build_parts",
        "Parts fitted",
        "Gears, outdrives and other parts of a build",
        building.BuildPart,
        spoken=("part", "part fitted"),
    ),
    Kind(
        "build_shim",
        "build_shims",
        "Shims fitted",
        "Shims of a build, signed",
        building.BuildShim,
        spoken=("shim fitted",),
    ),
    Kind(
        "weighing",
        "weighings",
        "Weighings",
        "Masses taken after the build; only equal bases are compared",
        building.Weighing,
        day="weighed_on",
        searched=("note",),
    ),
    Kind(
        "opening",
        "openings",
        "Openings",
        "What was found when a build ended",
        building.Opening,
        day="opened_on",
        searched=("note",),
    ),
    Kind(
        "bench_job",
        "bench_jobs",
        "Bench jobs",
        "Work on a diff at the bench, from its first step to the last",
        bench.BenchJob,
        order=Order("begun_at", newest_first=True),
    ),
    Kind(
        "bench_step",
        "bench_steps",
        "Bench steps",
        "The steps of work at the bench: when each was begun and done, or why it was left out",
        bench.BenchStep,
        order=Order("begun_at", newest_first=True),
    ),
    Kind(
        "photo",
        "photos",
        "Photographs",
        "Pictures of a part, a seal, a build, what an opening found, or a bottle",
        photos.Photo,
        day="taken_on",
        searched=("note",),
        spoken=("photograph",),
        one_of=photos.HUNG_ON,
        from_file="picture",
        with_files=True,
    ),
    Kind(
        "run",
        "runs",
        "Runs",
        "Times on track: conditions, how the car felt, what was decided",
        track.Run,
        "label",
        "run_on",
        ("changed", "happened", "note"),
    ),
    Kind(
        "run_diff",
        "run_diffs",
        "Diffs in runs",
        "Which build was in the car, where, and how warm",
        track.RunDiff,
        spoken=("diff in run", "diff in a run"),
    ),
    Kind(
        "car_diff",
        "car_diffs",
        "Diffs in cars",
        "Which diff sits where in which car, from when, or what sits there instead",
        cars.CarDiff,
        day="from_on",
        spoken=("diff in car", "diff in a car"),
    ),
    Kind(
        "car_value",
        "car_values",
        "Cars, what is in them",
        "Motor, gearing, tyres, springs and more of a car, each from when on",
        cars.CarValue,
        day="from_on",
        searched=("what", "value", "note"),
    ),
    Kind(
        "put_by",
        "findings_put_by",
        "Findings put by",
        "Findings that somebody put by with a reason, until their numbers change",
        put_by.PutBy,
        day="put_by_on",
        spoken=("finding put by",),
    ),
    Kind(
        "join",
        "joins",
        "Joined",
        "Two records that are one thing, or are two although they share a name",
        joins.Join,
        day="said_on",
    ),
    Kind("limit", "limits", "Limits", "The team's own limits", track.Limit, "kind"),
    Kind("job_time", "job_times", "Job times", "How long a job on a diff takes the team", job_times.JobTime, "job"),
    Kind(
        "stock_part",
        "stock_parts",
        "Parts in stock",
        "Parts of which the team counts how many it has",
        stock.StockPart,
        "label",
        searched=("label", "note"),
        spoken=("part in stock",),
    ),
    Kind(
        "stock_change",
        "stock_changes",
        "Stock counted and delivered",
        "How many of a part were counted, delivered, or taken out other than into a build",
        stock.StockChange,
        day="changed_on",
    ),
    Kind(
        "kit_part",
        "kit_parts",
        "Parts of kits",
        "What is in a kit that is bought as one",
        stock.KitPart,
        order=Order("kit"),
        spoken=("part of kit", "part of a kit"),
    ),
    Kind(
        "bottle_check",
        "bottle_checks",
        "Bottles checked",
        "A bottle on the scale, or how full it looked",
        stock.BottleCheck,
        day="checked_on",
        spoken=("bottle checked",),
    ),
    Kind(
        "plan",
        "plans",
        "Plans",
        "Plans that were kept, each as it was when it was made",
        plans.KeptPlan,
        order=Order("made_at", newest_first=True),
    ),
    Kind(
        "plan_line",
        "plan_lines",
        "Lines of plans",
        "What a kept plan said about each diff",
        plans.KeptPlanLine,
        order=Order("place"),
    ),
    Kind(
        "note_file",
        "note_files",
        "Note files",
        "Imported files, kept unchanged",
        bookkeeping.NoteFile,
        "name",
        own=False,
        order=Order("read_at", newest_first=True),
        with_files=True,
    ),
    Kind(
        "note_reject",
        "note_rejects",
        "Note rows left out",
        "Lines that were rejected or skipped, with the reason",
        bookkeeping.NoteReject,
        own=False,
        order=Order("line"),
    ),
    Kind(
        "note_extra",
        "note_extras",
        "Note cells beside",
        "Cells of columns that the importer does not know",
        bookkeeping.NoteExtra,
        own=False,
        order=Order("line"),
    ),
    Kind(
        "picture",
        "pictures",
        "Pictures",
        "Pictures that photographs show, each once: its size; the table picture_bytes has the picture itself",
        bookkeeping.Picture,
        own=False,
        order=Order("kept_at", newest_first=True),
        with_files=True,
    ),
    Kind(
        "calculation",
        "calculations",
        "Calculations",
        "Results of calculators with their inputs, kept as rows",
        bookkeeping.Calculation,
        "calculator",
        own=False,
        order=Order("calculated_at", newest_first=True),
    ),
    Kind(
        "clash",
        "clashes",
        "Clashes",
        "Records that were changed differently in two places, until somebody settles which version holds",
        bookkeeping.Clash,
        own=False,
        derived=True,
    ),
    Kind(
        "entry",
        "entries",
        "Entries",
        "Each act of a person that changed records",
        bookkeeping.Entry,
        "asked",
        own=False,
        order=Order("made_at", newest_first=True),
    ),
    Kind(
        "erasure",
        "erasures",
        "Erased",
        "What was erased, by ids alone: it goes along with every merge and takes the same out there",
        bookkeeping.Erasure,
        own=False,
    ),
    Kind(
        "note_diff",
        "note_diffs",
        "Diffs of note rows",
        "The diff that a row of notes is of, where it is on a build of another one",
        bookkeeping.NoteDiff,
        own=False,
    ),
)

FACTS: Final = (
    Kind(
        "build_fact",
        "build_facts",
        "Facts of builds",
        "What follows from the records about each build: runs, oil, what it lost",
        facts.BuildFacts,
        own=False,
        fact=True,
    ),
    Kind(
        "run_diff_fact",
        "run_diff_facts",
        "Facts of diffs in runs",
        "What follows about each diff in each run: runs before, whether it was full, how thick its oil was",
        facts.RunDiffFacts,
        own=False,
        fact=True,
    ),
    Kind(
        "diff_fact",
        "diff_facts",
        "Facts of diffs",
        "What follows about each diff: its last build, its shelf word, the limits that apply to it",
        facts.DiffFacts,
        own=False,
        fact=True,
    ),
)
"""Tables that follow from the records. They are not in ``KINDS``: nobody names, records, exports or merges them."""

BY_NAME: Final = {kind.name: kind for kind in KINDS}
BY_TABLE: Final = {kind.table: kind for kind in KINDS}


def kind_called(name: str) -> Kind:
    """The kind of record by its name in the singular, its table or title, a word of its name that no other kind has, or
    as people say it.

    Raises UnknownNameError with near misses and the kinds there are.

    >>> kind_called("shim").name, kind_called("Seal fitting").name, kind_called("diff in run").name
    ('build_shim', 'seal_fitting', 'run_diff')
    """
    known = _by_any_name().get(_folded(name))
    if known is not None:
        return known
    own = [kind.name.replace("_", "-") for kind in KINDS if kind.own]
    raise UnknownNameError(
        "record",
        name.replace("_", "-"),
        own,
        by_command=f"The kinds are {', '.join(own)}.",
        noun="kind of record",
    )


def kind_in(words: Sequence[str]) -> int:
    """How many of the first words together name a kind: 2 of ``seal fitting build=rear-a``; 0 if none do."""
    known = _by_any_name()
    counts = [count for count in range(1, len(words) + 1) if _folded(" ".join(words[:count])) in known]
    return max(counts, default=0)


@cache
def _by_any_name() -> dict[str, Kind]:
    own = [kind for kind in KINDS if kind.own]
    words = [(word, kind) for kind in own for word in kind.name.split("_")]
    of_one = {word: kind for word, kind in words if sum(word == other for other, _ in words) == 1}
    found = {_folded(name): kind for kind in KINDS for name in (*kind.spoken, kind.title, kind.table)}
    return {**of_one, **found, **{_folded(kind.name): kind for kind in KINDS}}


def _folded(name: str) -> str:
    return " ".join(name.replace("_", " ").replace("-", " ").casefold().split())


def linked(name: str, other: str) -> bool:
    """Whether one kind of record is the other, or refers to it, directly or through others.

    >>> linked("weighing", "diff"), linked("diff", "weighing")
    (True, False)
    """
    seen: set[str] = set()
    waiting = [name]
    while waiting:
        here = waiting.pop()
        seen.add(here)
        followed = (field for field in BY_NAME[here].fields if field.followed)
        waiting += [field.target for field in followed if field.target is not None and field.target not in seen]
    return other in seen
