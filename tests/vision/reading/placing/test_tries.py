"""Outlines are tried from the cheapest on, and no further than what was found leaves room."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from circuit.asked import Asked
from tests.vision.draw import draw
from vision.reading.card.find_card import outline_searches, quad_of_outline
from vision.reading.card.quads import Quad
from vision.reading.placing import candidate as candidate_module
from vision.reading.placing import tries as tries_module
from vision.reading.placing.candidate import Candidate
from vision.reading.placing.first_fit import candidates_of, take_in
from vision.reading.placing.tries import tries
from vision.reading.sight import Sight, first_sight
from vision.reading.small_picture import SmallPicture
from vision.reading.square.find_squares import squares_at
from vision.reading.square.square_edges import SquareSeen


@pytest.mark.parametrize(("known", "searches"), [(True, 1), (False, 3)])
def test_lines_that_bear_a_known_card_out_leave_fainter_ones_to_something_else(monkeypatch, known, searches):
    sight = first_sight(draw().pixels)
    squares = squares_at(sight)
    quad = quad_of_outline(sight.first_look, sight.sheets[0])
    (card,) = candidates_of(take_in(sight, Asked(), None), quad, squares)
    if not known:
        card = replace(card, matches=[replace(card.best, distance=1e4)])
    monkeypatch.setattr(candidate_module, "SEEN_SHARE", 1.1)  # as if a finger lay over an edge
    made: list[int] = []

    def counted(small: SmallPicture, most: int) -> Iterator[list[Quad]]:
        for found in outline_searches(small, most):
            made.append(len(found))
            yield found

    monkeypatch.setattr(tries_module, "outline_searches", counted)

    def so_far() -> Candidate:
        return card

    assert list(tries(replace(sight, sheets=()), squares, so_far))
    assert len(made) == searches


@pytest.mark.parametrize("whole", [True, False])
def test_a_sheet_seen_cut_off_is_tried_unless_a_card_is_seen_along_whole_edges(monkeypatch, whole):
    sight = first_sight(draw().pixels)
    squares = squares_at(sight)
    sheet = replace(sight.sheets[0], on_border=np.array([0.0, 0.5, 0.0, 0.0]))
    quad = quad_of_outline(sight.first_look, sheet)
    (card,) = candidates_of(take_in(sight, Asked(), None), quad, squares)
    assert sheet.cut_off and card.is_seen_along_whole_edges
    monkeypatch.setattr(tries_module, "outline_searches", lambda small, most: iter(()))
    tried = list(tries(replace(sight, sheets=(sheet,)), squares, lambda: card if whole else None))
    assert len(tried) == (0 if whole else 1)


@pytest.mark.parametrize(("known", "looked_for"), [(True, ["lines"]), (False, ["lines", "squares", "lines"])])
def test_other_squares_are_looked_for_where_the_plainest_lines_make_no_known_card(
    monkeypatch, known, looked_for
):
    sight = first_sight(draw().pixels)
    square = replace(squares_at(sight)[0], kind="plain")
    elsewhere = replace(square, corners=square.corners + 500)
    quad = quad_of_outline(sight.first_look, sight.sheets[0])
    (card,) = candidates_of(take_in(sight, Asked(), None), quad, squares_at(sight))
    steps: list[str] = []

    def searches(small: SmallPicture, most: int) -> Iterator[list[Quad]]:
        for off_px in (0, 30):
            steps.append("lines")
            yield [replace(quad, corners=quad.corners + off_px)]

    def search(sight: Sight, some_known: bool) -> list[SquareSeen]:
        steps.append("squares")
        return [elsewhere]

    monkeypatch.setattr(tries_module, "outline_searches", searches)
    monkeypatch.setattr(tries_module, "search_squares", search)
    tried = list(tries(replace(sight, sheets=()), [square], lambda: card if known else None))
    assert steps == looked_for
    # Outlines tried before are tried with the other square, later ones with both.
    sought = [[square]] if known else [[square], [elsewhere], [square, elsewhere]]
    assert [some for _, some in tried] == sought
