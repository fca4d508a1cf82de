"""What lies beside an edge says whether it is the card's."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from circuit.asked import Asked
from tests.vision.draw import Drawing, Shot, Stroke, draw
from vision.reading.card.find_card import quad_of_outline
from vision.reading.edges.profiles import EdgePoints
from vision.reading.fit.parameters import Evidence
from vision.reading.fit.solve import Fit
from vision.reading.placing.candidate import Candidate
from vision.reading.placing.edge_signs import (
    DOUBTED_SHARE,
    TOLD_LIFT_MM,
    departs_beyond_its_bend,
    ends_at_all_edges,
    has_else_beside_edges,
    sides,
)
from vision.reading.placing.find_view import find_view
from vision.reading.placing.first_fit import candidates_of, take_in
from vision.reading.sight import first_sight
from vision.reading.square.find_squares import squares_at

FOLD_MM = 54.0


def candidate_of(shot: Shot) -> Candidate:
    sight = first_sight(shot.pixels)
    quad = quad_of_outline(sight.first_look, sight.sheets[0])
    (found,) = candidates_of(take_in(sight, Asked(), None), quad, squares_at(sight))
    return found


def with_edge(one: Candidate, number: int, **change) -> Candidate:
    edges = list(one.fit.evidence.edges)
    edges[number] = replace(edges[number], **change)
    return replace(one, fit=fit_of(one, replace(one.fit.evidence, edges=tuple(edges))))


def fit_of(one: Candidate, evidence: Evidence) -> Fit:
    standing = replace(one.fit.standing, model=replace(one.fit.model, evidence=evidence))
    return replace(one.fit, standing=standing)


def along_the_fold(shot: Shot, edge: EdgePoints) -> dict[str, np.ndarray]:
    """An edge's points as they lie on a line down the middle of the card."""
    down = np.linspace(5.0, 135.0, len(edge.points))
    points = shot.to_px(np.column_stack([np.full_like(down, FOLD_MM), down]))
    outward = shot.to_px(np.column_stack([np.full_like(down, FOLD_MM + 1), down])) - points
    return {"points": points, "outward": outward / np.linalg.norm(outward, axis=1)[:, None]}


@pytest.fixture(scope="module")
def folded() -> Shot:
    return draw(Drawing(strokes=(Stroke(((FOLD_MM, 2.0), (FOLD_MM, 137.0)), 0.6),)))


def test_the_sides_as_laid_lie_on_the_cards_edges():
    shot = draw(Drawing())
    laid = sides(find_view(shot.pixels, Asked()).view)
    corners = shot.card_corners_px
    middle = corners.mean(axis=0)
    assert len(laid) == 4
    for start, end in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        along = (end - start) / np.linalg.norm(end - start)
        across = np.array([-along[1], along[0]])
        # The lens bends the drawn edges by under a pixel between their corners.
        near = [side for side in laid if np.abs((side.points - start) @ across).max() < 2.0]
        assert len(near) == 1
        assert (((near[0].points - middle) * near[0].outward).sum(axis=1) > 0).all()


def test_a_card_ends_at_its_edges_and_not_at_a_pencilled_fold(folded):
    one = candidate_of(folded)
    assert ends_at_all_edges(folded.pixels, one)
    half = with_edge(one, 1, **along_the_fold(folded, one.fit.evidence.edges[1]))
    assert not ends_at_all_edges(folded.pixels, half)


def test_an_edge_along_a_pencilled_fold_is_strange(folded):
    one = candidate_of(folded)
    view = find_view(folded.pixels, Asked()).view
    assert not has_else_beside_edges(folded.pixels, one, view)
    half = with_edge(one, 1, **along_the_fold(folded, one.fit.evidence.edges[1]))
    there = replace(view, fit=fit_of(half, half.fit.evidence))
    assert has_else_beside_edges(folded.pixels, half, there)


@pytest.mark.parametrize(
    ("lift_mm", "share", "doubted"),
    [
        (2 * TOLD_LIFT_MM, DOUBTED_SHARE / 2, True),
        (2 * TOLD_LIFT_MM, 0.9, False),
        (0.0, DOUBTED_SHARE / 2, False),
    ],
)
def test_a_bend_has_to_show_along_more_than_little_of_an_edge(folded, lift_mm, share, doubted):
    one = with_edge(candidate_of(folded), 2, share=share)
    bent = SimpleNamespace(fit=SimpleNamespace(lift_mm=lift_mm, misfit=0.3))
    assert departs_beyond_its_bend(one, bent) == doubted
