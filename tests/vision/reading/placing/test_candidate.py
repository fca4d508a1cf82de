"""An outline and a square that hardly agree end no search, and are not taken without a doubt."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
import pytest

from circuit.asked import Asked
from tests.vision.draw import draw
from vision.errors import NoCardError
from vision.reading.card.find_card import quad_of_outline
from vision.reading.fit.parameters import SHIFT, WIDTH
from vision.reading.placing import candidate as candidate_module
from vision.reading.placing import choice, find_view, first_fit
from vision.reading.placing.candidate import AGREED_DEPARTURE, Candidate
from vision.reading.placing.choice import Chosen, rivals
from vision.reading.placing.edge_signs import MOST_DEPARTURE_FLAT
from vision.reading.placing.find_view import RIVAL_ODDS
from vision.reading.placing.first_fit import candidates_of, take_in
from vision.reading.placing.placing import CardPose, placed
from vision.reading.placing.size_choice import with_bends
from vision.reading.placing.tries import Try
from vision.reading.sight import Sight, first_sight
from vision.reading.square.find_squares import squares_at
from vision.reading.square.square_edges import SquareSeen


def plain_candidate() -> Candidate:
    sight = first_sight(draw().pixels)
    quad = quad_of_outline(sight.first_look, sight.sheets[0])
    (found,) = candidates_of(take_in(sight, Asked(), None), quad, squares_at(sight))
    return found


def test_a_candidate_is_bent_but_once(monkeypatch):
    bent: list[Candidate] = []

    def counted(one: Candidate) -> Candidate:
        bent.append(one)
        return with_bends(one)

    monkeypatch.setattr(first_fit, "with_bends", counted)
    sight = first_sight(draw().pixels)
    seen = take_in(sight, Asked(), None)
    (found,) = candidates_of(seen, quad_of_outline(sight.first_look, sight.sheets[0]), squares_at(sight))
    curled = at_distance(found, 1e3)
    seen.bent(curled)  # as where it is asked whether it could stand, before it is carried to its end
    placed(curled, Asked(), seen.bent)
    assert bent == [curled]


@pytest.mark.parametrize("whole", [True, False], ids=["ends-there", "goes-on-beyond-an-edge"])
def test_what_a_bend_explains_is_known_before_more_is_looked_for(monkeypatch, whole):
    monkeypatch.setattr(choice, "ends_at_all_edges", lambda *seen: whole)
    sight = first_sight(draw().pixels)
    seen, squares = take_in(sight, Asked(), None), squares_at(sight)
    quad = replace(quad_of_outline(sight.first_look, sight.sheets[0]), score=1.05)
    (found,) = candidates_of(seen, quad, squares)
    curled = at_distance(found, 1e3)
    assert curled.is_seen_all_round and not curled.is_known_card
    known: list[Candidate | None] = []

    def tried(sight: Sight, squares: list[SquareSeen], so_far) -> Iterator[Try]:
        yield quad, squares
        known.append(so_far())

    monkeypatch.setattr(choice, "tries", tried)
    monkeypatch.setattr(
        choice, "candidates_of", lambda *tried: [replace(curled, square=plain(curled.square))]
    )
    choice.choose(replace(seen, bent=lambda one: found), squares)
    assert known == [found if whole else None]  # an edge on the rim of a shadow leaves room for another


@pytest.mark.parametrize(("side_mm", "could"), [(25.4, False), (12.7, True), (4.0, False)])
def test_a_dark_patch_matters_only_where_it_could_make_the_card_another_known_size(side_mm, could):
    # As large as the reference a patch makes it the same quarter of letter paper, half as large the whole sheet; a
    # dot's size makes it larger than any card.
    seen = take_in(first_sight(draw().pixels), Asked(), None)
    assert choice._could_make_another_card(seen, plain_candidate(), side_mm) is could


def plain(square: SquareSeen) -> SquareSeen:
    return replace(square, kind="plain")


def at_distance(one: Candidate, distance: float) -> Candidate:
    return replace(one, matches=[replace(one.best, distance=distance), *one.matches[1:]])


def test_a_card_that_agrees_ends_the_search():
    found = plain_candidate()
    assert found.is_known_card and found.ends_the_search and found.departure < AGREED_DEPARTURE


def test_a_size_that_fits_only_just_does_not():
    found = at_distance(plain_candidate(), AGREED_DEPARTURE + 1)
    found = replace(found, quad=replace(found.quad, score=0.9), square=replace(found.square, kind="plain"))
    assert found.is_known_card and not found.ends_the_search


def test_a_flat_card_that_agrees_only_just_is_a_doubt(monkeypatch):
    def only_just(*seen):
        chosen = choice.choose(*seen)
        return replace(chosen, best=at_distance(chosen.best, MOST_DEPARTURE_FLAT + 1))

    monkeypatch.setattr(find_view, "choose", only_just)
    (doubt,) = find_view.find_view(draw().pixels, Asked()).doubts
    assert doubt.says.key == "not-flat"  # its edges are as plain as can be


def with_its_right_edge_farther(found: Candidate, farther_mm: float) -> Candidate:
    values = found.fit.values.copy()
    values[WIDTH] += farther_mm
    return replace(found, fit=replace(found.fit, standing=found.fit.model.at(values)))


def test_a_rival_has_an_edge_elsewhere():
    found = plain_candidate()
    farther, trembling = (with_its_right_edge_farther(found, mm) for mm in (1.5, 0.2))
    # Corners are told apart in pixels, and pixels to the millimetre differ from corner to corner where a view slants.
    assert found.apart_mm(farther) == pytest.approx(1.5, abs=0.2)
    assert rivals(found, [found, farther]) == (farther,)
    assert rivals(found, [found, trembling]) == ()


@pytest.mark.parametrize(("off_mm", "doubted"), [(1.2, True), (0.5, False)])
def test_another_outline_is_a_doubt_where_it_moves_marks_far_and_widens_their_bounds_where_not(
    off_mm, doubted, monkeypatch
):
    alone = find_view.find_view(draw().pixels, Asked())
    other = with_its_right_edge_farther(plain_candidate(), 1.5)

    def laid(candidate: Candidate, asked: Asked, bent: Callable[[Candidate], Candidate]) -> CardPose:
        pose = placed(candidate, asked, bent)
        if candidate is not other:
            return pose
        fit, price = pose.fits[0]
        values = fit.values.copy()
        values[SHIFT.start] += off_mm
        return replace(pose, fits=((replace(fit, standing=fit.model.at(values)), price + 4),))

    monkeypatch.setattr(find_view, "placed", laid)
    monkeypatch.setattr(find_view, "choose", lambda *seen: Chosen(choice.choose(*seen).best, (other,)))
    found = find_view.find_view(draw().pixels, Asked())
    assert [doubt.says.key for doubt in found.doubts] == ["edges-faint"] * doubted
    if not doubted:
        middle = np.array([[60.0, 60.0]])
        wider = found.view.position_covariance(middle) - alone.view.position_covariance(middle)
        # One in eleven, by its odds, off by so much.
        assert np.trace(wider[0]) == pytest.approx(RIVAL_ODDS / (1 + RIVAL_ODDS) * off_mm**2, rel=0.2)


def test_plain_edges_that_are_no_flat_cards_are_told_as_a_curl(monkeypatch):
    for name in ("MOST_SHAPE", "SHEET_SHAPE"):
        monkeypatch.setattr(candidate_module, name, -1.0)
    with pytest.raises(NoCardError, match="weigh the card down"):
        find_view.find_view(draw().pixels, Asked())
