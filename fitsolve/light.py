"""Light: dataclasses that cost little to declare.

`dataclasses.dataclass(frozen=True)` writes the source of five methods for each class and compiles
it: about half a millisecond, and a command declares a hundred such classes before it does
anything. Here the same methods are shared closures over the names of the fields; nothing is
compiled. To a reader, to mypy and to `dataclasses.fields`, `replace` and `asdict` it is the same.

Only what the project uses is done: positional and keyword arguments, defaults, default
factories, equality by fields, a hash, a repr, and `FrozenInstanceError` on assignment. No
inheritance between such classes; `slots` is accepted and means nothing; `__post_init__` is called
where there is one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, FrozenInstanceError, fields
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
else:

    def dataclass(
        cls: type | None = None, *, frozen: bool = False, slots: bool = False
    ) -> type | Callable[[type], type]:
        """Make the class below a dataclass; see the module."""
        return _made(cls, frozen) if cls is not None else lambda below: _made(below, frozen)


def _made(cls: type, frozen: bool) -> type:
    from dataclasses import dataclass as declared

    declared(init=False, repr=False, eq=False)(cls)
    every = fields(cls)
    names = tuple(one.name for one in every)
    plain = {one.name: one.default for one in every if one.default is not MISSING}
    made = {one.name: one.default_factory for one in every if one.default_factory is not MISSING}
    start = _init(cls.__name__, names, plain, made)
    methods: dict[str, object] = {
        "__init__": _then(start, cls.__dict__["__post_init__"]) if "__post_init__" in cls.__dict__ else start,
        "__repr__": _repr(names),
        "__eq__": _eq(names),
        "__hash__": _hash(names) if frozen else None,
    }
    if frozen:
        methods |= {"__setattr__": _refuse_setting, "__delattr__": _refuse_deleting}
    for name, method in methods.items():
        if name not in cls.__dict__:
            setattr(cls, name, method)
    return cls


def _init(
    called: str, names: tuple[str, ...], plain: dict[str, Any], made: dict[str, Callable[[], Any]]
) -> Callable[..., None]:
    count, known = len(names), frozenset(names)

    def __init__(self: object, *args: Any, **given: Any) -> None:
        values = self.__dict__
        values.update(zip(names, args, strict=False))
        if not given:
            if len(args) == count:
                return
        elif len(args) + len(given) == count:
            values.update(given)
            if values.keys() == known:
                return
            values.clear()
            values.update(zip(names, args, strict=False))
        if len(args) > count or not known.issuperset(given) or not values.keys().isdisjoint(given):
            wrong = [name for name in given if name not in known or name in values]
            raise TypeError(f"{called}() got too many arguments, or one twice or unknown: {len(args)}, {wrong}")
        values.update(given)
        if len(values) < count:
            for name in names:
                if name in values:
                    continue
                if name in plain:
                    values[name] = plain[name]
                elif name in made:
                    values[name] = made[name]()
                else:
                    raise TypeError(f"{called}() missing a required argument: {name!r}")

    return __init__


def _then(start: Callable[..., None], after: Callable[[object], None]) -> Callable[..., None]:
    def __init__(self: object, *args: Any, **given: Any) -> None:
        start(self, *args, **given)
        after(self)

    return __init__


def _refuse_setting(self: object, name: str, value: object) -> NoReturn:
    raise FrozenInstanceError(f"cannot assign to field {name!r}")


def _refuse_deleting(self: object, name: str) -> NoReturn:
    raise FrozenInstanceError(f"cannot delete field {name!r}")


def _repr(names: tuple[str, ...]) -> Callable[[object], str]:
    def __repr__(self: object) -> str:
        values = self.__dict__
        return f"{type(self).__qualname__}({', '.join(f'{name}={values[name]!r}' for name in names)})"

    return __repr__


def _eq(names: tuple[str, ...]) -> Callable[[object, object], bool]:
    def __eq__(self: object, other: object) -> bool:
        if other.__class__ is not self.__class__:
            return NotImplemented
        mine, theirs = self.__dict__, other.__dict__
        return [mine[name] for name in names] == [theirs[name] for name in names]

    return __eq__


def _hash(names: tuple[str, ...]) -> Callable[[object], int]:
    def __hash__(self: object) -> int:
        values = self.__dict__
        return hash(tuple([values[name] for name in names]))

    return __hash__
