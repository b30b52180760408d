"""The pieces of a diff as blocks: the runs of each, with which motor, and from which build to which it was in."""

from __future__ import annotations

from collections.abc import Callable, Iterable

from bevelbook.declare.counting import counted
from bevelbook.declare.vocabulary import NOT_SAID
from bevelbook.facts.parts import PieceInDiff
from bevelbook.facts.runs import count_of
from bevelbook.reports.pieces import PieceWithMotors
from bevelbook.web.shared.blocks import ListedBlock, Words, block, joined
from bevelbook.web.shared.links import Linker

PhotographsOfPiece = Callable[[PieceInDiff], Words]
"""The photographs of a piece as a link, and the way to a new one; empty where there is neither."""


def piece_blocks(
    links: Linker, pieces: Iterable[PieceWithMotors], photographs: PhotographsOfPiece = lambda piece: ""
) -> list[ListedBlock]:
    """Each piece with its runs; nothing is concluded from them."""
    return [_block(links, one, photographs(one.piece)) for one in pieces]


def _block(links: Linker, one: PieceWithMotors, photographs: Words) -> ListedBlock:
    piece = one.piece
    return block(
        joined(piece.part, "" if piece.place == NOT_SAID else piece.place, piece.mark),
        count_of(piece.runs),
        _motors(one),
        photographs,
        quiet=joined(_since(links, piece), counted(piece.uses, "build"), "" if piece.from_new else "not known as new"),
    )


def _motors(one: PieceWithMotors) -> str:
    """``motor 13.5: 22 runs, 17.5: 9 runs, not noted: 2 runs``."""
    if not one.by_motor:
        return "motor not noted"
    parts = [f"{motor}: {count_of(runs)}" for motor, runs in one.by_motor]
    parts += [f"not noted: {count_of(one.not_noted)}"] if one.not_noted else []
    return f"motor {', '.join(parts)}"


def _since(links: Linker, piece: PieceInDiff) -> Words:
    """From which build to which it was in the diff."""
    first, last = (links.record("builds", *build) for build in (piece.builds[0], piece.builds[-1]))
    if piece.is_in:
        return joined("in it since", first, by=" ")
    return (
        joined("was in", first, by=" ") if len(piece.builds) == 1 else joined("was in from", first, "to", last, by=" ")
    )
