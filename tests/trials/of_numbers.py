"""Numbers and units as they are read: none is wrong, none is endless, and what comes back as a text is the same.

Half of the cases are written by a grammar, so that their value is known: it is worked out by :mod:`fractions`, and what
Python's own ``float`` reads of the same digits is the other outside check. Half are torn, mixed or random texts: those
are refused, or have the value that ``float`` has, where that takes them at all.
"""

from __future__ import annotations

import random
from fractions import Fraction
from functools import cache
from math import isfinite
from pathlib import Path

from bevelbook.declare.fields import Field, fields_of
from bevelbook.declare.known_units import KNOWN
from bevelbook.declare.units import Unit
from bevelbook.display.format import format_number, format_typed, format_value, is_share
from bevelbook.interchange.csv_cells import real_cell
from bevelbook.plugin.registry import load
from bevelbook.reading import BY_HAND, Options, ReadingError, read, read_listing_item, read_measured
from bevelbook.reading.numbers import is_sane, parts_of
from bevelbook.reading.units import names_unit
from bevelbook.records import KINDS

MINUS = ("-", "−", "–")
GROUPS = (" ", "\u00a0", "\u202f", "\u2009", "’", "'")
ODD = "0123456789.,eE+-−–± k%°/()=\"'#~<>?inaINF\u00a0\u202f\u2009\u200b\u202e\u2066٣५３．²½∞\t"
REASONS = frozenset(
    (
        "number_unparseable",
        "ambiguous_number",
        "out_of_range",
        "unit_unknown",
        "unit_not_allowed",
        "unit_ambiguous",
        "viscosity_unit_unknown",
        "viscosity_unit_wt",
        "dynamic_viscosity_needs_density",
        "formula_in_cell",
        "spreadsheet_error",
        "approximate_value",
        "range_not_value",
        "control_character",
        "missing_required",
        "listing_item_parts",
    )
)


@cache
def fields() -> tuple[Field, ...]:
    """Every number that is declared anywhere, once for each way to read it."""
    loaded = load()
    sides = [kind.cls for kind in KINDS]
    sides += [one.calculator.given for one in loaded.calculators.values()]
    found: dict[object, Field] = {}
    for side in sides:
        for field in fields_of(side):
            for one in (field, *(fields_of(field.item) if field.item else ())):
                if one.kind in ("quantity", "whole"):
                    bounds = (one.minimum, one.maximum, one.above, one.below, one.plausible, one.required)
                    found.setdefault((one.kind, one.read_in, one.unit, *bounds), one)
                    free = one._replace(minimum=None, maximum=None, above=None, below=None, plausible=None)
                    found.setdefault((one.kind, one.read_in, one.unit), free)
    return tuple(found.values())


def drawn_field(source: random.Random) -> Field:
    """Any field; in half of the cases one without bounds."""
    some = fields()
    if source.random() < 0.5:
        some = tuple(one for one in some if (one.minimum, one.maximum, one.above, one.below) == (None,) * 4)
    return source.choice(some)


@cache
def listings() -> tuple[Field, ...]:
    """Every listing that a calculator takes."""
    loaded = load()
    return tuple(
        field
        for one in loaded.calculators.values()
        for field in fields_of(one.calculator.given)
        if field.kind == "listing"
    )


@cache
def spellings(canonical: str) -> tuple[tuple[str, Unit], ...]:
    """Every way to write every unit that a number in this one may have."""
    written: list[tuple[str, Unit]] = []
    for unit in KNOWN.like(canonical):
        in_any_case = unit.any_case.split()
        for word in unit.spellings:
            ways = {word, word.upper(), word.capitalize()} if word in in_any_case else {word}
            for way in sorted(ways | {way.replace("·", " ") for way in ways}):
                if unit_of(canonical, way) is unit:
                    written.append((way, unit))
    return tuple(written)


def unit_of(canonical: str, text: str) -> Unit | None:
    """The unit that a spelling means by the declarations, read here without the code that reads it there."""
    for unit in KNOWN.like(canonical):
        exact = {*unit.exact.split(), *(() if unit.name in unit.any_case.split() else (unit.name,))}
        if text.replace(" ", "·") in exact or text in exact:
            return unit
    for unit in KNOWN.like(canonical):
        if text.replace(" ", "·").lower() in [word.lower() for word in unit.any_case.split()]:
            return unit
    return None


