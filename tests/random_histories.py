"""Random histories of three laptops, by the real ways of writing, with meetings in between; all names are invented.

A history is a list of acts. Each act draws what it does by its own seed from what its laptop then holds, so an act can
be left out and the others stay what they are: that is how a history that shows a fault is made short.
"""

from __future__ import annotations

import io
import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import timedelta
from functools import cache
from pathlib import Path
from random import Random
from typing import Final, NamedTuple

from laptops import Laptop
from photographed import BLUE, GREEN, RED, picture, save_photograph
from steered import START, Steering, steered

from bevelbook.calculating.calculate import bind, run
from bevelbook.calculating.keep import batch, keep_result
from bevelbook.calculating.known import find_subject, known_of
from bevelbook.cli.repeated import repeated
from bevelbook.declare.errors import BevelbookError
from bevelbook.declare.fields import Field
from bevelbook.entering.dated_build import AS_DRY_MASS, BEFORE_OPENING, CLOSED_AGAIN
from bevelbook.entering.question import Answers, Question
from bevelbook.meeting.settle import BOTH
from bevelbook.meeting.settled_clash import settle_clash
from bevelbook.notes.changed_rows import Answer
from bevelbook.notes.importing import import_notes
from bevelbook.notes.reread import carry_out, revise
from bevelbook.notes.settings import Settings
from bevelbook.pictures.prepare import PreparedPicture, prepared_picture
from bevelbook.plugin.registry import Registry, load
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind
from bevelbook.records.joins import JOINED_KINDS
from bevelbook.saving.erasing import erase, person_to_erase, photograph_to_erase, text_to_erase
from bevelbook.saving.imported import AfterImport
from bevelbook.saving.joining import say_of_two
from bevelbook.saving.placed_rows import place_rows
from bevelbook.saving.record import WantedRecord, read_wanted, save
from bevelbook.saving.removal import remove_record
from bevelbook.store.clashes import clashes
from bevelbook.store.entry_contents import EntryBook
from bevelbook.store.ids import now_utc
from bevelbook.store.opening import transaction
from bevelbook.store.soundness import accept_changes
from bevelbook.store.writing import Writer
from bevelbook.taking_back.take_back import plans_of, take_back

NAMES: Final = "abc"
"""The laptops: of anna, bo and cy."""
PEOPLE: Final = ("anna", "bo", "cy")
_DIFFS: Final = ("rear-a", "rear A", "front-1")
_OILS: Final = ("house 5k", "House 5k", "house 7k")
_VENUES: Final = ("Brickfield", "Depot")
_DAYS: Final = tuple(f"2026-04-{day:02}" for day in range(1, 8))
_CLOCKS_OFF_S: Final = (0.0, 0.0, 1.5, -7_200.0, 7_200.0, -90_000.0, 260_000.0)
_HEADING: Final = "date,diff,dry_mass_g,oil_mass_g,total_mass_g,fluid,runs,venue,builder"
_TODAY: Final = "2026-06-01"
MEET: Final = "meet"
Merge = Callable[[Laptop, Path], object]
"""Takes what a file holds, as another laptop sent it, into the database of one."""


class Act(NamedTuple):
    """Something done on a laptop, by its number; ``seed`` settles what exactly, ``minute`` when."""

    what: str
    laptop: int
    seed: int
    minute: int


class History(NamedTuple):
    """What was done on the three laptops, in the order in which it was done, and how far their clocks are off.

    ``begun`` says of each laptop whose team file it begins with: its own, a copy of that of the first, or none.
    """

    seed: int
    clocks_off_s: tuple[float, ...]
    begun: tuple[str, ...]
    acts: tuple[Act, ...]


