"""The place in the car, or the side of the case, that a heading names: ``Front oil``, ``Rear temp C``."""

from __future__ import annotations

from typing import Final

_PLACES: Final = {
    "front": "front",
    "rear": "rear",
    "back": "rear",
    "centre": "centre",
    "center": "centre",
    "middle": "centre",
    "mid": "centre",
    "left": "left",
    "right": "right",
}
_SIDE: Final = "side"
_BETWEEN: Final = str.maketrans(",/-", "   ")


def words_of(heading: str) -> list[str]:
    """The words of a folded heading."""
    return heading.translate(_BETWEEN).split()


def place_and_rest(heading: str) -> tuple[str, str]:
    """The place that a folded heading names, empty if it names none, and the heading without it. Several places are
    joined by a blank.

    >>> place_and_rest("rear oil"), place_and_rest("oil, case side"), place_and_rest("oil")
    (('rear', 'oil'), ('case side', 'oil'), ('', 'oil'))
    """
    places: list[str] = []
    rest: list[str] = []
    for word in words_of(heading):
        if word in _PLACES:
            places.append(_PLACES[word])
        elif word == _SIDE and rest:
            places.append(f"{rest.pop()} {_SIDE}")
        else:
            rest.append(word)
    return (" ".join(places), " ".join(rest)) if places else ("", heading)
