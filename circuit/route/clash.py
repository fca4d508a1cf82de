"""Which links of a catalogue can't lie in one lane: their tapes, bodies or switch come too close.

In:    a `Catalogue` and pairs of its links, or links and passages where the lane might end.
Out:   arrays of yes and no.
Fails: never.

Runs that share a fold, and the two halves of one run through a light, are not compared: what they do
to each other is a link's own affair. Two links whose passages lie on one common line count as
halves of one run, whatever straight links lie between.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from circuit.route.catalogue import SIDES, Catalogue
from circuit.route.clash_with_switch import switch_meets, tail_under_switch
from circuit.route.passages import Ints
from circuit.route.plane import Bools, Points, cross, dot, meets_convex, segments_nearer
from circuit.route.site import TAPE_TO_BODY_MM


def links_clash(catalogue: Catalogue, e: Ints, f: Ints) -> Bools:
    """Whether links e[i] and f[i] clash. Pairs that can't follow one another in one lane anyway (the same
    light twice entered or left) count as clashing."""
    bad = never_together(catalogue, e, f)
    close = np.flatnonzero(~bad & boxes_meet(catalogue, e, f))
    bad[close] = come_too_close(catalogue, e[close], f[close])
    return bad | _either_way(switch_meets, catalogue, e, f)


def come_too_close(catalogue: Catalogue, e: Ints, f: Ints) -> Bools:
    """Whether tapes, or the body of a light and tapes that pass it, come too close."""
    bad = tapes_meet(catalogue, e, f)
    rows = np.flatnonzero(~bad)
    bad[rows] = _either_way(_body_meets, catalogue, e[rows], f[rows])
    return bad


def _either_way(
    meets: Callable[[Catalogue, Ints, Ints], Bools], catalogue: Catalogue, e: Ints, f: Ints
) -> Bools:
    """What is asked of e and f, or of f and e: all in one call, since most calls are about few pairs."""
    both = meets(catalogue, np.concatenate([e, f]), np.concatenate([f, e]))
    return np.asarray(both[: len(e)] | both[len(e) :])


def ends_clash(catalogue: Catalogue, end: Ints, link: Ints) -> Bools:
    """Whether a lane that ends past passage end[i] comes too close to its own link[i], or to the light it enters."""
    bad = never_ends(catalogue, end, link)
    near = np.flatnonzero(~bad & near_end(catalogue, end, link))
    bad[near] = end_meets(catalogue, end[near], link[near])
    return bad


def never_ends(catalogue: Catalogue, end: Ints, link: Ints) -> Bools:
    """Links that leave the last light, or enter it otherwise than the lane's last link does."""
    links, place = catalogue.links, catalogue.passages.place
    never = (place[links.dst[link]] == place[end]) & (links.dst[link] != end)
    return np.asarray(never | (place[links.src[link]] == place[end]))


def end_meets(catalogue: Catalogue, end: Ints, link: Ints) -> Bools:
    """Whether the tapes past the last light come too close to a link, its light's body or its switch."""
    own = (catalogue.links.dst[link] == end) | same_run(catalogue, link, end)
    meets = _tail_meets_tapes(catalogue, end, link, own)
    sizes, passages, entered = catalogue.site.sizes, catalogue.passages, catalogue.links.dst[link]
    away = np.abs(catalogue.site.places[passages.place[entered]] - passages.at[end])
    reach = catalogue.site.body_reach + TAPE_TO_BODY_MM + sizes.outer + sizes.tail
    rows = np.flatnonzero(~own & ~meets & (away < reach))
    meets[rows] = _sides_meet_body(catalogue, catalogue.tails[end[rows]], entered[rows])
    return np.asarray(meets | tail_under_switch(catalogue, end, link))


def near_end(catalogue: Catalogue, end: Ints, link: Ints) -> Bools:
    """Whether a lane's end lies near enough to a link, or to the switch it leaves, to be looked at."""
    reach = catalogue.site.body_reach + catalogue.site.sizes.apart + catalogue.site.sizes.outer
    at, box = catalogue.passages.at[end], catalogue.boxes[link]
    near = (at.real > box[..., 0] - reach) & (at.real < box[..., 1] + reach)
    near &= (at.imag > box[..., 2] - reach) & (at.imag < box[..., 3] + reach)
    from_cell = catalogue.passages.place[catalogue.links.src[link]] == 0
    near |= from_cell & (np.abs(at - catalogue.site.battery) < catalogue.site.switch.farthest + reach)
    return np.asarray(near)