def history_of(seed: int, counts: Sequence[int] = (3, 4, 6, 6, 8, 10, 12, 16)) -> History:
    """The history of a seed, of one of so many acts."""
    random = Random(f"history {seed}")
    count = random.choice(counts)
    begun = random.choice(("aaa", "aaa", "aaa", "aab", "abc", "aa-", "---"))
    acts = []
    minute = 600
    for _ in range(count):
        minute += random.choice((1, 3, 20, 300))
        what = random.choices(tuple(_ACTS), [one.weight for one in _ACTS.values()])[0]
        acts.append(Act(what, random.randrange(3), random.getrandbits(32), minute))
    return History(seed, tuple(random.choice(_CLOCKS_OFF_S) for _ in NAMES), tuple(begun), tuple(acts))


class Player:
    """Plays histories on three laptops; ``merge_file`` is how one takes in what another sends."""

    def __init__(self, laptops: Sequence[Laptop], steering: Steering, registry: Registry, merge_file: Merge) -> None:
        self.laptops = laptops
        self.steering = steering
        self.registry = registry
        self.merge_file = merge_file
        self.log: list[str] = []
        self._begun: dict[str, bytes] = {}

    def play(self, history: History, *, on_act: Callable[[Laptop], object] = lambda _laptop: None) -> None:
        """Do all of it on empty databases; ``on_act`` is called after each act that changed something."""
        self.log = []
        files = [self.team_file(begun) for begun in history.begun]
        for laptop, off, file in zip(self.laptops, history.clocks_off_s, files, strict=True):
            laptop.clock_off_s = off
            laptop.put(file)
        for act in history.acts:
            laptop = self.laptops[act.laptop]
            with self.at(laptop, act.minute, act.seed) as random:
                if act.what == MEET:
                    other = random.choice([one for one in self.laptops if one is not laptop])
                    self.log.append(f"{laptop.name}: meets {other.name}")
                    self.merge_file(laptop, other.to_send(other.path.with_name(f"sent-by-{other.name}.db")))
                    on_act(laptop)
                else:
                    self._act(act, laptop, random, on_act)

    def _act(self, act: Act, laptop: Laptop, random: Random, on_act: Callable[[Laptop], object]) -> None:
        did = Doing(laptop, PEOPLE[act.laptop], self.registry, random)
        before = laptop.connection.total_changes
        try:
            _ACTS[act.what].do(did)
            outcome = "" if laptop.connection.total_changes > before else " (nothing)"
        except (BevelbookError, Nothing) as fault:
            outcome = f" (refused: {fault or 'there is nothing of it'})"
        except sqlite3.IntegrityError as fault:
            outcome = f" (refused: {fault})"
        if laptop.connection.in_transaction:
            laptop.connection.rollback()
        self.log.append(f"{laptop.name}: {act.what}: {did.said}{outcome}")
        if not outcome:
            on_act(laptop)

    def team_file(self, begun: str) -> bytes:
        """A database to begin with: one with the names and a first build, made on its own or empty."""
        if begun == "-":
            return self.laptops[0].empty
        if begun not in self._begun:
            laptop = self.laptops[0]
            laptop.put(laptop.empty)
            laptop.clock_off_s = 0.0
            for number, (kind, texts) in enumerate(_FIRST):
                with self.at(laptop, number * 2 + NAMES.index(begun), number) as random:
                    self.steering.random = Random(f"begun {begun} {number}")
                    Doing(laptop, PEOPLE[NAMES.index(begun)], self.registry, random).record(kind, **texts)
            self._begun[begun] = laptop.kept()
        return self._begun[begun]

    @contextmanager
    def at(self, laptop: Laptop, minute: int, seed: int) -> Iterator[Random]:
        """What is written meanwhile is of that minute, by the clock of the laptop."""
        self.steering.at = START + timedelta(minutes=minute, seconds=laptop.clock_off_s)
        self.steering.random = Random(f"ids {seed}")
        with steered(self.steering):
            yield Random(f"act {seed}")


