"""One way to lay the card in the photo, carried to its end: size chosen, bends fitted, and the price of it all.

In:    a `Candidate` and what the person said.
Out:   a `CardPose`; the cheapest of several is the likeliest.
Fails: `SquareCardDisagreeError` where a size that was given can't be true.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from circuit.asked import Asked
from circuit.layout import Doubt
from vision.reading.card.find_card import EDGE_POINTS
from vision.reading.card.size import SizeMatch, near_sizes
from vision.reading.fit.camera import FLAT
from vision.reading.fit.models import fit_models
from vision.reading.fit.solve import Fit
from vision.reading.placing.candidate import Candidate
from vision.reading.placing.size_choice import choose_size, with_bends

# Twice a negative log chance, of one profile across an edge that shows no edge. Chosen: an outline is to pay for
# what it leaves out, yet a finger or a clip on an edge must stay cheap.
UNSEEN_PRICE = 0.5


@dataclass(frozen=True, slots=True)
class CardPose:
    """flat : the candidate as it was found, lying flat; candidate : the same, a bend allowed for where no size fits;
    match : the size that the card was meant to have, None for one that is left as measured; size_doubts : about
    it; fits : under every supposition (lens, bend, sizes as near as can't be told apart), with its price,
    the cheapest first."""

    flat: Candidate
    candidate: Candidate
    match: SizeMatch | None
    size_doubts: tuple[Doubt, ...]
    fits: tuple[tuple[Fit, float], ...]

    @property
    def likeliest(self) -> Fit:
        """Under the cheapest supposition."""
        return self.fits[0][0]

    @property
    def price(self) -> float:
        """Twice the negative logarithm of the chance, about: what the fit left over and supposed, and what of
        the edges it did not see."""
        edges = self.likeliest.evidence.edges
        unseen = sum(1.0 if edge is None else 1 - edge.share for edge in edges) * EDGE_POINTS
        return self.fits[0][1] + UNSEEN_PRICE * unseen


def placed(flat: Candidate, asked: Asked, bent: Callable[[Candidate], Candidate] = with_bends) -> CardPose:
    """The candidate with its size chosen and everything fitted."""
    candidate = bent(flat)
    match, doubts = choose_size(candidate, asked)
    near = near_sizes(candidate.matches) if match is not None and asked.card_mm is None else []
    sizes = [candidate.fit.card_mm if match is None else match.size_mm, *(one.size_mm for one in near)]
    camera = replace(candidate.fit.camera, half=sizes[0] / 2, curl=FLAT)
    fits = fit_models(
        candidate.fit.evidence, camera, sizes, match is None, candidate.on_card, candidate.fit.priors
    )
    if match is not None:
        cheapest = fits[0][0].size_mm
        match = next(one for one in (match, *near) if np.array_equal(one.size_mm, cheapest))
    return CardPose(flat, candidate, match, tuple(doubts), tuple(fits))
