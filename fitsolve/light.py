"""Light: dataclasses and patterns that cost little to declare, and to make another of.

`dataclasses.dataclass(frozen=True)` writes the source of five methods for each class and compiles
it: about half a millisecond, and a command declares a hundred such classes before it does
anything. Here the same methods are shared closures over the names of the fields, and the initialiser
is code compiled with this file that is given their names; nothing else is compiled, and the fields of
the standard library are made when somebody asks for them. To a reader, to mypy and to
`dataclasses.fields`, `replace` and `asdict` it is the same.

Only what the project uses is done: positional and keyword arguments, defaults, default
factories, equality by fields, a hash, a repr, and `FrozenInstanceError` on assignment. No
inheritance between such classes; `slots` is accepted and means nothing; `__post_init__` is called
where there is one.

A regular expression costs a tenth of a millisecond to a whole one to compile; most of those that a command
declares it never asks. `pattern` compiles when it is first asked.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, Field, FrozenInstanceError
from types import CodeType, FunctionType
from typing import TYPE_CHECKING, Any, NoReturn

if TYPE_CHECKING:
    from dataclasses import dataclass as dataclass
    from dataclasses import replace as replace
    from functools import cached_property as cached_property
    from re import Pattern

    _TAKES: tuple[CodeType, ...]

    def pattern(text: str, flags: int = 0) -> Pattern[str]:
        """Stands for re.compile."""
else:

    class pattern:
        """A regular expression, compiled when it is first asked; see the module."""

        def __init__(self, text: str, flags: int = 0) -> None:
            self._said = (text, flags)

        def __getattr__(self, name: str) -> Any:
            """What the compiled expression has, kept from then on."""
            import re

            found = getattr(re.compile(*self._said), name)
            setattr(self, name, found)
            return found

    class cached_property:
        """The same as in the standard library, less the lock that it has before Python 3.12: nothing here runs in
        threads, and for small things the lock is most of the time."""

        def __init__(self, work: Callable[[Any], Any]) -> None:
            self._work = work
            self.__doc__ = work.__doc__

        def __set_name__(self, owner: type, name: str) -> None:
            self._name = name

        def __get__(self, one: Any, owner: type | None = None) -> Any:
            """Worked out when it is first asked for, and kept beside the fields."""
            if one is None:
                return self
            found = one.__dict__[self._name] = self._work(one)
            return found

    def dataclass(
        cls: type | None = None, *, frozen: bool = False, slots: bool = False
    ) -> type | Callable[[type], type]:
        """Make the class below a dataclass; see the module."""
        return _made(cls, frozen) if cls is not None else lambda below: _made(below, frozen)

    def replace(one: Any, /, **changes: Any) -> Any:
        """The same with other values of some fields, without what the standard library must know for it."""
        values = one.__dict__
        return one.__class__(**{name: values[name] for name in one.__match_args__} | changes)


    # Initialisers of one field, two, and so on: `_named` gives their code the names of a class's fields.
    def _takes_1(self, a):
        v = self.__dict__
        v["a"] = a

    def _takes_2(self, a, b):
        v = self.__dict__
        v["a"], v["b"] = a, b

    def _takes_3(self, a, b, c):
        v = self.__dict__
        v["a"], v["b"], v["c"] = a, b, c

    def _takes_4(self, a, b, c, d):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"] = a, b, c, d

    def _takes_5(self, a, b, c, d, e):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"], v["e"] = a, b, c, d, e

    def _takes_6(self, a, b, c, d, e, f):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"], v["e"], v["f"] = a, b, c, d, e, f

    def _takes_7(self, a, b, c, d, e, f, g):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"], v["e"], v["f"], v["g"] = a, b, c, d, e, f, g

    def _takes_8(self, a, b, c, d, e, f, g, h):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"], v["e"], v["f"], v["g"], v["h"] = a, b, c, d, e, f, g, h

    def _takes_9(self, a, b, c, d, e, f, g, h, i):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"], v["e"], v["f"], v["g"], v["h"], v["i"] = a, b, c, d, e, f, g, h, i

    def _takes_10(self, a, b, c, d, e, f, g, h, i, j):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"], v["e"], v["f"], v["g"], v["h"], v["i"], v["j"] = a, b, c, d, e, f, g, h, i, j

    def _takes_11(self, a, b, c, d, e, f, g, h, i, j, k):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"], v["e"], v["f"], v["g"], v["h"], v["i"], v["j"] = a, b, c, d, e, f, g, h, i, j
        v["k"] = k

    def _takes_12(self, a, b, c, d, e, f, g, h, i, j, k, m):
        v = self.__dict__
        v["a"], v["b"], v["c"], v["d"], v["e"], v["f"], v["g"], v["h"], v["i"], v["j"] = a, b, c, d, e, f, g, h, i, j
        v["k"], v["m"] = k, m

    _TAKES = tuple(
        one.__code__
        for one in (
            _takes_1, _takes_2, _takes_3, _takes_4, _takes_5, _takes_6, _takes_7, _takes_8, _takes_9, _takes_10,
            _takes_11, _takes_12,
        )
    )  # fmt: skip


def _made(cls: type, frozen: bool) -> type:
    names, plain, made, declared = _read(cls)
    start = _init(cls.__name__, names, plain, made)
    methods: dict[str, object] = {
        "__init__": _then(start, cls.__dict__["__post_init__"]) if "__post_init__" in cls.__dict__ else start,
        "__repr__": _repr(names),
        "__eq__": _eq(names),
        "__hash__": _hash(names) if frozen else None,
        "__match_args__": names,
        "__dataclass_fields__": _Fields(declared),
    }
    if frozen:
        methods |= {"__setattr__": _refuse_setting, "__delattr__": _refuse_deleting}
    for name, method in methods.items():
        if name not in cls.__dict__:
            setattr(cls, name, method)
    return cls


def _read(cls: type) -> tuple[tuple[str, ...], dict[str, Any], dict[str, Callable[[], Any]], dict[str, Any]]:
    """The names of the fields, their defaults, their factories, and what stood behind `=` in the class.

    What was a `field()` is taken off the class, as the standard library does.
    """
    own = cls.__dict__
    names = tuple(name for name, kind in cls.__annotations__.items() if not str(kind).startswith("ClassVar"))
    declared = {name: own[name] for name in names if name in own}
    plain: dict[str, Any] = {}
    made: dict[str, Callable[[], Any]] = {}
    for name, default in declared.items():
        if isinstance(default, Field):
            if default.default_factory is not MISSING:
                made[name] = default.default_factory
            elif default.default is not MISSING:
                plain[name] = default.default
            if name in plain:
                setattr(cls, name, plain[name])
            else:
                delattr(cls, name)
        elif default.__class__.__hash__ is None:
            raise ValueError(f"mutable default {type(default)} for field {name} is not allowed: use default_factory")
        else:
            plain[name] = default
    bare = [name for name in names if name not in plain and name not in made]
    if bare != list(names[: len(bare)]):
        raise TypeError(f"a field without a default follows one with a default: {bare[-1]!r}")
    return names, plain, made, declared


class _Fields:
    """Stands for the fields of the standard library until somebody asks for them; few ever do."""

    def __init__(self, declared: dict[str, Any]) -> None:
        self._declared = declared

    def __get__(self, one: object, cls: type) -> dict[str, Any]:
        from dataclasses import dataclass as standard

        for name, default in self._declared.items():
            type.__setattr__(cls, name, default)
        standard(init=False, repr=False, eq=False)(cls)
        found: dict[str, Any] = cls.__dict__["__dataclass_fields__"]
        return found


def _init(
    called: str, names: tuple[str, ...], plain: dict[str, Any], made: dict[str, Callable[[], Any]]
) -> Callable[..., None]:
    if made or not 0 < len(names) <= len(_TAKES):
        return _init_of_any(called, names, plain, made)
    return _named(called, names, tuple(plain[name] for name in names if name in plain))


def _named(called: str, names: tuple[str, ...], defaults: tuple[Any, ...]) -> Callable[..., None]:
    """An initialiser that was compiled with this file, taking these names: as quick as one written out."""
    code = _TAKES[len(names) - 1]
    letters = code.co_varnames[1 : 1 + len(names)]
    fields = dict(zip(letters, names, strict=True))
    own = code.replace(
        co_name="__init__",
        co_qualname=f"{called}.__init__",
        co_varnames=("self", *names, "its own"),
        co_consts=tuple(fields.get(one, one) for one in code.co_consts),
    )
    return FunctionType(own, {}, "__init__", defaults)


def _init_of_any(
    called: str, names: tuple[str, ...], plain: dict[str, Any], made: dict[str, Callable[[], Any]]
) -> Callable[..., None]:
    """An initialiser of very many fields, or with factories."""
    count, known = len(names), frozenset(names)
    tails = [
        {name: plain[name] for name in names[start:]} if all(name in plain for name in names[start:]) else None
        for start in range(count + 1)
    ]

    def __init__(self: object, *args: Any, **given: Any) -> None:
        values = self.__dict__
        for name, value in zip(names, args):  # noqa: B905  twice as fast so as with strict or by update
            values[name] = value
        if not given:
            if len(args) == count:
                return
            if len(args) < count and (tail := tails[len(args)]) is not None:
                values.update(tail)
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