_FIRST: Final[tuple[tuple[str, dict[str, str]], ...]] = (
    ("person", {"name": "anna"}),
    ("person", {"name": "bo"}),
    ("diff", {"label": "rear-a", "usual_position": "rear"}),
    ("diff", {"label": "front-1"}),
    ("fluid", {"label": "house 5k", "viscosity_cst": "5000"}),
    ("venue", {"name": "Brickfield"}),
    ("car", {"name": "white"}),
    ("scale", {"name": "bench", "step_g": "0.01"}),
    (
        "build",
        {"diff": "rear-a", "built_on": _DAYS[0], "dry_mass_g": "12.4", "oil_mass_g": "1.86", "fluid": "house 5k"},
    ),
    ("run", {"run_on": _DAYS[1], "rear": "rear-a", "runs": "2", "venue": "Brickfield"}),
)
"""What a team file holds to begin with."""


class Nothing(Exception):
    """The laptop holds nothing that the act could be done with."""


class Doing:
    """One act on a laptop, while it is done; ``said`` is what, for people."""

    def __init__(self, laptop: Laptop, by: str, registry: Registry, random: Random) -> None:
        self.connection = laptop.connection
        self.path = laptop.path
        self.by = by
        self.registry = registry
        self.random = random
        self.said = ""

    def any_of(self, table: str, where: str = "1") -> str:
        """The id of some row."""
        ids = [row[0] for row in self.connection.execute(f"SELECT id FROM {table} WHERE {where} ORDER BY id")]
        if not ids:
            raise Nothing
        return str(self.random.choice(ids))

    def record(self, kind_name: str, row_id: str | None = None, /, *, another: bool = False, **texts: str) -> None:
        """Record as the command does, in one entry."""
        self.said = " ".join((kind_name, row_id or "", *(f"{key}={text}" for key, text in texts.items())))
        with transaction(self.connection, self.path, asked=f"record {self.said}", by=self.by):
            self.record_within(kind_name, row_id, another=another, **texts)

    def record_within(
        self, kind_name: str, row_id: str | None = None, /, *, another: bool = False, **texts: str
    ) -> str:
        """The same within an entry; returns its id."""
        kind = BY_NAME[kind_name]
        keys = [CLOSED_AGAIN, BEFORE_OPENING, AS_DRY_MASS]
        answers = Answers(for_all=frozenset(key for key in keys if self.random.random() < 0.5))
        wanted = WantedRecord(kind, {key: text for key, text in texts.items() if text or row_id}, row_id, answers)
        try:
            entry = read_wanted(self.connection, wanted, self.by)
        except Question as question:
            raise Nothing from question
        before = repeated(self.connection, entry, self.by, another=another)
        return before or save(self.connection, self.registry, entry, self.by).row_id


# What a person writes by hand


def _names(do: Doing) -> None:
    kind, texts = do.random.choice(
        (
            ("diff", {"label": do.random.choice(_DIFFS)}),
            ("diff", {"label": do.random.choice(_DIFFS), "usual_position": do.random.choice(("front", "rear"))}),
            ("fluid", {"label": do.random.choice(_OILS), "viscosity_cst": do.random.choice(("", "5000", "7000"))}),
            ("person", {"name": do.random.choice(("anna", "Anna", "bo"))}),
            ("venue", {"name": do.random.choice(_VENUES)}),
            ("car", {"name": do.random.choice(("white", "blue"))}),
            ("scale", {"name": "bench", "step_g": do.random.choice(("0.01", "0.001"))}),
        )
    )
    do.record(kind, another=do.random.random() < 0.2, **texts)


def _build(do: Doing) -> None:
    diff = do.any_of("diffs")
    more = {
        "fluid": do.any_of("fluids") if do.random.random() < 0.5 and _holds(do, "fluids") else "",
        "oil_mass_g": do.random.choice(("", "1.86", "1.8")),
        "mass_basis": do.random.choice(("", "closed", "open half")),
        "kind": do.random.choice(("", "oil change", "rebuild", "top-up")) if do.random.random() < 0.2 else "",
    }
    texts = {"diff": diff, "built_on": do.random.choice(_DAYS), "dry_mass_g": do.random.choice(("12.4", "12.41"))}
    do.record("build", another=do.random.random() < 0.3, **texts, **more)


