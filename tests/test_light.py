"""A light dataclass does what the standard library's frozen dataclass does, for all that is used of it."""

from __future__ import annotations

import copy
import dataclasses
import pickle
from dataclasses import FrozenInstanceError, asdict, field, fields, replace
from functools import cached_property

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fitsolve import light


def declared(dataclass):
    """The same class, declared with one or the other decorator."""

    @dataclass(frozen=True)
    class Place:
        """A place."""

        file: str
        line: int | None = None
        words: list[str] = field(default_factory=list)
        key: tuple[str, ...] = ()

        @cached_property
        def twice(self) -> int:
            return 2 * (self.line or 0)

    return Place


STANDARD, LIGHT = declared(dataclasses.dataclass), declared(light.dataclass)


@light.dataclass(frozen=True, slots=True)
class Kept:
    """At the top of a module, so that pickle finds it."""

    a: int
    b: float = 2.0


arguments = st.lists(st.one_of(st.text(max_size=3), st.integers(0, 3), st.tuples(st.text(max_size=2))), max_size=5)
named = st.dictionaries(st.sampled_from(["file", "line", "key", "words", "wrong"]), st.integers(0, 3), max_size=3)


def outcome(cls, args, given_):
    try:
        one = cls(*args, **given_)
    except TypeError:
        return "refused"
    return asdict(one), repr(one).replace("declared.<locals>.", "")


class TestLikeTheStandardLibrary:
    @given(arguments, named)
    def test_the_same_arguments_are_taken_and_refused(self, args, given_):
        assert outcome(LIGHT, args, given_) == outcome(STANDARD, args, given_)

    @given(arguments, arguments)
    def test_equal_when_the_fields_are(self, first, second):
        def equal(cls):
            try:
                return cls(*first) == cls(*second)
            except TypeError:
                return None

        assert equal(LIGHT) == equal(STANDARD)

    def test_hash_is_that_of_the_fields(self):
        assert hash(Kept(1)) == hash(Kept(1, 2.0))
        assert len({Kept(1), Kept(1, 2.0), Kept(2)}) == 2
        with pytest.raises(TypeError):
            hash(LIGHT("a"))  # a list has none

    def test_not_equal_to_another_kind(self):
        assert Kept(1) != (1, 2.0)

    def test_a_field_cannot_be_set_or_deleted(self):
        one = Kept(1)
        with pytest.raises(FrozenInstanceError):
            one.a = 2
        with pytest.raises(FrozenInstanceError):
            del one.a

    def test_defaults_made_anew_for_each(self):
        assert LIGHT("a").words is not LIGHT("a").words

    def test_its_own_replace_does_the_same(self):
        one = LIGHT("a", 2, ["x"])
        assert one.twice == 4  # kept in the object, and not taken over
        other = light.replace(one, line=3)
        assert (other, other.twice) == (replace(one, line=3), 6)
        assert light.replace(STANDARD("a"), line=1) == replace(STANDARD("a"), line=1)
        with pytest.raises(TypeError):
            light.replace(one, wrong=1)

    def test_fields_replace_copy_and_pickle(self):
        assert [one.name for one in fields(Kept)] == ["a", "b"]
        assert replace(Kept(1), b=3.0) == Kept(1, 3.0)
        assert copy.deepcopy(Kept(1)) == pickle.loads(pickle.dumps(Kept(1))) == Kept(1)

    def test_a_cached_property_is_no_field(self):
        one = LIGHT("a", 3)
        assert one.twice == 6
        assert one == LIGHT("a", 3)

    def test_what_changes_may_be_set_and_has_no_hash(self):
        @light.dataclass(slots=True)
        class Loose:
            """May change."""

            a: int = 1

        one = Loose()
        one.a = 2
        assert one == Loose(2)
        with pytest.raises(TypeError):
            hash(one)

    def test_what_follows_the_making_is_called(self):
        @light.dataclass(frozen=True)
        class Checked:
            """Refuses a negative number."""

            a: int

            def __post_init__(self) -> None:
                if self.a < 0:
                    raise ValueError(self.a)

        assert Checked(1).a == 1
        with pytest.raises(ValueError, match="-1"):
            Checked(-1)


class TestFieldsWhenAsked:
    def test_fields_are_those_of_the_standard_library(self):
        class Both:
            """Two classes with the same fields, of which nobody has asked for the fields yet."""

            @staticmethod
            def made(dataclass):
                return declared(dataclass)

        new, old = Both.made(light.dataclass), Both.made(dataclasses.dataclass)
        assert "words" not in vars(new), "a factory leaves no value on the class"
        assert [(f.name, f.type, f.default) for f in fields(new)] == [(f.name, f.type, f.default) for f in fields(old)]
        assert "words" not in vars(new)
        assert new.line is None
        assert dataclasses.is_dataclass(new)
        assert new("a") == replace(new("b"), file="a")

    def test_a_field_without_a_default_behind_one_with_is_refused(self):
        with pytest.raises(TypeError, match="without a default"):

            @light.dataclass(frozen=True)
            class Wrong:
                first: int = 0
                second: int

    def test_a_default_that_can_change_is_refused(self):
        with pytest.raises(ValueError, match="mutable default"):

            @light.dataclass(frozen=True)
            class Wrong:
                first: list = []  # noqa: RUF012
