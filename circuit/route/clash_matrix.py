"""Which links of a catalogue clash, all pairs at once.

In:    a `Catalogue` and passages where the lane might end.
Out:   (links, links + ends) yes and no: what `circuit.route.clash` says pair by pair, and yes as well where a
       link's tapes meet the body at the passage where the other one begins.
Fails: never.

A stretch of lane is the same tape whichever way it is walked, and most links are there both ways: tapes are measured
once for both, a quarter of the pairs. What one end's walking about changes is which tape is the left one, so of each
pair two things are noted: whether they clash walked as they stand, and with one of them turned about. Only links
that are halves of one run, or that follow one another, are measured link by link.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from circuit.arrays import Floats
from circuit.route.catalogue import Catalogue
from circuit.route.clash import body_in_tapes, end_meets, near_end, never_ends, never_together, tapes_meet
from circuit.route.clash_with_switch import covered_by_switch
from circuit.route.passages import Ints, Passages
from circuit.route.plane import Bools, squares_between
from circuit.route.site import TAPE_TO_BODY_MM

_BLOCK = 30_000  # pairs measured at a time: few enough to stay in a processor's fast memory
_ROWS = 64  # links held against all others at a time: chosen, for the same reason
_SAME_MM = 1e-9  # passages so near to one another are one
_ROUNDING_MM = 0.01  # what boxes in float32 are wider by


def clash_matrix(catalogue: Catalogue, ends: Ints) -> Bools:
    """(links, links + ends): which links clash with which, and with which ends of the lane."""
    links, count = catalogue.links, len(catalogue.links)
    matrix = np.zeros((count, count + len(ends)), dtype=bool)
    stretches = _Stretches.of(catalogue)
    bodies = _bodies_met(catalogue, stretches.first)
    met = bodies[:, links.dst[stretches.first]] | bodies[:, links.src[stretches.first]]
    apart = stretches.clash(met | met.T)
    of_light = _share_a_light(catalogue)
    square = matrix[:, :count]
    square[:] = apart
    square |= of_light
    one, other = _halves_of_one_run(catalogue)
    bad = never_together(catalogue, one, other)
    rows = np.flatnonzero(~bad)
    for low in range(0, len(rows), _BLOCK):
        some = rows[low : low + _BLOCK]
        bad[some] = tapes_meet(catalogue, one[some], other[some])
    bad |= bodies[stretches.like[one], links.dst[other]]
    bad |= bodies[stretches.like[other], links.src[one]] | bodies[stretches.like[other], links.dst[one]]
    # A pair may stand there both ways about: then either reason will do.
    square[one, other] = square[other, one] = False
    square[one[bad], other[bad]] = square[other[bad], one[bad]] = True
    from_cell, covered = covered_by_switch(catalogue)
    square[from_cell] |= covered
    square[:, from_cell] |= covered.T
    np.fill_diagonal(square, val=False)
    if len(ends):
        every = np.arange(count)[:, None]
        matrix[:, count:] = never_ends(catalogue, ends[None, :], every)
        link, end = np.nonzero(~matrix[:, count:] & near_end(catalogue, ends[None, :], every))
        matrix[link, count + end] = end_meets(catalogue, ends[end], link)
    return matrix


@dataclass(frozen=True)
class _Stretches:
    """Links without regard to which way they are walked. `first` : a link for each stretch; `like` : each link's
    stretch; `turned` : links that walk it the other way about than `first` says."""

    catalogue: Catalogue
    first: Ints
    like: Ints
    turned: Bools

    @classmethod
    def of(cls, catalogue: Catalogue) -> _Stretches:
        links, passages = catalogue.links, catalogue.passages
        back = passages.turned_about()
        exact = (passages.place > 0) & (np.abs(passages.at - passages.at[back]) < _SAME_MM)
        exact &= np.abs(passages.ahead + passages.ahead[back]) < _SAME_MM
        src, dst = links.src, links.dst
        turned = exact[src] & exact[dst] & (back[dst] < src)
        one, other = np.where(turned, back[dst], src), np.where(turned, back[src], dst)
        order = np.lexsort((links.cost, other, one))
        new = np.ones(len(order), dtype=bool)
        new[1:] = (
            (np.diff(one[order]) != 0) | (np.diff(other[order]) != 0) | (np.diff(links.cost[order]) != 0)
        )
        like = np.empty(len(order), dtype=np.int64)
        like[order] = np.cumsum(new) - 1
        first = order[new]
        return cls(catalogue, first, like, turned ^ turned[first][like])

    def clash(self, met: Bools) -> Bools:
        """(links, links): `met`, or tapes that come too close and belong to runs far from one another."""
        along, against = _far_tapes_meet(self.catalogue.some(self.first))
        along |= met
        against |= met
        both = np.block([[along, against], [against, along]])
        which = self.like + len(self.first) * self.turned
        return np.asarray(both[which].take(which, axis=1))


def _bodies_met(catalogue: Catalogue, links: Ints) -> Bools:
    """(these links, passages): whether the body of the light at a passage lies in a link's tapes."""
    place = catalogue.passages.place
    centre = catalogue.site.places[place]
    here = np.zeros(len(place), dtype=bool)
    here[catalogue.links.src] = here[catalogue.links.dst] = True
    passage = np.flatnonzero(here & (place > 0))
    met = np.zeros((len(links), len(place)), dtype=bool)
    box, reach = catalogue.boxes[links][:, None], catalogue.site.body_reach + TAPE_TO_BODY_MM
    x, y = (part[passage] for part in (centre.real, centre.imag))
    near = (x > box[..., 0] - reach) & (x < box[..., 1] + reach)
    near &= (y > box[..., 2] - reach) & (y < box[..., 3] + reach)
    link, at = np.nonzero(near)
    met[link, passage[at]] = body_in_tapes(catalogue, links[link], passage[at])
    return met


