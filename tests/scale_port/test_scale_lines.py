"""Lines that scales print, read one by one: in the forms in common use (common practice, no source), all invented."""

from __future__ import annotations

import random

import pytest

from bevelbook.scale_port.line_cutter import LONGEST
from bevelbook.scale_port.scale_lines import LineKind, read_line
from bevelbook.scale_port.sign_words import SIGNS

READINGS = [
    # line, digits in g, steady, weighed as
    ("62.35 g", "62.35", None, ""),
    ("     62.35 g  ", "62.35", None, ""),
    ("62,35 g", "62.35", None, ""),
    ("62.35g", "62.35", None, ""),
    ("+00062.35  g", "62.35", None, ""),
    ("-     0.12 g", "-0.12", None, ""),
    ("- 0.00 g", "0.00", None, ""),
    ("S      62.35 g", "62.35", True, ""),
    ("ST,GS,+00062.35  g", "62.35", True, "gross"),
    ("US,NT,-00000.12 kg", "-120", False, "net"),
    ("ST+00062.35g", "62.35", True, ""),
    ("62.35 g S", "62.35", True, ""),
    ("62.35 g ?", "62.35", False, ""),
    ("S D    62.35 g", "62.35", False, ""),
    ("62.35 g not stable", "62.35", False, ""),
    ("62.35 g UNSTABLE", "62.35", False, ""),
    ("N     +  62.35 g", "62.35", None, "net"),
    ("Net:   62.35 g", "62.35", None, "net"),
    ("Weight 62.35 [g] stable", "62.35", True, ""),
    ("62.35,g,ST", "62.35", True, ""),
    ("2026-11-26 14:30:05    62.35 g", "62.35", None, ""),
    ("26.11.26 62,35 g", "62.35", None, ""),
    ("11/26/2026 2:30 pm 62.35 g", "62.35", None, ""),
    ("26-NOV-2026 62.35 g", "62.35", None, ""),
    ("No. 0012  62.35 g", "62.35", None, ""),
    ("# 3 62.35 g STABLE", "62.35", True, ""),
    ("ID A12 62.35 g", "62.35", None, ""),
    ("0012   62.35 g", "62.35", None, ""),
    ("0012; 62.35 g", "62.35", None, ""),
    ("0.06235 kg", "62.35", None, ""),
    ("62350 mg", "62.350", None, ""),
    ("1 KG", "1000", None, ""),
    ("0,123 g", "0.123", None, ""),
]


@pytest.mark.parametrize(("line", "digits", "is_steady", "weighed_as"), READINGS)
def test_a_reading_is_taken_with_its_digits_and_its_signs(
    line: str, digits: str, is_steady: bool | None, weighed_as: str
) -> None:
    found = read_line(line)
    assert (found.kind, found.digits, found.is_steady, found.weighed_as) == (
        LineKind.READING,
        digits,
        is_steady,
        weighed_as,
    )
    assert found.mass_g == float(digits)


@pytest.mark.parametrize(
    ("line", "mass_g", "half_step_g"),
    [
        # NIST Special Publication 811 (2008), appendix B.8, from memory: ounce 28.349 523 125 g, pound 453.592 37 g,
        # carat 0.2 g, grain 64.798 91 mg, each exact.
        ("2.199 oz", 2.199 * 28.349523125, 0.0005 * 28.349523125),
        ("0.1375 lb", 0.1375 * 453.59237, 0.00005 * 453.59237),
        ("311.75 ct", 62.35, 1e-9),
        ("962.2 grain", 962.2 * 0.06479891, 0.05 * 0.06479891),
    ],
)
def test_other_units_lose_less_than_half_a_printed_step(line: str, mass_g: float, half_step_g: float) -> None:
    found = read_line(line).mass_g
    assert found is not None
    assert abs(found - mass_g) <= half_step_g