def _tail_meets_tapes(catalogue: Catalogue, end: Ints, link: Ints, own: Bools) -> Bools:
    """Whether the tapes past the last light come too close to a link's; `own`: links that lead straight into them."""
    sizes = catalogue.site.sizes
    tails, edges, runs = catalogue.tails, catalogue.edges, catalogue.links.folds[link] + 1
    low_x, high_x, low_y, high_y = catalogue.run_boxes
    left, right, top, bottom = catalogue.tail_boxes
    meets = np.zeros(len(end), dtype=bool)
    for run in range(3):
        # The last run leads straight into the tail, and the fold before it belongs to both.
        rows = np.flatnonzero((run < runs) & ~(own & (run >= runs - 2)) & ~meets)
        e, f = end[rows], link[rows]
        near = (left[e] < high_x[f, run] + sizes.apart) & (low_x[f, run] < right[e] + sizes.apart)
        near &= (top[e] < high_y[f, run] + sizes.apart) & (low_y[f, run] < bottom[e] + sizes.apart)
        rows, e, f = rows[near], e[near], f[near]
        for column, side in enumerate(SIDES):
            a, b = edges[f, column, run], edges[f, column, run + 1]
            for piece, other in ((0, -1), (1, None), (2, 1)):
                limit = sizes.itself if other == side else sizes.apart
                meets[rows] |= segments_nearer(tails[e, piece], tails[e, piece + 1], a, b, limit)
    return meets


def _sides_meet_body(catalogue: Catalogue, lines: Points, passage: Ints) -> Bools:
    """Whether any of the lines (N, ..., corners) of each row come upon the body at its passage."""
    sizes, passages = catalogue.site.sizes, catalogue.passages
    centre, back = catalogue.site.places[passages.place[passage]], np.conj(passages.ahead[passage])
    quarter = np.array([complex(1, -1), complex(1, 1), complex(-1, 1), complex(-1, -1)])
    body = quarter.real * sizes.half_along + 1j * quarter.imag * sizes.half_across
    for_each = (-1, *(1,) * (lines.ndim - 1))
    seen = (lines - centre.reshape(for_each)) * back.reshape(for_each)
    meets = meets_convex(seen[..., :-1], seen[..., 1:], body, TAPE_TO_BODY_MM)
    return np.asarray(meets.any(axis=tuple(range(1, lines.ndim))))


def never_together(catalogue: Catalogue, e: Ints, f: Ints) -> Bools:
    """Links that enter or leave the same light, go to and fro, or meet at a light by different passages."""
    links, place = catalogue.links, catalogue.passages.place
    a, b, c, d = links.src[e], links.dst[e], links.src[f], links.dst[f]
    pa, pb, pc, pd = place[a], place[b], place[c], place[d]
    never = (pa == pc) | (pb == pd) | ((pa == pd) & (pb == pc))
    never |= (pb == pc) & (b != c)
    never |= (pa == pd) & (a != d)
    return np.asarray(never)


def boxes_meet(catalogue: Catalogue, e: Ints, f: Ints) -> Bools:
    reach = catalogue.site.sizes.apart + catalogue.site.body_reach
    low_x, high_x, low_y, high_y = catalogue.boxes.T
    near = low_x.take(e) < high_x.take(f) + reach
    near &= low_x.take(f) < high_x.take(e) + reach
    near &= low_y.take(e) < high_y.take(f) + reach
    near &= low_y.take(f) < high_y.take(e) + reach
    return np.asarray(near)


def tapes_meet(catalogue: Catalogue, e: Ints, f: Ints) -> Bools:
    """Whether runs of e and f that don't share a fold come too close, outer edge to outer edge."""
    sizes, edges = catalogue.site.sizes, catalogue.edges
    pair, i, j = _runs_near(catalogue, e, f)
    one, other = e[pair], f[pair]
    # Both edges of the one run (second axis) against both of the other (third).
    a, b = edges[one, :, i][:, :, None], edges[one, :, i + 1][:, :, None]
    c, d = edges[other, :, j][:, None, :], edges[other, :, j + 1][:, None, :]
    limits = np.array([[sizes.itself, sizes.apart], [sizes.apart, sizes.itself]])
    meets = np.zeros(len(e), dtype=bool)
    meets[pair[segments_nearer(a, b, c, d, limits).any(axis=(1, 2))]] = True
    return meets


