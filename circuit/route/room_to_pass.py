"""Links beside which every light has room for the tape that any way past it needs.

In:    a catalogue.
Out:   (links,) yes and no: no lane has the others.
Fails: never.

However a lane comes to a passage and goes on from it, there is tape straight before and behind the light, at least as
much as all links there have in common. A link that comes too close to that tape at all passages of a light, or leaves
no passage that another link enters and a third one leaves, is of no use. Told in a fifth of the time that it takes to
find out which links clash, and in a crowded card a third to half of the links goes.
"""

from __future__ import annotations

from itertools import product

import numpy as np

from circuit.route.catalogue import SIDES, Catalogue
from circuit.route.clash_matrix import run_numbers
from circuit.route.far_tapes import AT_ONCE
from circuit.route.passages import Ints
from circuit.route.plane import Bools, Points, dot, segments_nearer


def have_room_to_pass(catalogue: Catalogue) -> Bools:
    """Which links a lane may have."""
    links, passages = catalogue.links, catalogue.passages
    clear = np.logical_not(_too_close(catalogue))
    place, lights = passages.place, range(1, len(catalogue.site.lights) + 1)
    useful = np.ones(len(links), dtype=bool)
    while True:
        entered, left = np.zeros(len(place), dtype=bool), catalogue.ends.copy()
        entered[links.dst[useful]] = left[links.src[useful]] = True
        passed = clear & (entered & left)
        still = useful.copy()
        for light in lights:
            here = (place[links.src] == light) | (place[links.dst] == light)
            still &= here | passed[:, place == light].any(axis=1)
        if (still == useful).all():
            return useful
        useful = still


def _too_close(catalogue: Catalogue) -> Bools:
    """(links, passages): which links come too close to the tape that any way through a passage has; runs that share a
    fold, or are one, are not compared."""
    links, edges, sizes = catalogue.links, catalogue.edges, catalogue.site.sizes
    begin, end = _tape_at_passages(catalogue)
    low_x, high_x, low_y, high_y = _boxes(begin, end, sizes.apart)
    beside = catalogue.run_boxes
    own, after, before = _joined(catalogue)
    close = np.zeros(own.shape, dtype=bool)
    for run in range(3):
        near = ~own & np.less_equal(run, links.folds)[:, None]
        near &= ~(after & np.equal(run, links.folds)[:, None])
        if run == 0:
            near &= ~before
        near &= (beside[0][:, run, None] < high_x) & (beside[1][:, run, None] > low_x)
        near &= (beside[2][:, run, None] < high_y) & (beside[3][:, run, None] > low_y)
        pairs = np.stack(np.nonzero(near & ~close))
        for low in range(0, pairs.shape[1], AT_ONCE):
            link, passage = pairs[:, low : low + AT_ONCE]
            for one, other in product(range(2), repeat=2):
                limit = sizes.itself if one == other else sizes.apart
                a, b = edges[link, one, run], edges[link, one, run + 1]
                met = segments_nearer(a, b, begin[other, passage], end[other, passage], limit)
                close[link[met], passage[met]] = True
                link, passage = link[~met], passage[~met]
    return close


def _tape_at_passages(catalogue: Catalogue) -> tuple[Points, Points]:
    """(2, passages) twice: where the outer edges begin and end that all links into and out of a passage have in
    common, left and right ones. Where a lane may end, no longer behind the light than its tail."""
    links, passages, edges, sizes = catalogue.links, catalogue.passages, catalogue.edges, catalogue.site.sizes
    ahead, every = passages.ahead, np.arange(len(links))
    sides = sizes.outer * 1j * ahead * np.array(SIDES)[:, None]
    into, out_of = np.full(sides.shape, np.inf), np.full(sides.shape, np.inf)
    out_of[:, catalogue.ends] = sizes.tail
    for side in range(2):
        last = edges[:, side, 3] - edges[every, side, links.folds]
        np.minimum.at(into[side], links.dst, dot(last, ahead[links.dst]))
        first = edges[:, side, 1] - edges[:, side, 0]
        np.minimum.at(out_of[side], links.src, dot(first, ahead[links.src]))
    # Passages without links don't count; a sharp fold's inner edge may begin past the light.
    into, out_of = (np.where(np.isfinite(part), np.maximum(part, 0.0), 0.0) for part in (into, out_of))
    return passages.at + sides - into * ahead, passages.at + sides + out_of * ahead


def _boxes(begin: Points, end: Points, wider: float) -> tuple[Points, Points, Points, Points]:
    """(passages,) least x, most x, least y, most y of both edges, that much wider."""
    ends = np.concatenate([begin, end])
    x, y = ends.real, ends.imag
    return x.min(axis=0) - wider, x.max(axis=0) + wider, y.min(axis=0) - wider, y.max(axis=0) + wider


def _joined(catalogue: Catalogue) -> tuple[Bools, Bools, Bools]:
    """(links, passages) three times: passages of a link's own lights and on its own runs; those that a link with one
    fold at most leads to from where it ends; and those that one leads from to where it begins."""
    links, place = catalogue.links, catalogue.passages.place
    run: Ints = run_numbers(catalogue.passages)
    own = (place[links.src][:, None] == place) | (place[links.dst][:, None] == place)
    own |= (run[links.src][:, None] == run) | (run[links.dst][:, None] == run)
    few = links.folds <= 1
    leads_to = np.zeros((run.max() + 1, len(place)), dtype=bool)
    comes_from = leads_to.copy()
    leads_to[run[links.src[few]], links.dst[few]] = True
    comes_from[run[links.dst[few]], links.src[few]] = True
    return own, leads_to[run[links.dst]], comes_from[run[links.src]]
