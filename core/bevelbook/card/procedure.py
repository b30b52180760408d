"""The steps of a build: the bundled procedure, or a team's own file in the same form.

::

    title: "Build of a diff"
    cautions: ["scope"]
    steps:
      - key: "weigh-dry"
        title: "Weigh it dry"
        for: ["new", "rebuild", "oil change"]
        when: "gears are new"
        screen: "weigh-dry"
        waits: no
        do: "Weigh with every part on the scale."
        check: "As heavy as the last time."
        write_down: ["builds.dry_mass_g", "name of the tray"]
        calculators: ["name-of-one"]
        cautions: ["oil-on-floor", "Mind the cat."]

``write_down`` names columns of the database, ``cautions`` keys of ``cautions.csv``; a text with a space in it is the
team's own. ``for`` are the kinds of build that the step is part of, all where it is missing; ``when`` is what it is
done for besides; ``screen`` is the screen of the bench that takes it, one made of ``write_down`` where it is missing.
``waits: yes`` is for a step that goes on by itself, such as drying: its minutes are waiting, not work.
``place`` says of a step that writes down a seal, a shim or a part which of several it is: ``place: "joint"``.
"""

from __future__ import annotations

from typing import Any, Final, NamedTuple

from bevelbook.declare.errors import near_misses, shown
from bevelbook.declare.late_pattern import late_pattern
from bevelbook.declare.vocabulary import BUILD_KINDS, NEW, TOP_UP
from bevelbook.reading.yaml_text import OpensBytes, YamlKind, YamlValue, bundled_yaml, read_yaml, yaml_value
from bevelbook.records import BY_TABLE
from bevelbook.reference import BUNDLED, caution_typed_in, read_text

FILE: Final = "procedure.yaml"
YAML: Final = YamlKind(
    noun="procedure",
    too_long_code="procedure_too_long",
    encoding_code="procedure_encoding",
    yaml_code="procedure_yaml",
    value_code="procedure_value",
    name_code="procedure_value",
)
_TOP_NEEDED: Final = ("title", "steps")
_TOP_TEXTS: Final = ("title", "status", "source")
_STEP_NEEDED: Final = ("key", "title", "do")
_STEP_TEXTS: Final = ("key", "title", "do", "check", "when", "screen", "place")
_STEP_LISTS: Final = ("for", "write_down", "calculators", "cautions")
GEARS_ARE_NEW: Final = "gears are new"
"""What the records can say of a step that is done only then: whether it is so in this build."""
SCREENS: Final = (
    "weigh-closed",
    "wet",
    "open",
    "found",
    "seals",
    "parts",
    "shim-stack",
    "weigh-dry",
    "pour",
    "wait",
    "weigh-again",
    "screws",
    "rest",
)
"""The screens of the bench that a step may name."""
_PLACES: Final = tuple(
    dict.fromkeys(
        place
        for kind in BY_TABLE.values()
        if {"build", "place"} <= set(kind.columns) and kind.own
        for place in kind.field("place").choices
    )
)
"""Where a piece of a build may be: a seal, a shim or another part."""
_KEY: Final = late_pattern(r"[a-z][a-z0-9]*(-[a-z0-9]+)*")


class ProcedureStep(NamedTuple):
    """One step: what to do, what has to be so before going on, what to write down, and its cautions.

    ``kinds`` are the kinds of build that it is part of, empty for all; ``when``, ``screen`` and ``place`` are empty
    where missing. ``waits`` if it goes on by itself, without hands.
    """

    key: str
    title: str
    do: str
    check: str = ""
    write_down: tuple[str, ...] = ()
    calculators: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    kinds: tuple[str, ...] = ()
    when: str = ""
    screen: str = ""
    place: str = ""
    waits: bool = False

    @property
    def heading(self) -> str:
        """The title, with what it is done for besides.

        >>> ProcedureStep("cut-flash", "Cut the flash", "Cut it.", when="gears are new").heading
        'Cut the flash when gears are new'
        """
        return f"{self.title} when {self.when}" if self.when else self.title


class Procedure(NamedTuple):
    """The steps in order, with cautions that hold for all of them."""

    title: str
    steps: tuple[ProcedureStep, ...]
    status: str = ""
    source: str = ""
    cautions: tuple[str, ...] = ()