def _share_a_light(catalogue: Catalogue) -> Bools:
    """(links, links): whether two links come to, or come from, one place."""
    place = catalogue.passages.place
    count = len(catalogue.site.lights) + 1
    kinds, kind = np.unique(
        place[catalogue.links.src] * count + place[catalogue.links.dst], return_inverse=True
    )
    a, b = np.divmod(kinds, count)
    share = (a[:, None] == a[None, :]) | (b[:, None] == b[None, :])
    share |= (a[:, None] == b[None, :]) | (b[:, None] == a[None, :])
    return np.asarray(share[kind].take(kind, axis=1))


def _halves_of_one_run(catalogue: Catalogue) -> tuple[Ints, Ints]:
    """Pairs where the first ends at the passage where the second begins, or on the same common line."""
    links, run = catalogue.links, _run_numbers(catalogue.passages)
    into = np.argsort(run[links.dst], kind="stable")
    ending = run[links.dst][into]
    low = np.searchsorted(ending, run[links.src], side="left")
    high = np.searchsorted(ending, run[links.src], side="right")
    size = high - low
    other = np.repeat(np.arange(len(links)), size)
    place = np.arange(len(other)) - np.repeat(np.cumsum(size) - size, size)
    one = into[np.repeat(low, size) + place]
    return one[one != other], other[one != other]


def _run_numbers(passages: Passages) -> Ints:
    """One number for all passages of one line and heading; those on no line have one each."""
    number = np.arange(len(passages))
    on_line = np.flatnonzero(passages.line >= 0)
    if len(on_line):
        ahead = passages.ahead[on_line]
        keys = np.stack([passages.line[on_line].astype(float), ahead.real.round(6), ahead.imag.round(6)])
        _, run = np.unique(keys, axis=1, return_inverse=True)
        number[on_line] = len(passages) + run.ravel()
    return number


def _far_tapes_meet(stretches: Catalogue) -> tuple[Bools, Bools]:
    """(N, N): whether the tapes of two links without a light in common come too close, walked as they are and with
    one of them walked the other way."""
    sizes, runs = stretches.site.sizes, stretches.links.folds + 1
    boxes = [[np.ascontiguousarray(side[:, run]) for side in stretches.run_boxes] for run in range(3)]
    corners = [[np.ascontiguousarray(stretches.edges[:, side, k]) for k in range(4)] for side in range(2)]
    count = len(runs)
    along, against = np.zeros((count, count), dtype=bool), np.zeros((count, count), dtype=bool)
    e, f = _near_one_another(stretches)
    itself, apart = sizes.itself**2, sizes.apart**2
    for low in range(0, len(e), _BLOCK):
        r, s = e[low : low + _BLOCK], f[low : low + _BLOCK]
        same, mixed = np.full(len(r), np.inf), np.full(len(r), np.inf)
        for i in range(3):
            for j in range(3):
                rows = np.flatnonzero((i < runs[r]) & (j < runs[s]) & (same + mixed > 0))
                rows = rows[_boxes_near(boxes[i], boxes[j], r[rows], s[rows], sizes.apart)]
                one, other = r[rows], s[rows]
                for side in (0, 1):
                    a, b = corners[side][i][one], corners[side][i + 1][one]
                    for other_side, least in ((side, same), (1 - side, mixed)):
                        c, d = corners[other_side][j][other], corners[other_side][j + 1][other]
                        least[rows] = np.minimum(least[rows], squares_between(a, b, c, d))
        for square, near in (
            (along, (same < itself) | (mixed < apart)),
            (against, (same < apart) | (mixed < itself)),
        ):
            square[r[near], s[near]] = square[s[near], r[near]] = True
    return along, against


def _boxes_near(one: Sequence[Floats], other: Sequence[Floats], r: Ints, s: Ints, reach: float) -> Bools:
    """Whether boxes r and s (least x, most x, least y, most y) come within `reach` of one another."""
    near = one[0][r] < other[1][s] + reach
    near &= other[0][s] < one[1][r] + reach
    near &= one[2][r] < other[3][s] + reach
    near &= other[2][s] < one[3][r] + reach
    return np.asarray(near)


def _near_one_another(stretches: Catalogue) -> tuple[Ints, Ints]:
    """Pairs, each once, without a light in common whose boxes come near enough for their tapes to be."""
    reach = np.float32(stretches.site.sizes.apart + _ROUNDING_MM)
    low_x, high_x, low_y, high_y = np.ascontiguousarray(stretches.boxes.T, dtype=np.float32)
    place = stretches.passages.place.astype(np.int8)
    a, b = place[stretches.links.src], place[stretches.links.dst]
    found = [np.zeros((2, 0), dtype=np.int64)]
    for low in range(0, len(a), _ROWS):
        here, later = slice(low, low + _ROWS), slice(low, None)
        near = low_x[None, later] < high_x[here, None] + reach
        near &= high_x[None, later] > low_x[here, None] - reach
        near &= low_y[None, later] < high_y[here, None] + reach
        near &= high_y[None, later] > low_y[here, None] - reach
        near &= (a[None, later] != a[here, None]) & (a[None, later] != b[here, None])
        near &= (b[None, later] != a[here, None]) & (b[None, later] != b[here, None])
        found.append(np.stack(np.nonzero(np.triu(near, 1))) + low)
    one, other = np.concatenate(found, axis=1)
    return one, other
