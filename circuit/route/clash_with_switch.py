"""Which links, or ends of a lane, would lie under the switch of a link that leaves the cell.

In:    a `Catalogue` and pairs of its links, or links and passages where the lane might end.
Out:   arrays of yes and no.
Fails: never.
"""

from __future__ import annotations

import numpy as np

from circuit.route.catalogue import Catalogue
from circuit.route.passages import Ints
from circuit.route.plane import Bools, Points
from circuit.route.site import Site, under_switch


def switch_meets(catalogue: Catalogue, e: Ints, f: Ints) -> Bools:
    """Whether e leaves the cell and f's tapes, or the body of the light f enters, lie under e's switch."""
    site, links, passages = catalogue.site, catalogue.links, catalogue.passages
    meets = np.zeros(len(e), dtype=bool)
    if not site.switch.parts:
        return meets
    rows = np.flatnonzero((passages.place[links.src[e]] == 0) & (passages.place[links.src[f]] != 0))
    rows = rows[_near_switch(catalogue, f[rows])]
    if not len(rows):
        return meets
    # One answer for each switch and link: many links share a way out of the cell.
    key = links.src[e[rows]] * len(links) + f[rows]
    unique, back = np.unique(key, return_inverse=True)
    way, link = np.divmod(unique, len(links))
    under = _under_switch(catalogue, way, link)
    meets[rows] = under[back]
    return meets


def covered_by_switch(catalogue: Catalogue) -> tuple[Ints, Bools]:
    """The links that leave the cell, and (those, links): whether a link lies under the switch of one of them."""
    links, count = catalogue.links, len(catalogue.links)
    from_cell = np.flatnonzero(catalogue.passages.place[links.src] == 0)
    if not catalogue.site.switch.parts or not len(from_cell):
        return from_cell, np.zeros((len(from_cell), count), dtype=bool)
    ways, which = np.unique(links.src[from_cell], return_inverse=True)
    near = np.flatnonzero(_near_switch(catalogue, np.arange(count)))
    near = near[catalogue.passages.place[links.src[near]] != 0]
    by_way = np.zeros((len(ways), count), dtype=bool)
    by_way[:, near] = _under_switch(catalogue, np.repeat(ways, len(near)), np.tile(near, len(ways))).reshape(
        len(ways), len(near)
    )
    return from_cell, by_way[which]


def _near_switch(catalogue: Catalogue, link: Ints) -> Bools:
    """Whether a link's box comes near enough to the cell to lie under a switch, whatever its hinge."""
    reach = catalogue.site.switch.farthest + catalogue.site.body_reach
    box, here = catalogue.boxes[link], catalogue.site.battery
    near = (box[:, 0] < here.real + reach) & (box[:, 1] > here.real - reach)
    return np.asarray(near & (box[:, 2] < here.imag + reach) & (box[:, 3] > here.imag - reach))


def _under_switch(catalogue: Catalogue, way: Ints, link: Ints) -> Bools:
    site, passages = catalogue.site, catalogue.passages
    hinge = passages.ahead[way]
    edges, bodies = catalogue.edges[link], catalogue.bodies[catalogue.links.dst[link]]
    a = np.concatenate([edges[:, 0, :-1], edges[:, 1, :-1], bodies], axis=1)
    b = np.concatenate([edges[:, 0, 1:], edges[:, 1, 1:], bodies[:, 1:], bodies[:, :1]], axis=1)
    return _any_under_switch(site, hinge, a, b)


def _any_under_switch(site: Site, hinge: Points, a: Points, b: Points) -> Bools:
    """Whether any of the segments in each row of a-b (N, segments) comes under the switch of hinge[i]."""
    under = under_switch(site, np.repeat(hinge, a.shape[1]), a.ravel(), b.ravel())
    return np.asarray(under.reshape(a.shape).any(axis=1))


def tail_under_switch(catalogue: Catalogue, end: Ints, link: Ints) -> Bools:
    """Whether link leaves the cell and the lane's end lies under its switch."""
    site, passages, links = catalogue.site, catalogue.passages, catalogue.links
    under = np.zeros(len(link), dtype=bool)
    rows = np.flatnonzero(passages.place[links.src[link]] == 0)
    if not len(rows):
        return under
    hinge = passages.ahead[links.src[link[rows]]]
    tails: Points = catalogue.tails[end[rows]]
    under[rows] = _any_under_switch(site, hinge, tails[:, :-1], tails[:, 1:])
    return under
