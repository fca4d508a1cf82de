"""Lengths as people write and read them."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from circuit.lengths import format_length, format_shift, parse_length


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("2.5mm", 2.5),
        ("2,5 mm", 2.5),
        ("7", 7.0),
        ("10.8 cm", 108.0),
        ("3/32in", 2.38125),
        ('3/32"', 2.38125),
        ("4 1/4 in", 107.95),
        ("4-1/4 in", 107.95),
        ("4¼ in", 107.95),
        ("½ inch", 12.7),
        ("  1 inches ", 25.4),
        (".5in", 12.7),
    ],
)
def test_lengths_are_read(text, mm):
    # 25.4 mm to the inch exactly: international yard and pound agreement of 1959.
    assert parse_length(text) == pytest.approx(mm, abs=1e-9)


@pytest.mark.parametrize(
    "text", ["", "mm", "2.5 feet", "1/0 in", "-3mm", "1e3mm", "4 1/4 1/2 in", "nan", "inf", "9" * 400 + "mm"]
)
def test_nonsense_is_refused_with_what_was_typed(text):
    with pytest.raises(ValueError):
        parse_length(text)


def test_a_bare_number_needs_a_unit_where_none_is_given():
    with pytest.raises(ValueError, match="unit"):
        parse_length("40", bare_unit=None)


@pytest.mark.parametrize(
    ("mm", "text"),
    [
        (107.95, "4 1/4 in"),
        (139.7, "5 1/2 in"),
        (25.4, "1 in"),
        (2.38125, "3/32 in"),
        (0.0, "0 in"),
        (-3.175, "-1/8 in"),
        (0.3, "0 in"),
        (25.2, "1 in"),
        (25.0, "31/32 in"),
    ],
)
def test_inches_are_shown_in_a_rulers_fractions(mm, text):
    assert format_length(mm, "in") == text


def test_millimetres_are_shown_to_a_tenth():
    assert format_length(6.08) == "6.1 mm"
    assert format_length(-0.01) == "0.0 mm"


@given(st.floats(0.0, 500.0))
def test_what_is_shown_in_inches_reads_back_within_half_a_32nd(mm):
    assert math.isclose(parse_length(format_length(mm, "in")), mm, abs_tol=25.4 / 64 + 1e-9)


@pytest.mark.parametrize(
    ("shift", "units", "text"),
    [
        ((-2.1, 0.4), "mm", "2.1 mm left and 0.4 mm down"),
        ((2.0, 0.1), "mm", "2.0 mm right"),
        ((0.0, -1.5), "mm", "1.5 mm up"),
        ((0.02, 0.1), "mm", "0.1 mm down"),
        ((3.175, 0.3), "in", "1/8 in right"),
        ((1.6, -1.6), "in", "1/16 in right and 1/16 in up"),
    ],
)
def test_a_shift_names_both_ways_unless_one_is_below_what_a_pencil_does(shift, units, text):
    assert format_shift((20.0, 30.0), (20.0 + shift[0], 30.0 + shift[1]), units) == text