def case(source: random.Random, folder: Path) -> str:
    """One text, read for one field."""
    draw = source.random()
    if draw < 0.45:
        return grammar_case(source)
    if draw < 0.55:
        return uncertain_case(source)
    if draw < 0.65:
        return displayed_case(source)
    if draw < 0.72:
        return listed_case(source)
    return odd_case(source)


def digits(source: random.Random, most: int) -> str:
    count = source.choice((1, 1, 2, 2, 3, 3, 4, 5, 6, 7, 9, 12, most))
    return "".join(source.choice("0123456789") for _ in range(count))


def written(source: random.Random) -> tuple[str, str, str, str]:
    """A number without its unit: its text, its digits as Python writes them, the decimal mark, what groups."""
    whole = source.choice((digits(source, 40), str(source.randrange(1, 100_000))))
    decimals = source.choice(("", "", digits(source, 30), digits(source, 3)))
    mark = source.choice(".,")
    group = ""
    text = whole
    if len(whole) > 3 and whole[0] != "0" and source.random() < 0.5:
        group = source.choice((*GROUPS, "," if mark == "." else "."))
        head = len(whole) % 3 or 3
        text = group.join([whole[:head], *(whole[at : at + 3] for at in range(head, len(whole), 3))])
    if decimals:
        text += mark + decimals
    plain = f"{whole}.{decimals}" if decimals else whole
    sign = source.choice(("", "", "", "+", *MINUS))
    text, plain = sign + text, ("-" if sign in MINUS else "") + plain
    if source.random() < 0.15:
        power = source.choice((source.randrange(-12, 13), source.randrange(-400, 400), source.randrange(-9999, 9999)))
        said = source.choice((f"{power}", f"{power:+}", str(power).replace("-", "−")))
        text += source.choice("eE") + said
        plain += f"e{power}"
    return text, plain, mark if decimals else "", group


def grammar_case(source: random.Random) -> str:
    """A number of which is known what it is."""
    field = drawn_field(source)
    text, plain, mark, group = written(source)
    unit: Unit | None = None
    thousands = 0
    if source.random() < 0.6:
        ways = spellings(field.read_in)
        if ways and field.unit not in (None, "1"):
            way, unit = source.choice(ways)
            gap = source.choice(("", " ", "\u00a0"))
            text += (gap or (" " if way[0] in "/1eE" else "")) + way
    elif field.unit == "cSt" and "e" not in plain and source.random() < 0.5:
        letter, thousands = source.choice((("k", 3), ("K", 3), ("M", 6)))
        text += letter + source.choice(("", " cSt", "cSt"))
    text = dressed(source, text)
    exact = Fraction(0) if abs(int((plain.partition("e")[2]) or 0)) > 2000 else Fraction(plain) * 10**thousands
    expected = float(f"{plain}e{thousands}") if thousands else float(plain)
    said = Options(decimal=source.choice((None, mark or None))) if source.random() < 0.8 else BY_HAND
    try:
        found = read(field, text, said)
    except ReadingError as refused:
        assert refused.code in REASONS, f"a reason nobody declared: {refused.code}"
        if refused.code == "ambiguous_number":
            assert said.decimal is None, f"ambiguous though the mark was said: {text!r}"
        elif refused.code in ("number_unparseable", "missing_required"):
            assert field.kind == "whole" or not isfinite(expected) or ("e" in plain and len(plain) > 200), (
                f"not read: {text!r} for {field.name} in {field.unit}: {refused}"
            )
        elif refused.code != "out_of_range":
            raise AssertionError(f"not read: {text!r} for {field.name} in {field.unit}: {refused}") from None
        return refused.code
    assert isfinite(found), f"endless: {text!r} is {found!r}"
    if unit is not None and (unit.factor, unit.offset) != scale_of_canonical(field):
        wanted = in_canonical(exact, unit, field)
        near = max(abs(wanted), abs(Fraction(unit.offset))) * Fraction(1, 10**11)
        right = abs(Fraction(found) - wanted) <= near
        if abs(wanted) > near and Fraction(f"{float(wanted):.12g}") == wanted:
            right = found == float(wanted)
    else:
        wanted = Fraction(expected)
        right = found == expected
    if not right:
        other = other_reading(plain, mark, group)
        assert other is not None and said.decimal is None, f"wrong: {text!r} for {field.name} is {found!r}: {said}"
        said_exact = unit is None or (unit.factor, unit.offset) == scale_of_canonical(field)
        sane = is_sane(field, expected if said_exact else float(wanted))
        assert not sane or said.by_hand, f"wrong: {text!r} for {field.name} was guessed as {found!r}"
        return "the other reading"
    again(field, found)
    return "read"


