from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from bevelbook.declare.errors import DeclarationError
from bevelbook.declare.fields import (
    Field,
    choice,
    field_of,
    is_of_fields,
    listing,
    make_quickly,
    quantity,
    record,
    text,
    whole,
)
from bevelbook.declare.known_units import KNOWN, suffix_of


@record
class Item:
    runs: float = quantity("runs", "Runs")
    mass_g: float = quantity("g", "Mass", minimum=0)


@record
class Given:
    dry_mass_g: float = quantity("g", "Mass before oil", above=0, plausible=(5, 100))
    oil_mass_g: float | None = quantity("g", "Oil", default=None)
    steps: int = whole("Steps", default=3)
    grip: str = choice(("low", "high"), "Grip", default="low")
    note: str | None = text("Note", default=None)
    weighings: tuple[Item, ...] = listing(Item, "Masses", default=(), singular="weighing")


def test_a_record_takes_keywords_fills_defaults_and_keeps_the_order_declared() -> None:
    given = Given(dry_mass_g=9.5)
    assert (given.oil_mass_g, given.steps, given.grip, given.weighings) == (None, 3, "low", ())
    assert [field.name for field in Given.fields] == [  # type: ignore[attr-defined]
        "dry_mass_g",
        "oil_mass_g",
        "steps",
        "grip",
        "note",
        "weighings",
    ]


def test_a_record_is_read_only_comparable_and_hashable() -> None:
    one, same, other = Given(dry_mass_g=9.5), Given(dry_mass_g=9.5), Given(dry_mass_g=9.6)
    assert one == same
    assert one != other
    assert len({one, same, other}) == 2
    with pytest.raises(AttributeError, match="read-only"):
        one.dry_mass_g = 1.0  # type: ignore[misc]
    with pytest.raises(AttributeError, match="read-only"):
        del one.dry_mass_g
    assert repr(one).startswith("Given(dry_mass_g=9.5")


def test_a_record_refuses_what_it_lacks_and_what_it_does_not_know() -> None:
    with pytest.raises(TypeError, match=r"^Given needs dry_mass_g \(.+\): Given\(dry_mass_g=\.\.\., \.\.\.\)$"):
        Given()  # type: ignore[call-arg]
    with pytest.raises(TypeError, match="has no dry_mass"):
        Given(dry_mass_g=1.0, dry_mass=1.0)  # type: ignore[call-arg]


@pytest.mark.parametrize(
    ("name", "unit"),
    [("mass_g", "mg"), ("mass", "g"), ("rate_g_per_run", "g"), ("density_g_cm3", "cm3"), ("share_percent", "1")],
)
def test_a_name_and_its_unit_have_to_agree(name: str, unit: str) -> None:
    with pytest.raises(DeclarationError, match="its name says"):
        record(type("Bad", (), {"__annotations__": {name: float}, name: quantity(unit, "x")}))


def test_an_annotation_without_a_specifier_is_refused() -> None:
    with pytest.raises(DeclarationError, match="without a specifier"):
        record(type("Bad", (), {"__annotations__": {"mass_g": float}, "mass_g": 1.0}))


def test_a_record_is_its_fields_alone_and_to_make_one_runs_no_other_code() -> None:
    with pytest.raises(DeclarationError, match="Own has __init__ of its own: a record is its fields alone"):

        @record
        class Own:
            mass_g: float = quantity("g", "Mass")

            def __init__(self, **values: object) -> None: ...

    with pytest.raises(DeclarationError, match="Below is made of Item: a record stands alone; write its fields out"):

        @record
        class Below(Item):
            day: str = text("Day")

    with pytest.raises(DeclarationError, match="Untyped has mass_g without a type"):

        @record
        class Untyped:
            mass_g = quantity("g", "Mass")

    @record
    class WithMethods:
        mass_g: float = quantity("g", "Mass")

        @property
        def double_g(self) -> float:
            return 2 * self.mass_g

    assert WithMethods(mass_g=2.0).double_g == 4.0
    assert is_of_fields(WithMethods)
    assert not is_of_fields(type("Subclass", (WithMethods,), {}))
    assert not is_of_fields(dict)


def test_a_compiled_constructor_does_what_that_of_every_record_does() -> None:
    def made_of(cls: type[Any]) -> list[str]:
        found = []
        for values in ({"day": "a"}, {"day": "a", "mass_g": 1.0}, {}, {"day": "a", "other": 1}, {"other": 1}):
            try:
                found.append(repr(cls(**values)))
            except TypeError as fault:
                found.append(str(fault))
        return found

    @record
    class Made:
        day: str = text("Day")
        mass_g: float | None = quantity("g", "Mass", default=None)

    before = made_of(Made)
    make_quickly(Made)
    assert made_of(Made) == before
    assert "__init__" in vars(Made)
    assert is_of_fields(Made)
    type.__setattr__(Made, "__init__", lambda self: None)
    assert not is_of_fields(Made)


def test_the_longest_suffix_counts() -> None:
    assert suffix_of("density_g_cm3") == "_g_cm3"
    assert suffix_of("loss_g_per_run") == "_g_per_run"
    assert suffix_of("damping_nm_s") == "_nm_s"
    assert suffix_of("ratio") is None
    assert all(suffix_of("x" + suffix) == suffix for suffix in KNOWN.unit_of_suffix)


def test_option_words_and_description_follow_from_the_declaration() -> None:
    dry = field_of(Given, "dry_mass_g")
    assert (dry.option, dry.words, dry.described()) == ("--dry-mass", "dry mass", "Mass before oil [g]")
    assert field_of(Given, "weighings").option == "--weighing"
    assert Field("fill_fraction", "quantity", "Share", unit="1").described() == "Share"


def test_a_type_checker_catches_what_is_planted(tmp_path: Path) -> None:
    """Six faults that mypy has to see through the specifiers' overloads; the clean lines pass."""
    planted = tmp_path / "planted.py"
    planted.write_text(
        "from bevelbook.declare.fields import choice, quantity, record, text\n"
        "@record\n"
        "class A:\n"
        "    a_g: float = quantity('g', 'a', minumum=1)\n"  # a misspelt bound
        "    b_g: float = quantity('g', 'b', default=None)\n"  # None for a float
        "    c: str = quantity('1', 'c')\n"  # a number for a text
        "    d: str = choice(('x',), 'd', default=3)\n"  # a number as default of a choice
        "    e_g: float | None = quantity('g', 'e', default=None)\n"
        "    f: str = text('f', default='x')\n"
        "A(a_g='1', b_g=1.0, c='', d='x')\n"  # a text for a number
        "A(a_g=1.0, b_g=1.0, c='').a_g = 2.0\n"  # writing to a frozen record
    )
    done = subprocess.run(
        [sys.executable, "-m", "mypy", "--strict", "--no-incremental", "--config-file=", str(planted)],
        capture_output=True,
        text=True,
        check=False,
        cwd=tmp_path,
    )
    caught = {int(line.split(":")[1]) for line in done.stdout.splitlines() if ": error:" in line}
    assert caught == {4, 5, 6, 7, 10, 11}, done.stdout


def test_a_record_that_could_not_be_made_is_shown_with_what_it_has() -> None:
    """As a test prints it beside the reason why it could not be made."""
    one = object.__new__(Halved)
    assert repr(one) == "Halved()"


@record
class Halved:
    mass_g: float = quantity("g", "Mass")