def _run(do: Doing) -> None:
    texts = {"run_on": do.random.choice(_DAYS), "runs": do.random.choice(("", "1", "3"))}
    if do.random.random() < 0.8:
        texts[do.random.choice(("front", "rear"))] = do.any_of("diffs")
    if do.random.random() < 0.4 and _holds(do, "venues"):
        texts["venue"] = do.any_of("venues")
    do.record("run", another=do.random.random() < 0.5, **texts)


def _weighing(do: Doing) -> None:
    texts = {"build": do.any_of("builds"), "mass_g": do.random.choice(("14.2", "14.1", "13.9"))}
    texts["weighed_on"] = do.random.choice(("", *_DAYS))
    texts["mass_basis"] = do.random.choice(("", "closed", "open half"))
    do.record("weighing", another=do.random.random() < 0.5, **texts)


def _opening(do: Doing) -> None:
    texts = {"build": do.any_of("builds"), "opened_on": do.random.choice(_DAYS)}
    do.record("opening", **texts, reason=do.random.choice(("routine", "leak")))


def _other(do: Doing) -> None:
    what = do.random.randrange(7)
    if what == 0:
        do.record("idea", text=do.random.choice(("7k at the rear", "thinner in front")), noted_on=_DAYS[0])
    elif what == 1:
        do.record("limit", kind="runs", value=do.random.choice(("8", "9")), diff=do.any_of("diffs"))
    elif what == 2:
        do.record("bottle", fluid=do.any_of("fluids"), lot=do.random.choice(("L1", "L2")))
    elif what == 3:
        do.record("seal", label=do.random.choice(("red ring", "black ring")))
    elif what == 4:
        place = do.random.choice(("joint", "lid-side shaft"))
        do.record("seal_fitting", build=do.any_of("builds"), place=place, condition="new")
    elif what == 5:
        do.record(
            "build_part", build=do.any_of("builds"), part="side gear", condition=do.random.choice(("new", "used"))
        )
    else:
        texts = {"kind": "other", "way": "every step", "begun_at": now_utc(), "diff": do.any_of("diffs")}
        job = BY_NAME["bench_job"]
        texts["kind"], texts["way"] = job.field("kind").choices[0], job.field("way").choices[0]
        do.said = f"bench job of {texts['diff']}"
        with transaction(do.connection, do.path, asked="enter: bench", by=do.by):
            writer = Writer(do.connection, do.by)
            row_id = writer.insert(job, texts)
            writer.insert(
                BY_NAME["bench_step"], {"job": row_id, "step": "open", "title": "Open it", "begun_at": now_utc()}
            )


_CHANGED: Final[Mapping[str, tuple[str, ...]]] = {
    "diff": ("label", "mark", "usual_position", "note", "housing_material"),
    "fluid": ("label", "viscosity_cst", "note"),
    "person": ("note", "name"),
    "venue": ("note", "name"),
    "build": ("dry_mass_g", "oil_mass_g", "hand_feel", "note", "built_on", "fluid", "mass_basis", "diff"),
    "run": ("grip", "runs", "note", "run_on", "call", "rear", "venue"),
    "weighing": ("mass_g", "note", "weighed_on", "mass_basis", "build"),
    "opening": ("oil", "note"),
    "bench_job": ("done_at", "given_up"),
}
_TEXTS: Final[Mapping[str, tuple[str, ...]]] = {
    "mark": ("red dot", "blue dot", ""),
    "note": ("seen", "not seen", "Anna's shim, bo saw it", ""),
    "housing_material": ("aluminium", "nylon"),
    "dry_mass_g": ("12.4", "12.42", "12.5"),
    "oil_mass_g": ("1.86", "1.8", ""),
    "viscosity_cst": ("5000", "7000", ""),
    "mass_g": ("14.2", "14.1", "13.9"),
    "runs": ("1", "2", "3"),
    "given_up": ("no gasket", ""),
    "done_at": ("2026-04-05T10:00:00.000Z", ""),
    "diff.label": _DIFFS,
    "fluid.label": _OILS,
    "person.name": ("anna", "Anna", "bo"),
    "venue.name": _VENUES,
}


