"""An outline and a square that hardly agree end no search, and are not taken without a doubt."""

from __future__ import annotations

from dataclasses import replace
from functools import partial

import pytest

from circuit.asked import Asked
from tests.vision.draw import draw
from vision.errors import NoCardError
from vision.reading import case as case_module
from vision.reading import settle
from vision.reading.card.find import find_edges, quad_of_outline
from vision.reading.case import EASY_TENSION, Case, cases_of
from vision.reading.edge_doubts import MOST_TENSION_FLAT
from vision.reading.fit.parameters import WIDTH
from vision.reading.settle import look
from vision.reading.sight import first_sight
from vision.reading.square.places import squares_at


def plain_case() -> Case:
    sight = first_sight(draw().pixels)
    quad = quad_of_outline(sight.scene, sight.sheets[0])
    (case,) = cases_of(sight, quad, squares_at(sight)[0], Asked(), None, partial(find_edges, sight))
    return case


def at_distance(case: Case, distance: float) -> Case:
    return replace(case, matches=[replace(case.best, distance=distance), *case.matches[1:]])


def test_a_card_that_agrees_ends_the_search():
    case = plain_case()
    assert case.good and case.clear and case.tension < EASY_TENSION


def test_a_size_that_fits_only_just_does_not():
    case = at_distance(plain_case(), EASY_TENSION + 1)
    case = replace(case, quad=replace(case.quad, score=0.9), square=replace(case.square, kind="plain"))
    assert case.good and not case.clear


def test_a_flat_card_that_agrees_only_just_is_a_doubt(monkeypatch):
    settled = settle._settle_case

    def only_just(*seen):
        case, elsewhere = settled(*seen)
        return at_distance(case, MOST_TENSION_FLAT + 1), elsewhere

    monkeypatch.setattr(settle, "_settle_case", only_just)
    (doubt,) = look(draw().pixels, Asked()).doubts
    assert doubt.says.key == "not-flat"  # its edges are as plain as can be


def test_an_edge_that_could_as_well_lie_elsewhere_is_a_doubt(monkeypatch):
    case = plain_case()
    # the same card with its right edge 1.5 mm farther out, and one that only trembles
    values = case.fit.values.copy()
    values[WIDTH] += 1.5
    farther = replace(case, fit=replace(case.fit, values=values))
    assert case.apart_mm(farther) == pytest.approx(1.5, abs=0.2)
    assert settle._rivals(case, [case, farther]) == (farther,)
    nearer = case.fit.values.copy()
    nearer[WIDTH] += 0.2
    assert settle._rivals(case, [case, replace(case, fit=replace(case.fit, values=nearer))]) == ()
    settled = settle._settle_case
    monkeypatch.setattr(settle, "_settle_case", lambda *seen: (settled(*seen)[0], (farther,)))
    (doubt,) = look(draw().pixels, Asked()).doubts
    assert doubt.says.key == "edges-faint"


def test_plain_edges_that_are_no_flat_cards_are_told_as_a_curl(monkeypatch):
    for name in ("MOST_STRAIN", "PLAIN_STRAIN"):
        monkeypatch.setattr(case_module, name, -1.0)
    monkeypatch.setattr(settle, "UNSIZED_STRAIN", -1.0)
    monkeypatch.setattr(settle, "BENT_SCORE", 9.0)  # no bend is to explain it
    with pytest.raises(NoCardError, match="weigh the card down"):
        look(draw().pixels, Asked())
