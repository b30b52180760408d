"""``NamedTuple`` as ``typing`` has it, for a sixth of what making such a class costs there.

``typing`` compiles the constructor of each class and every annotation as it is made: a tenth of all that a command
does, since it makes hundreds and uses few. Here the constructor is compiled when it is first called;
all else is as there.
"""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING or sys.version_info >= (3, 14):
    from typing import NamedTuple as NamedTuple
else:
    from operator import itemgetter

    try:
        from _collections import _tuplegetter as _field_at
    except ImportError:

        def _field_at(place: int, doc: str) -> property:
            return property(itemgetter(place), doc=doc)

    _new: Final = tuple.__new__

    @classmethod
    def _make(cls: Any, iterable: Any) -> Any:
        """Make it of its values in order."""
        made = _new(cls, iterable)
        if len(made) != len(cls._fields):
            raise TypeError(f"Expected {len(cls._fields)} arguments, got {len(made)}")
        return made

    def _replace(self: Any, /, **named: Any) -> Any:
        """The same with other values for some fields."""
        made = _new(type(self), map(named.pop, self._fields, self))
        if named:
            raise ValueError(f"Got unexpected field names: {[*named]!r}")
        return made

    def _asdict(self: Any) -> dict[str, Any]:
        """Its values by the names of its fields."""
        return dict(zip(self._fields, self, strict=True))

    def _getnewargs(self: Any) -> tuple[Any, ...]:
        return tuple(self)

    _SHARED: Final = {
        "_make": _make,
        "_replace": _replace,
        "_asdict": _asdict,
        "__getnewargs__": _getnewargs,
        "__replace__": _replace,
    }
    """What is the same in each such class."""
    _KEPT: Final = frozenset({"__annotations__", "__module__", "__qualname__", "__doc__", "__orig_bases__"})
    _REFUSED: Final = frozenset({"__new__", "__init__", "__slots__", "__getnewargs__", *_SHARED})

    class _Signature:
        """The parameters of the class, for whoever looks at it, and of a child of it that is made in the same way."""

        def __set_name__(self, owner: Any, name: str) -> None:
            self._of = owner

        def __get__(self, one: object, owner: Any) -> Any:
            from inspect import Parameter, Signature

            children = owner.__mro__[: owner.__mro__.index(self._of)]
            if any("__new__" in vars(child) or "__init__" in vars(child) for child in children):
                raise AttributeError("a child has parameters of its own")
            owner = self._of
            return Signature(
                [
                    Parameter(
                        name,
                        Parameter.POSITIONAL_OR_KEYWORD,
                        default=owner._field_defaults.get(name, Parameter.empty),
                        annotation=owner.__annotations__[name],
                    )
                    for name in owner._fields
                ]
            )

    class _Maker(type):
        def __new__(cls, name: str, bases: tuple[type, ...], namespace: dict[str, Any]) -> Any:
            if bases == ():
                return super().__new__(cls, name, bases, namespace)
            types: dict[str, Any] = namespace.get("__annotations__", {})
            fields = tuple(types)
            for one in fields:
                if one.startswith("_"):
                    raise ValueError(f"Field names cannot start with an underscore: {one!r}")
            if clash := _REFUSED & namespace.keys():
                raise AttributeError(f"Cannot overwrite NamedTuple attribute {min(clash)}")
            defaults = {one: namespace[one] for one in fields if one in namespace}
            if [*defaults] != [*fields[len(fields) - len(defaults) :]]:
                raise TypeError(f"a field without a default follows one with a default in {name}")

            def made(of: Any, /, *values: Any, **named: Any) -> Any:
                new = _constructor(name, fields, defaults)
                found.__new__ = staticmethod(new)
                return new(of, *values, **named)

            form = ", ".join(f"{one}=%r" for one in fields)

            def shown(self: Any) -> str:
                return self.__class__.__name__ + f"({form})" % tuple(self)

            body = {
                **_SHARED,
                **{one: _field_at(place, f"Alias for field number {place}") for place, one in enumerate(fields)},
                "__slots__": (),
                "__new__": made,
                "__repr__": shown,
                "__match_args__": fields,
                "__signature__": _Signature(),
                "_fields": fields,
                "_field_defaults": defaults,
                **{one: value for one, value in namespace.items() if one in _KEPT or one not in types},
            }
            others = tuple(one for one in bases if one is not _NamedTuple)
            found: Any = type(name, (tuple, *others), body)
            return found

    def _constructor(name: str, fields: tuple[str, ...], defaults: dict[str, Any]) -> Any:
        """The function that makes such a tuple, as ``collections.namedtuple`` writes it."""
        arguments = ", ".join(fields) + ("," if len(fields) == 1 else "")
        code = (
            f"lambda _cls, {arguments}: _tuple_new(_cls, ({arguments}))" if fields else "lambda _cls: _tuple_new(_cls)"
        )
        new = eval(code, {"_tuple_new": tuple.__new__, "__builtins__": {}, "__name__": f"namedtuple_{name}"})
        new.__name__ = "__new__"
        new.__qualname__ = f"{name}.__new__"
        new.__defaults__ = tuple(defaults.values()) or None
        return new

    _NamedTuple = _Maker("NamedTuple", (), {})

    class _Entry:
        """What is written as the base of a class; in its place the maker steps in."""

        def __mro_entries__(self, bases: tuple[Any, ...]) -> tuple[type, ...]:
            return (_NamedTuple,)

    NamedTuple: Any = _Entry()