def _drawn(do: Doing, kind: Kind, name: str) -> str:
    """A text for a field, one of so few that it often comes back."""
    known = _TEXTS.get(f"{kind.name}.{name}", _TEXTS.get(name))
    if known is not None:
        return do.random.choice(known)
    if name in ("front", "rear"):
        return do.any_of("diffs")
    field: Field = kind.field(name)
    if field.kind == "reference" and field.target:
        return do.any_of(BY_NAME[field.target].table)
    return do.random.choice(_DAYS if field.kind == "date" else field.choices[:3])


def _change(do: Doing) -> None:
    kind = BY_NAME[do.random.choice([one for one in _CHANGED if _holds(do, BY_NAME[one].table)] or ["diff"])]
    row_id = do.any_of(kind.table)
    names = do.random.sample(_CHANGED[kind.name], do.random.choice((1, 1, 1, 2)))
    texts = {name: _drawn(do, kind, name) for name in names}
    if kind.name == "bench_job":
        do.said = f"bench_job {row_id} {texts}"
        with transaction(do.connection, do.path, asked="enter: bench", by=do.by):
            Writer(do.connection, do.by).update(kind, row_id, {name: text or None for name, text in texts.items()})
        return
    do.record(kind.name, row_id, another=do.random.random() < 0.5, **texts)


def _swap_names(do: Doing) -> None:
    """Two diffs were taken for each other: each gets the other's name, so that a sheet lies on the other one."""
    diffs = do.connection.execute("SELECT id, label FROM diffs ORDER BY id").fetchall()
    if len(diffs) < 2:
        raise Nothing
    (one, name), (other, other_name) = do.random.sample(diffs, 2)
    do.record("diff", one, label="swapped", another=True)
    do.record("diff", other, label=name, another=True)
    do.record("diff", one, label=other_name, another=True)


def _move_build(do: Doing) -> None:
    do.record("build", do.any_of("builds"), diff=do.any_of("diffs"))


def _remove(do: Doing) -> None:
    kinds = [kind for kind in KINDS if kind.own and _holds(do, kind.table)]
    kind = do.random.choice(kinds) if kinds else BY_NAME["diff"]
    row_id = do.any_of(kind.table)
    do.said = f"{kind.name} {row_id}"
    with transaction(do.connection, do.path, asked=f"record {do.said} --remove", by=do.by) as entry:
        entry.reason = "a slip"
        remove_record(do.connection, do.registry, kind, row_id, do.by)


def _take_back(do: Doing) -> None:
    entries = EntryBook(do.connection).all
    if not entries:
        raise Nothing
    entry = entries[-1] if do.random.random() < 0.4 else do.random.choice(entries)
    do.said = f"entry {entry.number}, {entry.asked}"
    plans = plans_of(do.connection, entry, and_later=do.random.random() < 0.3)
    chosen = [plan.entry for plan in plans]
    take_back(do.connection, do.path, chosen, do.registry, asked=f"take-back {entry.number}", by=do.by)


def _join(do: Doing) -> None:
    kind = BY_NAME[do.random.choice(JOINED_KINDS)]
    ids = [row[0] for row in do.connection.execute(f"SELECT id FROM {kind.table} ORDER BY id")]
    if len(ids) < 2:
        raise Nothing
    one, other = do.random.sample(ids, 2)
    is_same = do.random.random() < 0.7
    do.said = f"{kind.name} {one} {other}{'' if is_same else ' --not'}"
    with transaction(do.connection, do.path, asked=f"join {do.said}", by=do.by):
        say_of_two(do.connection, do.registry, kind, one, other, do.by, is_same=is_same)


