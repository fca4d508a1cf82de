"""The foam frame round the cell: four strips, their corners cut like the lid's.

In:    the flap's shape, where it lies.
Out:   outlines in card millimetres.
Fails: never.
"""

from __future__ import annotations

from circuit.layout import Point, Polyline
from circuit.switch.axes import Axes
from circuit.switch.flap import FlapShape


def foam_frame(shape: FlapShape, place: Axes) -> tuple[Polyline, Polyline, Polyline, Polyline]:
    """Free end, hinge side, and the two between them: the two across run the whole width, the others fit between."""
    half, inner = shape.half_mm, shape.inside_mm
    (_, far), (near, _) = shape.lid[-1], shape.lid[2]
    strips: tuple[Polyline, ...] = (
        ((-half, -half), (-inner, -half), (-inner, half), (-half, half)),
        ((inner, -half), (half, -half), (half, half), (inner, half)),
        ((-inner, -half), (inner, -half), (inner, -inner), (-inner, -inner)),
        ((-inner, inner), (inner, inner), (inner, half), (-inner, half)),
    )
    # Beyond a cut corner |u| + |v| is more than along the cut.
    cuts = (
        (-1.0, -1.0, half + far),
        (-1.0, 1.0, half + far),
        (1.0, -1.0, half + near),
        (1.0, 1.0, half + near),
    )
    cut = []
    for strip in strips:
        for u, v, most in cuts:
            strip = _cut_off(strip, u, v, most)
        cut.append(place.all(strip))
    return (cut[0], cut[1], cut[2], cut[3])


def _cut_off(ring: Polyline, u: float, v: float, most: float) -> Polyline:
    """The part of a convex outline where u * along + v * across is `most` at most."""
    kept: list[Point] = []
    for (ax, ay), (bx, by) in zip((ring[-1], *ring[:-1]), ring, strict=True):
        over_a, over_b = u * ax + v * ay - most, u * bx + v * by - most
        if over_a * over_b < 0:
            share = over_a / (over_a - over_b)
            kept.append((ax + share * (bx - ax), ay + share * (by - ay)))
        if over_b <= 0:
            kept.append((bx, by))
    return tuple(kept)
