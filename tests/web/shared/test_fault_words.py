"""Faults as a page says them."""

from __future__ import annotations

import pytest

from bevelbook.reading import BY_HAND, ReadingError, read
from bevelbook.records import BY_NAME
from bevelbook.web.shared.fault_words import fault_words


@pytest.mark.parametrize(
    ("kind", "field", "typed", "said"),
    [
        ("run", "track_temp_c", "395", "395 is too high: at most 100 °C."),
        ("weighing", "mass_g", "-3", "-3 is too low: "),
    ],
)
def test_a_number_beyond_what_can_be_is_said_with_its_limit(kind: str, field: str, typed: str, said: str) -> None:
    with pytest.raises(ReadingError) as fault:
        read(BY_NAME[kind].field(field), typed, BY_HAND)
    assert fault_words(fault.value).startswith(said)