def _unjoin(do: Doing) -> None:
    row_id = do.any_of("joins")
    do.said = row_id
    with transaction(do.connection, do.path, asked=f"record join {row_id} --remove", by=do.by) as entry:
        entry.reason = "they are not"
        remove_record(do.connection, do.registry, BY_NAME["join"], row_id, do.by)


def _settle(do: Doing) -> None:
    """Settle a clash; where there is none, change what another laptop is likely to change too."""
    found = clashes(do.connection)
    if not found:
        _change(do)
        return
    clash = do.random.choice(found)
    which = do.random.choice((*(number for number, _ in clash.numbered), BOTH))
    do.said = f"{clash.kind.name} {clash.row_id}: {which}"
    with transaction(do.connection, do.path, asked=f"merge --settle {do.said}", by=do.by):
        settle_clash(do.connection, do.registry, clash.kind, clash.row_id, which, by=do.by)


def _place(do: Doing) -> None:
    place_rows(do.connection, do.path, do.registry, asked="check --place", by=do.by)


# Sheets


def _sheet_line(random: Random) -> str:
    day, diff = random.choice(_DAYS), random.choice(_DIFFS)
    cells = {
        "fill": ("12.4", "1.8", "", random.choice(_OILS), random.choice(("", "2")), "Brickfield", "anna"),
        "oil alone": ("", "1.8", "", random.choice(_OILS), "", "", ""),
        "run": ("", "", "", "", random.choice(("1", "2")), random.choice(_VENUES), "bo"),
        "weighing": ("", "", random.choice(("14.1", "14.0")), "", "", "", ""),
        "weighed after runs": ("", "", "14.1", "", "2", "", ""),
        "spoilt": ("~12", "1.8", "", "house 5k", "1", "Brickfield", "anna"),
        "spoilt run": ("", "", "", "", "two", "Depot", "bo"),
    }[
        random.choice(
            ("fill", "fill", "oil alone", "run", "run", "run", "weighing", "weighed after runs", "spoilt", "spoilt run")
        )
    ]
    return ",".join((day, diff, *cells))


@cache
def _sheets() -> tuple[tuple[str, ...], ...]:
    """The sheets of the team: each a few lines, some lines in several sheets."""
    random = Random("sheets")
    lines = [_sheet_line(random) for _ in range(40)]
    return tuple(tuple(random.sample(lines, random.choice((1, 2, 4, 6)))) for _ in range(30))


def _import(do: Doing, *, spoilt: bool = False) -> None:
    lines = list(do.random.choice([one for one in _sheets() if not spoilt or "~12" in "".join(one)]))
    if do.random.random() < 0.3:
        lines.append(_sheet_line(do.random))
    if do.random.random() < 0.2:
        lines.append(do.random.choice(lines))
    if do.random.random() < 0.3 and not spoilt:
        lines = [line.replace("~12", "12.4").replace("two", "2") for line in lines]
    if do.random.random() < 0.3:
        lines = [line.replace(",1.8,", ",1.9,", 1) for line in lines]
    beside = do.random.random() < 0.2
    heading = f"{_HEADING},weather" if beside else _HEADING
    rows = [f"{line},rain" if beside else line for line in lines]
    do.said = f"{len(rows)} rows: {' | '.join(rows)}"
    _bring_in(do, "\n".join((heading, *rows, "")), do.random.choice(("a.csv", "a.csv", "b.csv")))


