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

from dataclasses import dataclass

import numpy as np

from circuit.route.catalogue import Catalogue
from circuit.route.clash import (
    between_tapes,
    body_in_tapes,
    end_meets,
    near_end,
    never_ends,
    never_together,
    tapes_meet,
)
from circuit.route.clash_with_switch import covered_by_switch
from circuit.route.far_tapes import AT_ONCE, far_tapes_meet
from circuit.route.passages import Ints, Passages
from circuit.route.plane import Bools, point_to_segment
from circuit.route.site import TAPE_TO_BODY_MM

_ROWS = 256  # of the matrix set at a time: chosen, for a processor's fast memory
_SAME_MM = 1e-9  # passages so near to one another are one


def clash_matrix(catalogue: Catalogue, ends: Ints) -> Bools:
    """(links, links + ends): which links clash with which, and with which ends of the lane."""
    links, count = catalogue.links, len(catalogue.links)
    matrix = np.zeros((count, count + len(ends)), dtype=bool)
    stretches = _Stretches.of(catalogue)
    bodies = _bodies_met(catalogue, stretches.first)
    square = matrix[:, :count]
    stretches.clash(bodies, square)
    one, other = _halves_of_one_run(catalogue)
    bad = never_together(catalogue, one, other)
    rows = np.flatnonzero(~bad)
    for low in range(0, len(rows), AT_ONCE):
        some = rows[low : low + AT_ONCE]
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

    def clash(self, bodies: Bools, square: Bools) -> None:
        """Sets in (links, links) which links have a light in common, meet `bodies`, told for (stretches, passages),
        where the other one begins or ends, or have tapes that come too close."""
        some = self.catalogue.some(self.first)
        count = len(self.first)
        # Side by side: walked as they are, and with one of them walked the other way.
        apart = np.zeros((count, 2 * count), dtype=bool)
        along, against = apart[:, :count], apart[:, count:]
        far_tapes_meet(some, along, against)
        met = bodies.take(some.links.dst, axis=1)
        met |= bodies.take(some.links.src, axis=1)
        for low in range(0, count, _ROWS):
            rows = slice(low, low + _ROWS)
            either = met[rows] | met[:, rows].T | _share_a_light(some, rows)
            along[rows] |= either
            against[rows] |= either
        for turned in (False, True):
            column = self.like + count * (self.turned ^ turned)
            every = np.flatnonzero(self.turned == turned)
            for low in range(0, len(every), _ROWS):
                these = every[low : low + _ROWS]
                square[these] = apart.take(self.like[these], axis=0).take(column, axis=1)


def _bodies_met(catalogue: Catalogue, links: Ints) -> Bools:
    """(these links, passages): whether the body of the light at a passage lies in a link's tapes."""
    place = catalogue.passages.place
    here = np.zeros(len(place), dtype=bool)
    here[catalogue.links.src] = here[catalogue.links.dst] = True
    always, maybe = _lights_met(catalogue, links)
    met = always.take(place, axis=1) & here
    link, passage = np.nonzero(maybe.take(place, axis=1) & here)
    met[link, passage] = body_in_tapes(catalogue, links[link], passage)
    return np.asarray(met)


def _lights_met(catalogue: Catalogue, links: Ints) -> tuple[Bools, Bools]:
    """(these links, places) twice: where a light's body lies in a link's tapes however it is turned, and where it may,
    turned some way. A link's own lights don't count."""
    place, sizes = catalogue.passages.place, catalogue.site.sizes
    box, reach = catalogue.boxes[links][:, None], catalogue.site.body_reach + TAPE_TO_BODY_MM
    x, y = catalogue.site.places.real, catalogue.site.places.imag
    near = (x > box[..., 0] - reach) & (x < box[..., 1] + reach)
    near &= (y > box[..., 2] - reach) & (y < box[..., 3] + reach)
    every = np.arange(len(links))
    near[:, 0] = near[every, place[catalogue.links.src[links]]] = False
    near[every, place[catalogue.links.dst[links]]] = False
    row, light = np.nonzero(near)
    lines, centre = catalogue.edges[links[row]], catalogue.site.places[light]
    away = point_to_segment(centre[:, None, None], lines[..., :-1], lines[..., 1:]).min(axis=(1, 2))
    middle = lines.mean(axis=1)
    within = between_tapes(middle[:, :-1], middle[:, 1:], centre[:, None], sizes.outer).any(axis=1)
    # The body and its clearance lie round one circle and within another.
    inner = min(sizes.half_along, sizes.half_across) + TAPE_TO_BODY_MM
    outer = np.hypot(sizes.half_along + TAPE_TO_BODY_MM, sizes.half_across + TAPE_TO_BODY_MM)
    sure = within | (away < inner - _SAME_MM)
    always, maybe = np.zeros_like(near), np.zeros_like(near)
    always[row[sure], light[sure]] = True
    some = ~sure & (away < outer + _SAME_MM)
    maybe[row[some], light[some]] = True
    return always, maybe


def _share_a_light(catalogue: Catalogue, rows: slice) -> Bools:
    """(these links, links): whether two links come to, or come from, one place."""
    place = catalogue.passages.place.astype(np.int8)
    a, b = place[catalogue.links.src], place[catalogue.links.dst]
    share = (a[rows, None] == a) | (b[rows, None] == b)
    share |= a[rows, None] == b
    share |= b[rows, None] == a
    return np.asarray(share)


def _halves_of_one_run(catalogue: Catalogue) -> tuple[Ints, Ints]:
    """Pairs where the first ends at the passage where the second begins, or on the same common line."""
    links, run = catalogue.links, run_numbers(catalogue.passages)
    into = np.argsort(run[links.dst], kind="stable")
    ending = run[links.dst][into]
    low = np.searchsorted(ending, run[links.src], side="left")
    high = np.searchsorted(ending, run[links.src], side="right")
    size = high - low
    other = np.repeat(np.arange(len(links)), size)
    place = np.arange(len(other)) - np.repeat(np.cumsum(size) - size, size)
    one = into[np.repeat(low, size) + place]
    return one[one != other], other[one != other]


def run_numbers(passages: Passages) -> Ints:
    """One number for all passages of one line and heading; those on no line have one each."""
    number = np.arange(len(passages))
    on_line = np.flatnonzero(passages.line >= 0)
    if len(on_line):
        ahead = passages.ahead[on_line]
        keys = np.stack([passages.line[on_line].astype(float), ahead.real.round(6), ahead.imag.round(6)])
        _, run = np.unique(keys, axis=1, return_inverse=True)
        number[on_line] = len(passages) + run.ravel()
    return number
