"""Typed values from a file: what fits is read, what doesn't is named by its place."""

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Literal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuit.errors import LayoutFileError
from circuit.json_fields import FieldError, Kept, plain, value_as

NUMBERS = st.floats(-1e6, 1e6).map(lambda value: round(value, 3) + 0.0)


@dataclass(frozen=True)
class Bead:
    name: str
    size: Annotated[float, Kept(key="size_mm")] = 1.0

    def __post_init__(self):
        if self.size == 13:
            raise ValueError("size must not be 13")


@dataclass(frozen=True)
class String:
    beads: tuple[Bead, ...]
    kind: Literal["silk", "wool"] | None
    count: int = 0
    knots_mm: tuple[tuple[float, float], ...] = ()
    prices: Mapping[str, float] = field(default_factory=dict)
    tied: bool = False
    note: Annotated[str, Kept(omit=True)] = ""


STRINGS = st.builds(
    String,
    st.lists(st.builds(Bead, st.text(max_size=5), NUMBERS.filter(lambda n: n != 13)), max_size=3).map(tuple),
    st.sampled_from(["silk", "wool", None]),
    st.integers(-(2**53), 2**53),
    st.lists(st.tuples(NUMBERS, NUMBERS), max_size=3).map(tuple),
    st.dictionaries(st.text(max_size=3), NUMBERS, max_size=2),
    st.booleans(),
    st.text(max_size=4),
)


@given(STRINGS)
def test_what_is_written_reads_back(string):
    assert value_as(String, json.loads(json.dumps(plain(string), allow_nan=False))) == string


@pytest.mark.parametrize(
    ("change", "clause"),
    [
        ({"beads": None}, "beads should be a list in square brackets"),
        ({"beads": [3]}, "beads[0] should stand in braces"),
        ({"beads": [{}]}, "beads[0].name is missing"),
        ({"beads": [{"nam": "a", "hue": 2}]}, "beads[0].name is missing ('nam, hue' is not known)"),
        (
            {"beads": [{"name": "a", "size_mm": "2.5"}]},
            "beads[0].size_mm should be a number, not '2.5'; leave out",
        ),
        ({"beads": [{"name": 3}]}, "beads[0].name should be a text, not 3"),
        ({"beads": [{"name": "a", "size_mm": True}]}, "beads[0].size_mm should be a number, not True"),
        ({"beads": [{"name": "a", "size_mm": 10**400}]}, "beads[0].size_mm should be a number, not 1000"),
        ({"beads": [{"name": "a", "size_mm": float("inf")}]}, "beads[0].size_mm should be a number, not inf"),
        ({"beads": [{"name": "a", "size_mm": 13}]}, "beads[0] makes no sense: size must not be 13"),
        ({"kind": "hemp"}, "kind should be silk or wool, not 'hemp'"),
        ({"count": 1.5}, "count should be a whole number, not 1.5"),
        ({"knots_mm": [[1, 2, 3]]}, "knots_mm[0] should be 2 values, not 3"),
        ({"knots_mm": [[1, 3e5]]}, "knots_mm[0][1] is 300000 mm, more than 2000 mm"),
        ({"prices": {"a": "dear"}}, "prices.a should be a number, not 'dear'"),
        ({"tied": "yes"}, "tied should be true or false, not 'yes'"),
        ({"note": ["x" * 99]}, "note should be a text, not ['xxxx"),
    ],
)
def test_what_does_not_fit_is_named_by_its_place(change, clause):
    good = {"beads": [], "kind": None}
    with pytest.raises(FieldError) as caught:
        value_as(String, {**good, **change}, most_mm=2000.0)
    assert caught.value.clause.startswith(clause)
    assert len(caught.value.clause) < 160
    assert isinstance(caught.value, LayoutFileError)
    assert str(caught.value) == f"This file can't be used: {caught.value.clause}."


def test_a_needed_key_may_be_null_only_where_nothing_may_stand_there():
    assert value_as(String, {"beads": [], "kind": None}).kind is None
    with pytest.raises(FieldError, match=r"kind is missing|beads"):
        value_as(String, {"kind": None})


@pytest.mark.parametrize(
    ("how", "written"),
    [(Kept(), 0.123), (Kept(places=1), 0.1), (Kept(digits=2), 0.12), (Kept(places=None), 0.12345)],
)
def test_numbers_are_written_as_finely_as_is_asked(how, written):
    assert plain(0.12345, how) == written
    assert str(plain(-0.00001, Kept())) == "0.0"