def _mend(do: Doing) -> None:
    """The rejected rows of a file, put right."""
    if not do.connection.execute(
        "SELECT 1 FROM note_rejects WHERE status = 'rejected' AND closed_by IS NULL"
    ).fetchone():
        _import(do, spoilt=True)
        return
    file = do.any_of("note_rejects", "status = 'rejected' AND closed_by IS NULL")
    (file,) = do.connection.execute("SELECT note_file FROM note_rejects WHERE id = ?", (file,)).fetchone()
    rows = do.connection.execute(
        "SELECT line, raw, reason FROM note_rejects WHERE note_file = ? AND status = 'rejected' AND closed_by IS NULL "
        "ORDER BY line, id",
        (file,),
    ).fetchall()
    lines = []
    for line, raw, reason in rows:
        cells = [str(cell).replace("~12", "12.4").replace("two", "2") for cell in json.loads(raw)][:9]
        lines.append(",".join((*cells, str(line), reason, "dry_mass_g")))
    (name,) = do.connection.execute("SELECT name FROM note_files WHERE id = ?", (file,)).fetchone()
    do.said = f"{len(lines)} rows of {name}"
    text = "\n".join((f"{_HEADING},line,reason,column", *lines, ""))
    _bring_in(do, text, name.replace(".csv", ".rejected.csv"))


def _bring_in(do: Doing, text: str, name: str) -> None:
    after = AfterImport(do.connection, do.registry, do.by)
    answers: tuple[Answer | None, ...] = (None, "change", "change", "new", "leave")
    answer = do.random.choice(answers)
    import_notes(
        io.BytesIO(text.encode()),
        name,
        do.connection,
        do.path,
        Settings(today=_TODAY, allow_out_of_range=do.random.random() < 0.2),
        by=do.by,
        also=after.work_out,
        decide=None if answer is None else lambda rows: {row.line: answer for row in rows},
    )


def _read_again(do: Doing) -> None:
    if not _holds(do, "note_files"):
        _import(do)
        return
    file = do.any_of("note_files")
    settings = Settings(today=_TODAY, allow_out_of_range=do.random.random() < 0.5)
    if do.random.random() < 0.5:
        settings = settings._replace(words={"fluid": {"house 7k": "house 8k"}})
    elif do.random.random() < 0.5:
        settings = settings._replace(columns={"builder": "note"})
    revision = revise(do.connection, do.path, file, settings, by=do.by)
    do.said = f"{revision.kept.name}: {revision.report.outcome}"
    if revision.planned is None or revision.is_empty:
        raise Nothing
    after = AfterImport(do.connection, do.registry, do.by)
    carry_out(do.connection, do.path, revision, by=do.by, also=after.work_out)


# What the tool keeps


def _calculate(do: Doing) -> None:
    name = do.random.choice(("fill-target", "leak-trend", "headspace", "drag-heat"))
    offered = do.registry.calculator(name)
    with transaction(do.connection, do.path, asked=f"calc {name} --keep", by=do.by):
        if do.random.random() < 0.5:
            do.said = f"{name} for every build"
            batch(do.connection, offered, BY_NAME["build"], {}, do.by, now_utc)
            return
        subject = find_subject(do.connection, f"build:{do.any_of('builds')}")
        do.said = f"{name} for {subject.label}"
        known = known_of(do.connection, offered.calculator, [subject], {})
        result = run(offered.calculator, bind(offered.calculator, {}, known))
        keep_result(do.connection, offered, result, subject, do.by, now_utc())


@cache
def _pictures() -> tuple[PreparedPicture, ...]:
    return tuple(prepared_picture(picture(first=first, second=second)) for first, second in ((RED, BLUE), (GREEN, RED)))


def _photograph(do: Doing) -> None:
    hung_on = do.random.choice([one for one in ("build", "opening", "bottle") if _holds(do, f"{one}s")] or ["build"])
    texts = {hung_on: do.any_of(f"{hung_on}s"), "taken_on": do.random.choice(_DAYS), "piece": "outdrive"}
    do.said = f"of {hung_on} {texts[hung_on]}"
    with transaction(do.connection, do.path, asked=f"record photo {do.said}", by=do.by):
        wanted = WantedRecord(BY_NAME["photo"], texts)
        save_photograph(do.connection, do.registry, wanted, do.random.choice(_pictures()), do.by)


# What others do


