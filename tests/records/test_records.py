from __future__ import annotations

import pytest

from bevelbook.declare.errors import UnknownNameError
from bevelbook.records import BY_NAME, BY_TABLE, KINDS, Kind, kind_called


def test_names_and_tables_are_unique() -> None:
    assert len(BY_NAME) == len(BY_TABLE) == len(KINDS)


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_what_a_kind_names_exists(kind) -> None:  # type: ignore[no-untyped-def]
    for column in (*kind.searched, *filter(None, (kind.label, kind.day))):
        assert column in kind.columns
    for field in kind.fields:
        assert field.about, field.name
        if field.kind == "reference":
            assert field.target in BY_NAME, field.name


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_a_range_of_sane_values_lies_within_the_physical_bounds(kind) -> None:  # type: ignore[no-untyped-def]
    for field in kind.fields:
        if field.plausible:
            low, high = field.plausible
            assert low < high
            assert field.minimum is None or field.minimum <= low
            assert field.maximum is None or high <= field.maximum


def test_the_windows_of_a_note_are_those_of_the_import_rules() -> None:
    """The ranges of sane values of an import: common practice for this size of diff, no source."""
    build, run = BY_NAME["build"], BY_NAME["run"]
    assert build.field("dry_mass_g").plausible == (5, 100)
    assert build.field("oil_mass_g").plausible == (0, 10)
    assert build.field("filled_mass_g").plausible == (5, 110)
    assert build.field("viscosity_cst").plausible == (50, 2_000_000)
    assert run.field("track_temp_c").plausible == (-20, 65)
    assert run.field("air_temp_c").plausible == (-30, 50)
    assert run.field("runs").plausible == (0, 10_000)


def test_an_unknown_kind_is_met_with_near_misses() -> None:
    assert kind_called("run-diff").name == "run_diff"
    with pytest.raises(UnknownNameError, match="Did you mean build"):
        kind_called("bild")


def test_what_is_decided_is_carried_over_and_what_is_measured_or_felt_is_not() -> None:
    build = {field.name: field.carried for field in BY_NAME["build"].fields}
    decided = ("kind", "fluid", "bottle", "viscosity_cst", "viscosity_from", "target_oil_mass_g", "mass_basis")
    assert all(build[name] for name in (*decided, "scale", "gasket", "screw_torque_nm"))
    measured = ("dry_mass_g", "oil_mass_g", "filled_mass_g", "closed_mass_g", "squeeze_out", "hand_feel")
    assert not any(build[name] for name in (*measured, "label", "diff", "built_on", "like", "note"))
    fitted = {field.name for field in BY_NAME["seal_fitting"].fields if field.carried}
    assert fitted == {"place", "seal", "note"}


@pytest.mark.parametrize("kind", KINDS, ids=lambda kind: kind.name)
def test_what_is_said_of_a_field_fits_it(kind: Kind) -> None:
    for field in kind.fields:
        assert field.followed or field.kind == "reference"
        assert field.on_run_sheet is None or kind.name in ("run", "run_diff")
        assert field.sheet_after is None or field.on_run_sheet is not None
    assert kind.order is None or kind.order.column in kind.columns