@pytest.mark.parametrize(
    ("line", "kind"),
    [
        ("OL", LineKind.OVERLOAD),
        ("ST,OL,+00999.99  g", LineKind.OVERLOAD),
        ("^^^^^^", LineKind.OVERLOAD),
        ("UL", LineKind.UNDERLOAD),
        ("Err 4", LineKind.FAULT),
        ("E12", LineKind.FAULT),
        ("T   12.00 g", LineKind.TARE),
        ("PT 12.00 g", LineKind.TARE),
        ("", LineKind.OTHER),
        ("--------------------", LineKind.OTHER),
        ("2026-11-26  14:30", LineKind.OTHER),
        ("Signature: ______", LineKind.OTHER),
        ("62.35", LineKind.OTHER),  # a number without a unit
        ("62. g", LineKind.OTHER),
        ("62.3[5] g", LineKind.OTHER),
        ("62,g", LineKind.UNCLEAR),
        ("62.35 g 14.20 g", LineKind.UNCLEAR),
        ("62.35 g 0.137 lb", LineKind.UNCLEAR),
        ("1 lb 2.3 oz", LineKind.UNCLEAR),
        ("G 62.35 g N", LineKind.UNCLEAR),
        ("Total 62.35 g", LineKind.UNCLEAR),
        ("12 pcs 62.35 g", LineKind.UNCLEAR),
        ("23.1 C 62.35 g", LineKind.UNCLEAR),
        ("ST062.35g", LineKind.UNCLEAR),
        ("6 2.35 g", LineKind.UNCLEAR),
        ("6;2.35 g", LineKind.UNCLEAR),
        ("6\t2.35 g", LineKind.UNCLEAR),
        ("62,+35 g", LineKind.UNCLEAR),
        ("62, 35 g", LineKind.UNCLEAR),
        ("26.11.2662,35 g", LineKind.UNCLEAR),
        ("+ 1 62.35 g", LineKind.UNCLEAR),
        ("No 62.35 g", LineKind.UNCLEAR),
        ("1.2.3 g", LineKind.UNCLEAR),
        ("1,062.35 g", LineKind.UNCLEAR),
        ("+-0.12 g", LineKind.UNCLEAR),
        ("----5.00 g", LineKind.UNCLEAR),
        ("62.35 g/cm3", LineKind.UNCLEAR),
        ("6.235e1 g", LineKind.UNCLEAR),
        ("9" * 30 + " g", LineKind.UNCLEAR),
        (f"ST {'9' * 40} kg", LineKind.UNCLEAR),
        (f"0.{'3' * 180} g", LineKind.UNCLEAR),
        ("6\x002.35 g", LineKind.UNCLEAR),
        (">62.35 g", LineKind.UNCLEAR),
        ("62.35 MG", LineKind.UNCLEAR),  # milligrams or megagrams
    ],
)
def test_what_is_not_certain_is_shown_and_not_taken(line: str, kind: LineKind) -> None:
    found = read_line(line)
    assert (found.kind, found.mass_g, found.digits) == (kind, None, "")
    assert found.why


def test_a_comma_before_three_digits_is_taken_once_the_scale_has_proved_it() -> None:
    """``12,345 g`` may be twelve grams or twelve kilograms; ``0,000 g`` of the empty pan says which."""
    assert read_line("12,345 g").why == "12,345 may have a decimal comma or not"
    assert read_line("0,000 g").proves_comma
    assert read_line("12,345 g", comma_is_decimal=True).digits == "12.345"


UNSEEN = ".,-kKmMuµ"
"""Signs that make one whole line of another: lost or put in, nothing shows it."""


def worn(line: str, chance: random.Random) -> str:
    """A line with one sign lost or put in, or without its end."""
    letters, at = list(line), chance.randrange(len(line))
    if chance.random() < 0.5:
        letters.insert(
            at, chance.choice([one for one in map(chr, range(256)) if not one.isdigit() and one not in UNSEEN])
        )
    elif chance.random() < 0.5:
        del letters[at:]
    elif not letters[at].isdigit() and letters[at] not in UNSEEN:
        del letters[at]
    return "".join(letters)


def test_noise_makes_no_other_number() -> None:
    """With a sign lost or put in, or cut off anywhere, a line that is still taken has the number that was in it.

    One digit that becomes another cannot be seen without parity, nor a lost one: they are left alone here.
    """
    chance = random.Random(20261126)
    taken = 0
    for line, digits, _, _ in READINGS * 60:
        text = worn(line, chance)
        found = read_line(text)
        taken += found.mass_g is not None
        assert found.mass_g in (None, float(digits)), (line, text)
    assert taken > 200


MASSES = ["g", "kg", "mg", "ug", "ct", "oz", "lb", "lbs", "grain", "gr"]


def odd_line(chance: random.Random) -> str:
    """A mass with numbers of any length, and mostly other signs, words, units and numbers in any order beside it."""
    number = "".join(chance.choices("0123456789", k=chance.choice((1, 2, 5, 14, 15, 16, 29, 60))))
    parts = [chance.choice(("", "-", "ST ")), chance.choice((number, f"{number}.{number}", f"0,{number}"))]
    parts += [" ", chance.choice(MASSES)]
    for _ in range(chance.randint(0, 3)):
        noise = "".join(chance.choices("0123456789.,+- gkSTN?:;/#[]^_\t\x02\x1bµéE", k=3))
        parts.insert(chance.randint(0, len(parts)), chance.choice((" ", noise, *SIGNS)))
    return "".join(parts)[:LONGEST]


@pytest.mark.parametrize("seed", range(4))
def test_no_line_raises(seed: int) -> None:
    """What cannot be read is shown as that, whatever it is: the reading goes on."""
    chance, taken = random.Random(seed), 0
    for text in (odd_line(chance) for _ in range(1_000)):
        for comma_is_decimal in (False, True):
            found = read_line(text, comma_is_decimal=comma_is_decimal)
            assert (found.mass_g is None) == (found.kind is not LineKind.READING), text
            assert found.mass_g is None or (found.mass_g == float(found.digits) and len(found.digits) < 40), text
            taken += found.mass_g is not None
    assert taken > 50
