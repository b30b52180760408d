"""Our NamedTuple beside the one of ``typing``: the same in all that a class of it can do."""

from __future__ import annotations

import copy
import inspect
import pickle
import typing
from typing import Any, Generic, TypeVar

import pytest

from bevelbook.declare.named_tuple import NamedTuple

T = TypeVar("T")


class Ours(NamedTuple):
    """A diff on the bench."""

    label: str
    mass_g: float | None
    parts: tuple[str, ...] = ()
    count: int = 1

    @property
    def twice(self) -> int:
        return 2 * self.count


class Theirs(typing.NamedTuple):
    """A diff on the bench."""

    label: str
    mass_g: float | None
    parts: tuple[str, ...] = ()
    count: int = 1

    @property
    def twice(self) -> int:
        return 2 * self.count


class OneOf(NamedTuple, Generic[T]):
    value: T


class Nothing(NamedTuple):
    pass


BOTH: Any = pytest.mark.parametrize("kind", [Ours, Theirs])


@BOTH
def test_one_is_made_and_used_as_a_tuple_with_names(kind: Any) -> None:
    one = kind("rear-a", 22.4)
    assert one == ("rear-a", 22.4, (), 1) and hash(one) == hash(("rear-a", 22.4, (), 1))
    assert repr(one) == f"{kind.__name__}(label='rear-a', mass_g=22.4, parts=(), count=1)"
    assert (one.label, one.twice, one[1], len(one)) == ("rear-a", 2, 22.4, 4)
    assert one._replace(count=3) == kind(label="rear-a", mass_g=22.4, count=3)
    assert one._asdict() == {"label": "rear-a", "mass_g": 22.4, "parts": (), "count": 1}
    assert kind._make(["a", None, (), 2]).count == 2
    assert pickle.loads(pickle.dumps(one)) == one == copy.deepcopy(one)
    match one:
        case kind(label, mass_g):  # type: ignore[misc]
            assert (label, mass_g) == ("rear-a", 22.4)
    with pytest.raises(AttributeError):
        one.label = "rear-b"


@BOTH
def test_what_it_says_of_itself(kind: Any) -> None:
    assert kind._fields == kind.__match_args__ == ("label", "mass_g", "parts", "count")
    assert kind._field_defaults == {"parts": (), "count": 1}
    assert kind.__doc__ == "A diff on the bench." and kind.__module__ == __name__
    assert [one.default for one in inspect.signature(kind).parameters.values()][2:] == [(), 1]
    assert [*inspect.signature(kind).parameters] == [*kind._fields]


@BOTH
def test_what_does_not_fit_is_refused(kind: Any) -> None:
    for call in (lambda: kind(), lambda: kind("a", 1.0, colour="red"), lambda: kind._make([1])):
        with pytest.raises(TypeError):
            call()
    with pytest.raises((TypeError, ValueError)):
        kind("a", 1.0)._replace(colour="red")


def test_a_generic_one_an_empty_one_and_a_child_of_one() -> None:
    class Child(Ours):
        def said(self) -> str:
            return f"{self.label}!"

    assert OneOf[int](3) == (3,) and OneOf("a").value == "a"
    assert Nothing() == () and repr(Nothing()) == "Nothing()"

    class OfItsOwn(Ours):
        def __new__(cls, grams: float) -> OfItsOwn:
            return super().__new__(cls, "made", grams)

    assert [*inspect.signature(Child).parameters] == [*Ours._fields]
    assert [*inspect.signature(OfItsOwn).parameters] == ["grams"] and OfItsOwn(2.0).label == "made"
    assert Child("a", None).said() == "a!" and type(Child("a", None)._replace(count=2)) is Child


def test_fields_that_cannot_be_are_refused_when_the_class_is_made() -> None:
    for fields, values, fault in (
        ({"_hidden": "int"}, {}, ValueError),
        ({"a": "int", "b": "int"}, {"a": 1}, TypeError),
        ({"a": "int"}, {"_make": 1}, AttributeError),
    ):
        with pytest.raises(fault):
            type(NamedTuple.__mro_entries__(())[0])(  # type: ignore[attr-defined]
                "Wrong",
                NamedTuple.__mro_entries__(()),
                {"__annotations__": fields, **values},  # type: ignore[attr-defined]
            )