def _runs_near(catalogue: Catalogue, e: Ints, f: Ints) -> tuple[Ints, Ints, Ints]:
    """Runs i of e[pair] and j of f[pair], not at one fold, whose boxes come near enough for their tapes to meet."""
    reach = catalogue.site.sizes.apart
    runs_e, runs_f = catalogue.links.folds[e] + 1, catalogue.links.folds[f] + 1
    i, j = np.arange(3)[None, :, None], np.arange(3)[None, None, :]
    near = (i < runs_e[:, None, None]) & (j < runs_f[:, None, None])
    # How many runs lie between: from e's last run on to f's first, or the other way round.
    for first, runs, back in (
        (joined(catalogue, e, f), runs_e, i - j),
        (joined(catalogue, f, e), runs_f, j - i),
    ):
        row = np.flatnonzero(first)
        near[row] &= (runs[row, None, None] - 1) - back >= 2
    low_x, high_x, low_y, high_y = catalogue.run_boxes
    for low, high in ((low_x, high_x), (low_y, high_y)):
        near &= low[e][:, :, None] < high[f][:, None, :] + reach
        near &= low[f][:, None, :] < high[e][:, :, None] + reach
    pair, run_e, run_f = np.nonzero(near)
    return pair, run_e, run_f


def joined(catalogue: Catalogue, e: Ints, f: Ints) -> Bools:
    """Whether e's last run and f's first are parts of one run, should e come before f."""
    return np.asarray(
        (catalogue.links.dst[e] == catalogue.links.src[f]) | same_run(catalogue, e, catalogue.links.src[f])
    )


def same_run(catalogue: Catalogue, e: Ints, passage: Ints) -> Bools:
    """Whether link e ends on the same common line and heading as this passage."""
    passages, last = catalogue.passages, catalogue.links.dst[e]
    same = (passages.line[last] == passages.line[passage]) & (passages.line[last] >= 0)
    return np.asarray(same & (np.abs(passages.ahead[last] - passages.ahead[passage]) < 1e-9))


def _body_meets(catalogue: Catalogue, e: Ints, f: Ints) -> Bools:
    """Whether the body of the light that f enters lies in e's tapes, unless e passes that light itself."""
    return body_in_tapes(catalogue, e, catalogue.links.dst[f])


def body_in_tapes(catalogue: Catalogue, link: Ints, passage: Ints) -> Bools:
    """Whether the body of the light at passage[i] lies in the tapes of link[i], unless that passes the light itself."""
    links, place = catalogue.links, catalogue.passages.place
    light = place[passage]
    meets = np.zeros(len(link), dtype=bool)
    rows = np.flatnonzero((light != place[links.src[link]]) & (light != place[links.dst[link]]))
    centre = catalogue.site.places[light[rows]]
    reach = catalogue.site.body_reach + TAPE_TO_BODY_MM
    box = catalogue.boxes[link[rows]]
    near = (centre.real > box[:, 0] - reach) & (centre.real < box[:, 1] + reach)
    near &= (centre.imag > box[:, 2] - reach) & (centre.imag < box[:, 3] + reach)
    rows, centre = rows[near], centre[near]
    lines = catalogue.edges[link[rows]]
    middle = lines.mean(axis=1)
    between = between_tapes(middle[:, :-1], middle[:, 1:], centre[:, None], catalogue.site.sizes.outer)
    meets[rows] = _sides_meet_body(catalogue, lines, passage[rows]) | between.any(axis=1)
    return meets


def between_tapes(a: Points, b: Points, centre: Points, outer: float) -> Bools:
    """Whether a light's centre lies on the lane along runs a-b."""
    way, off = b - a, centre - a
    size = np.maximum(np.abs(way), 1e-9)
    return np.asarray(
        (np.abs(cross(way, off)) < outer * size) & (dot(way, off) > 0) & (dot(way, centre - b) < 0)
    )