def scale_of_canonical(field: Field) -> tuple[float, float]:
    held = KNOWN.meant(field.read_in)
    assert held is not None
    return held.factor, held.offset


def in_canonical(exact: Fraction, unit: Unit, field: Field) -> Fraction:
    factor, offset = scale_of_canonical(field)
    """By the factors as they are declared in decimal digits."""
    return (exact * Fraction(repr(unit.factor)) + Fraction(repr(unit.offset)) - Fraction(repr(offset))) / Fraction(
        repr(factor)
    )


def other_reading(plain: str, mark: str, group: str) -> str | None:
    """The digits under the other meaning of their only mark, where they have one."""
    number = plain.partition("e")[0].lstrip("-")
    whole, _, decimals = number.partition(".")
    if mark and not group and len(decimals) == 3 and 1 <= len(whole) <= 3 and whole[0] != "0":
        return whole + decimals
    if group in (".", ",") and not mark and 4 <= len(number) <= 6:
        return f"{number[:-3]}.{number[-3:]}"
    return None


def dressed(source: random.Random, text: str) -> str:
    """The same text as other programs write it."""
    draw = source.random()
    if draw < 0.05:
        return f'="{text}"' if '"' not in text else text
    if draw < 0.1:
        return f'"{text}"' if '"' not in text else text
    if draw < 0.15:
        return "".join(chr(ord(one) + 0xFEE0) if one in "0123456789.," else one for one in text)
    if draw < 0.2:
        return f"\u202a {text}\u202c\ufeff"
    return f"  {text} " if draw < 0.3 else text


def again(field: Field, value: float) -> None:
    """What was read is stored, exported and typed again, and is the same."""
    for text in (repr(value), real_cell(value), f"{value!r} {field.unit or ''}" if field.unit != "1" else repr(value)):
        said = Options(decimal=".")
        back = read(field, text if field.kind != "whole" or "." not in text else text.removesuffix(".0"), said)
        assert back == value and type(back) is type(value), f"not the same again: {value!r} as {text!r} is {back!r}"


def uncertain_case(source: random.Random) -> str:
    """A number with its uncertainty."""
    field = source.choice([one for one in fields() if one.kind == "quantity"])
    value, spread = round(source.uniform(0, 50), 2), round(source.uniform(0, 5), 3)
    k = source.choice((None, 1, 2, 2.0, 3))
    unit = "" if field.unit == "1" else f" {field.unit}"
    sign = source.choice(("±", "+/-", "+-", " ± ", " +/- "))
    spread_text = source.choice((f"{spread!r}", "1e400", "-1", "nan", "inf", f"{spread!r}e3", "", "9e99"))
    behind = "" if k is None else source.choice((f" (k = {k})", f", k={k}", f" [K={k}]"))
    text = f"{value!r}{sign}{spread_text}{unit}{behind}"
    try:
        found = read_measured(field, text, BY_HAND)
    except ReadingError as refused:
        assert refused.code in REASONS, f"a reason nobody declared: {refused.code}"
        return f"± {refused.code}"
    assert found.value is not None
    assert isfinite(found.value) and found.uncertainty is not None and isfinite(found.uncertainty)
    exact = found.value == value or field.read_in != field.unit
    assert exact or is_share(field), f"wrong: {text!r} for {field.name} is {found}"
    assert found.uncertainty >= 0, f"negative: {text!r}"
    if spread_text == repr(spread) and len(repr(spread).partition(".")[2]) != 3:
        half = spread / (k or 2)
        assert abs(found.uncertainty - half) <= 1e-9 * half, f"wrong spread: {text!r} is {found}"
    return "± read"