def _erase(do: Doing) -> None:
    what = do.random.randrange(5)
    if what < 2:
        name = do.random.choice(("anna", "Anna", "bo", "cy"))
        do.said = f"person {name}"
        wanted = person_to_erase(do.connection, name, only_who=do.random.random() < 0.3)
    elif what == 2:
        photo = do.any_of("photos")
        do.said = f"photo {photo}"
        wanted = photograph_to_erase(do.connection, photo)
    else:
        table = do.random.choice(
            [one for one in ("runs", "builds", "weighings", "diffs") if _noted(do, one)] or ["runs"]
        )
        row_id = do.any_of(table, "note IS NOT NULL")
        do.said = f"note of {table} {row_id}"
        wanted = text_to_erase(do.connection, BY_TABLE[table], row_id, "note")
    erase(do.connection, do.path, do.registry, wanted, asked="erase", by=do.by)


def _noted(do: Doing, table: str) -> bool:
    return do.connection.execute(f"SELECT 1 FROM {table} WHERE note IS NOT NULL").fetchone() is not None


def _another_program(do: Doing) -> None:
    what = do.random.randrange(5)
    if what == 0:
        row = ("UPDATE builds SET dry_mass_g = 12.3 WHERE id = ?", (do.any_of("builds"),))
    elif what == 1:
        row = ("UPDATE diffs SET note = ? WHERE id = ?", (do.random.choice(("x", "y")), do.any_of("diffs")))
    elif what == 2:
        row = ("DELETE FROM weighings WHERE id = ?", (do.any_of("weighings"),))
    elif what == 3:
        row = ("UPDATE runs SET grip = 'low' WHERE id = ?", (do.any_of("runs"),))
    else:
        name = do.random.choice(_VENUES)
        row = (
            "INSERT INTO venues (id, created_at, updated_at, name) VALUES (?, '2026-04-01', '2026-04-01', ?)",
            (f"019d0000-0000-7000-8000-00000000000{do.random.randrange(3)}", name),
        )
    do.said = f"{row[0]} {row[1]}"
    do.connection.execute(*row)


def _accept(do: Doing) -> None:
    accept_changes(do.connection, do.path, asked="check --accept", by=do.by)


def _holds(do: Doing, table: str) -> bool:
    return bool(do.connection.execute(f"SELECT EXISTS (SELECT 1 FROM {table})").fetchone()[0])


class Way(NamedTuple):
    """A way of writing, and how often it is drawn."""

    do: Callable[[Doing], None]
    weight: float


def _meet(_do: Doing) -> None:
    raise AssertionError("a meeting is of two laptops")


_ACTS: Final[Mapping[str, Way]] = {
    "name": Way(_names, 4),
    "build": Way(_build, 4),
    "run": Way(_run, 4),
    "weighing": Way(_weighing, 2),
    "opening": Way(_opening, 1.5),
    "other": Way(_other, 2),
    "change": Way(_change, 6),
    "swap names": Way(_swap_names, 1),
    "move build": Way(_move_build, 1),
    "remove": Way(_remove, 3),
    "take back": Way(_take_back, 4),
    "join": Way(_join, 1.5),
    "unjoin": Way(_unjoin, 0.5),
    "settle": Way(_settle, 2),
    "place": Way(_place, 0.5),
    "import": Way(_import, 5),
    "mend": Way(_mend, 2),
    "read again": Way(_read_again, 1),
    "calculate": Way(_calculate, 2),
    "photograph": Way(_photograph, 1),
    "erase": Way(_erase, 1.5),
    "another program": Way(_another_program, 1),
    "accept": Way(_accept, 0.5),
    MEET: Way(_meet, 5),
}


@cache
def _registry() -> Registry:
    return load()


def player(folder: Path, merge_file: Merge) -> Player:
    """A player on three new laptops in a folder."""
    steering = Steering()
    return Player([Laptop(folder, name, steering) for name in NAMES], steering, _registry(), merge_file)
