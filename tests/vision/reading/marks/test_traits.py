"""Each trait of a spot measures what its name says."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from tests.vision.reading.marks.straight_cards import Sheet
from vision.reading.marks.blobs import Blob
from vision.reading.marks.ink import Ink, read_ink
from vision.reading.marks.likeness import CHANNELS, PX_PER_MM, STRIDE, Likeness
from vision.reading.marks.traits import FAR_MM, NAMES, Traits, as_rows, bare_about, traits_of

DOT = Blob(
    x_mm=30.0,
    y_mm=30.0,
    radius_mm=1.6,
    level=0.5,
    middle=1.0,
    floor=0.9,
    holes=0.0,
    ragged_mm=0.05,
    long=0.02,
    strays=0.02,
    edge_mm=0.4,
    sigma_mm=0.05,
)


def blank() -> Likeness:
    return Likeness(np.zeros((len(CHANNELS), 140, 140), np.float32), PX_PER_MM / STRIDE, 3.0)


def lit(likeness: Likeness, kind: str, x: float, y: float, reach: float = 1.5) -> None:
    """A patch of a kind on the network's map."""
    column, row = np.round(likeness.to_px(np.array([[x, y]]))[0]).astype(int)
    size = round(reach * likeness.px_per_mm)
    likeness.maps[CHANNELS.index(kind), row - size : row + size + 1, column - size : column + size + 1] = 1.0


def paper(draw: object = None) -> Ink:
    sheet = Sheet(60, 60, 6)
    if callable(draw):
        draw(sheet)
    return read_ink(sheet.straight())


def only(ink: Ink, likeness: Likeness, *blobs: Blob) -> Traits:
    """The first spot's traits."""
    return traits_of(ink, likeness, blobs)[0]


def test_no_spots_have_no_traits() -> None:
    assert traits_of(paper(), blank(), []) == []
    assert as_rows([]).shape == (0, len(NAMES))
    assert bare_about(paper(), []).shape == (0,)


def test_the_network_is_asked_over_the_core_about_it_and_beyond() -> None:
    likeness = blank()
    lit(likeness, "light", 30, 30, 0.9)
    seen = only(paper(), likeness, DOT)
    assert seen.light > 0.6 and seen.light_about == pytest.approx(1.0)
    assert seen.light_beyond < 0.01 and seen.crossed == seen.line == 0.0


def test_size_and_ink_are_set_against_the_other_plain_lights() -> None:
    likeness = blank()
    for x in (15, 45):
        lit(likeness, "light", x, 30)
    others = [
        replace(DOT, x_mm=15.0, radius_mm=2.0, level=0.8),
        replace(DOT, x_mm=45.0, radius_mm=2.0, level=0.8),
    ]
    seen = only(paper(), likeness, DOT, *others)
    assert seen.size_ratio == pytest.approx(0.8) and seen.level_ratio == pytest.approx(0.625)
    assert seen.nearest_mm == pytest.approx(15.0)
    alone = only(paper(), blank(), DOT)
    assert alone.size_ratio == 1.0 and alone.nearest_mm == FAR_MM


@pytest.mark.parametrize(
    ("offsets", "beside", "between"),
    [((), 0.0, 0.0), ((2.0,), 1.0, 0.0), ((-2.0, 2.0), 1.0, 1.0)],
    ids=["no line", "one line", "a lane"],
)
def test_circuit_lines_are_seen_beside_and_on_both_sides(
    offsets: tuple[float, ...], beside: float, between: float
) -> None:
    likeness = blank()
    for offset in offsets:
        column = round(float(likeness.to_px(np.array([[30 + offset, 30]]))[0, 0]))
        likeness.maps[CHANNELS.index("line"), :, column] = 1.0
    seen = only(paper(), likeness, DOT)
    # Between the map's half millimetres a line of one pixel shows by half at the least.
    assert round(seen.line_beside) == beside and round(seen.line_between) == between


def test_arms_are_strokes_through_the_middle_on_all_four_sides() -> None:
    def struck(sheet: Sheet) -> None:
        sheet.dot(30, 30, 3.2)
        sheet.cross_out(30, 30, 4.0)

    def one_stroke(sheet: Sheet) -> None:
        sheet.dot(30, 30, 3.2)
        sheet.stroke([(20, 30), (40, 30)], 0.5, 0.7)

    def two_lines(sheet: Sheet) -> None:
        one_stroke(sheet)
        sheet.stroke([(30, 20), (30, 40)], 0.5, 0.7)

    cross, stroke, lines = (only(paper(draw), blank(), DOT) for draw in (struck, one_stroke, two_lines))
    assert cross.arms > 0.3 > stroke.arms and lines.arms > 0.3
    assert cross.arms_past < 0.2 < lines.arms_past


def test_letters_stand_in_rows() -> None:
    def letter(sheet: Sheet, x: float, y: float) -> None:
        sheet.ring(x, y, 2.2, wobble=0.0, sweep_deg=330.0)

    def row(sheet: Sheet) -> None:
        for x in (26.1, 30.0, 33.9):
            letter(sheet, x, 30.0)

    def last(sheet: Sheet) -> None:
        for x in (26.1, 30.0):
            letter(sheet, x, 30.0)

    def corner(sheet: Sheet) -> None:
        for x, y in ((26.1, 30.0), (30.0, 30.0), (30.0, 34.0)):
            letter(sheet, x, y)

    in_row, at_end, round_corner = (only(paper(draw), blank(), DOT) for draw in (row, last, corner))
    assert (in_row.letters, at_end.letters, round_corner.letters) == (2, 1, 2)
    # The cosine of a right angle, by letters whose middles are sure to a tenth of their distance of 4 mm.
    assert in_row.in_row > 0.9 and at_end.in_row == -1.0 and abs(round_corner.in_row) < 0.1
    assert 2.0 < in_row.piece_mm < 3.5  # a ring 2.2 mm wide, drawn with a stroke of half a millimetre


def test_what_lies_about_a_spot_is_told_near_and_far() -> None:
    def fence(sheet: Sheet) -> None:
        sheet.dot(30, 30, 3.2)
        for x in (27.0, 33.0):
            sheet.stroke([(x, 20), (x, 40)], 0.6, 0.8)

    bare = paper(lambda sheet: sheet.dot(30, 30, 3.2))
    near, alone = only(paper(fence), blank(), DOT), only(bare, blank(), DOT)
    assert near.far_inked > 0.05 > alone.far_inked
    assert bare_about(bare, [DOT]).tolist() == [True]
    assert bare_about(paper(fence), [DOT]).tolist() == [False]