def bundled_procedure() -> Procedure:
    """The procedure that comes with the tool.

    >>> bundled_procedure().steps[0].title
    'Weigh it closed'
    """
    return _procedure(bundled_yaml(read_text(BUNDLED, FILE), FILE, YAML))


def read_procedure(path: OpensBytes) -> Procedure:
    """A team's own procedure. Raises InputError with file, line and key, and near misses for what is misspelt."""
    return _procedure(read_yaml(path, YAML))


def procedure_from(text: str, name: str) -> Procedure:
    """The procedure that a text holds; ``name`` is the file's, for errors. Raises InputError."""
    return _procedure(yaml_value(text, name, YAML))


def steps_for(
    procedure: Procedure, kind: str | None, *, gears_are_new: bool | None = None
) -> tuple[ProcedureStep, ...]:
    """The steps that belong to a kind of build; where that is not known, all but those of a top-up alone.

    A step for new gears is left out where the gears are known not to be new; in a new diff they are.

    >>> [step.key for step in steps_for(bundled_procedure(), "top-up")][:3]
    ['weigh-closed-before', 'open', 'weigh-open']
    """
    is_new = kind == NEW or gears_are_new is not False
    return tuple(
        step
        for step in procedure.steps
        if (not step.kinds or (kind in step.kinds if kind else step.kinds != (TOP_UP,)))
        and (step.when != GEARS_ARE_NEW or is_new)
    )


def _procedure(top: YamlValue) -> Procedure:
    if not top.is_mapping:
        raise top.fault("a procedure has a title and steps", wanted=", ".join(_TOP_NEEDED))
    found = top.fields((*_TOP_TEXTS, "cautions", "steps"), needed=_TOP_NEEDED, called="key of a procedure")
    texts = {key: found[key].words() for key in _TOP_TEXTS if key in found}
    listed = found["steps"].items()
    if not listed:
        raise found["steps"].fault("there are no steps", wanted='- key: "weigh-dry"')
    steps: dict[str, ProcedureStep] = {}
    for value in listed:
        step = _step(value)
        if step.key in steps:
            raise value.named("key").fault("two steps share a key", found=step.key)
        steps[step.key] = step
    return Procedure(
        texts["title"],
        tuple(steps.values()),
        texts.get("status", ""),
        texts.get("source", ""),
        _list("cautions", found.get("cautions")),
    )


def _step(value: YamlValue) -> ProcedureStep:
    if not value.is_mapping:
        raise value.fault("a step is a list of keys", found=value.typed, wanted=", ".join(_STEP_NEEDED))
    key = value.pairs().get("key")
    step = value.named(f"step {key.typed}" if key and key.is_plain and key.typed else "step")
    found = step.fields((*_STEP_TEXTS, "waits", *_STEP_LISTS), needed=_STEP_NEEDED, called="key of a step")
    values: dict[str, Any] = {name: found[name].words() for name in _STEP_TEXTS if name in found}
    if not _KEY.fullmatch(values["key"]):
        raise found["key"].fault(
            "the key of a step is made of lower-case words joined by hyphens",
            found=values["key"],
            wanted="such as weigh-dry",
        )
    if "screen" in found:
        found["screen"].one_of(SCREENS, "screen of the bench")
    if "place" in found:
        found["place"].one_of(_PLACES, "place of a piece")
    if "waits" in found:
        values["waits"] = found["waits"].yes_or_no()
    values |= {"kinds" if name == "for" else name: _list(name, found.get(name)) for name in _STEP_LISTS}
    return ProcedureStep(**values)


def _list(name: str, value: YamlValue | None) -> tuple[str, ...]:
    if value is None:
        return ()
    items = value.listed()
    for item in items:
        if name == "cautions":
            caution_typed_in(item)
        if name == "write_down":
            _check_column(item)
        if name == "for":
            item.one_of(BUILD_KINDS, "kind of build")
    return tuple(item.words() for item in items)


def _check_column(value: YamlValue) -> None:
    text = value.words()
    if " " in text:
        return
    table, _, name = text.partition(".")
    if table in BY_TABLE and name in BY_TABLE[table].columns:
        return
    known = [f"{table}.{name}" for table, kind in BY_TABLE.items() if kind.own for name in kind.columns]
    raise value.fault(
        f"the database has no column named {shown(text)}",
        wanted="a table and a column such as builds.dry_mass_g, or words",
        remedy=near_misses(text, known) or None,
    )