def displayed_case(source: random.Random) -> str:
    """A number as it is shown is typed again: it is refused, or what was shown."""
    field = source.choice([one for one in fields() if one.kind == "quantity"])
    low, high = field.plausible or (field.minimum or 0.001, field.maximum or 10_000.0)
    value = source.choice((source.uniform(low, high), float(f"{source.uniform(low, high):.3g}")))
    try:
        read(field, repr(value), Options(decimal="."))
    except ReadingError:
        return "shown, but not sane"
    shown = format_value(value, field)
    typed = format_typed(value, field.unit) + ("" if field.unit == "1" else f" {field.unit}")
    for text in (shown, typed, format_number(value, field)):
        try:
            back = read(field, text, BY_HAND)
        except ReadingError as refused:
            assert refused.code in ("ambiguous_number", "out_of_range", "unit_not_allowed"), (
                f"shown but not read: {value!r} of {field.name} as {text!r}: {refused}"
            )
            continue
        number = parts_of(field, text)
        assert number is not None
        far = 0.006 * max(abs(value), 1.0 if field.unit != "1" else 0.02)
        assert abs(back - value) <= max(far, 0.51), (
            f"shown as another: {value!r} of {field.name} as {text!r} is {back!r}"
        )
    return "shown and read"


def listed_case(source: random.Random) -> str:
    """An item of a listing, whole, torn or with too many parts."""
    field = source.choice(listings())
    parts = fields_of(field.item)
    pieces = [source.choice((torn(source), str(round(source.uniform(0, 40), 2)), "")) for _ in parts]
    pieces = pieces[: source.randrange(0, len(pieces) + 1)] + [""] * source.choice((0, 0, 0, 1, 3))
    try:
        item = read_listing_item(field, ":".join(pieces), BY_HAND)
    except ReadingError as refused:
        assert refused.code in REASONS or refused.code.endswith("_unknown") or refused.code.startswith("date_"), (
            f"a reason nobody declared: {refused.code}"
        )
        return "item refused"
    for part in parts:
        held = getattr(item, part.name)
        assert not isinstance(held, float) or isfinite(held), f"endless: {pieces} gives {item}"
    return "item read"


def torn(source: random.Random) -> str:
    text = written(source)[0]
    for _ in range(source.randrange(4)):
        at = source.randrange(len(text) + 1)
        text = text[:at] + source.choice(ODD) + text[at + source.randrange(2) :]
    return text


def odd_case(source: random.Random) -> str:
    """A torn or random text."""
    field = drawn_field(source)
    draw = source.random()
    if draw < 0.5:
        text = torn(source)
    elif draw < 0.8:
        text = "".join(source.choice(ODD) for _ in range(source.randrange(1, 14)))
    elif draw < 0.9:
        text = "".join(
            chr(source.choice((source.randrange(0x250), source.randrange(0x3000), source.randrange(0x11000))))
            for _ in range(source.randrange(1, 12))
        )
    elif draw < 0.95:
        text = source.choice("15,. e-") * source.choice((500, 4300, 5000)) + source.choice(("", "1", "e5", " g"))
    else:
        text = f"{torn(source)}{source.choice(('-', ' to ', '…', '..', ' bis ', ' or '))}{torn(source)}"
    said = source.choice((Options(decimal="."), Options(decimal=","), Options(), BY_HAND))
    reader = read_measured if source.random() < 0.2 else read
    try:
        found = reader(field, text, said)
    except ReadingError as refused:
        assert refused.code in REASONS, f"a reason nobody declared: {refused.code}"
        assert len(str(refused)) < 2000 or len(text) > 1000
        return "refused"
    value = found.value if reader is read_measured else found
    if value is None:
        assert not any(one.isdigit() for one in text), f"a number taken for nothing: {text!r}"
        return "nothing"
    assert isfinite(value), f"endless: {text!r} is {found!r}"
    if names_unit(field.read_in, text[-1:]) or (field.unit == "cSt" and text[-1:] in "kKM"):
        return "odd with a unit"
    try:
        reference = float(text)
    except ValueError:
        again(field, value)
        return "odd, read"
    if said.decimal == ".":
        assert value == reference, f"not what float says: {text!r} for {field.name} is {value!r}"
    elif value != reference:
        assert said.decimal == "," or other_sane(field, reference), f"guessed: {text!r} for {field.name} is {value!r}"
    again(field, value)
    return "as float says"


def other_sane(field: Field, reference: float) -> bool:
    """Whether the value by a decimal point may be left for the other reading: only where it is not sane."""
    return not is_sane(field, reference)
