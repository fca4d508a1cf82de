"""Where a sheet itself ends, rather than its shadow: by its colour.

A sheet lies on a rim of its own shadow, whose far side can be the greater step of light. But where the paper's own
colour first changes is its edge, and in colour a rim of shadow is table, however dark it is.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vision.arrays import Floats, RgbImage
from vision.reading.colours import apart_from
from vision.reading.edges.curve import MOST_AGAINST, MOST_FOR, SMOOTH_SAMPLES, TYPICAL_SHARE, lay_curve
from vision.reading.edges.profiles import EdgePoints, read_at, sample, slopes
from vision.reading.middle import median, quantile
from vision.reading.ratio import over

# Measured on 6,500 edges: colours nearer to each other than this (sine of the angle between them) tell too little.
LEAST_SINE = 0.08

CODED_POWER = 0.45  # back to about the coded values, in which a grey shadow beside brown card still shows
INNER_SHARE = 0.3  # slope of an inner edge over the outer one's from which it is the paper's own
INNER_NOISE = 3.0  # and over the slopes of the paper's grain
INNER_GAP_PX = 2.0  # how far inside it must lie
BESIDE_PX = 2.5  # from an edge, where the colour to either side of it is taken; chosen, beyond most blur
TABLE_SHARE = 3  # an outer third of the profiles is table, an inner third sheet, whatever the edge's place
# What lies so far within the outer edge and is, beyond it, so near the sheet's own colour is a pencil line.
LINE_GAP_PX, LINE_SHARE, LINE_SINE = 5.0, 0.5, 0.04

MIX_OFFSETS = np.arange(-1.6, 0.721, 0.04)  # from well inside the sheet to well outside, in reaches
ALL_SHEET, ALL_TABLE = slice(2, 11), slice(-11, None)  # of them, where nothing else is taken to be seen
MIX_PARTS, LEAST_PARTS = 6, 4  # stretches of an edge that are measured each for itself, and must be known
MOST_LEFT = 0.3  # of a share, by which sheet and table may be off what they are farther away
AROUND_END = 6  # samples to both sides of the end, within which blur mixes the two
DIM_LIGHT = 0.04  # of linear light, in which the noise no longer falls with the light; chosen


def inner_edge(
    profiles: Floats, offsets: Floats, outer: Floats, bow_px: float
) -> tuple[Floats, Floats] | None:
    """The edge of the sheet itself where what was laid first is the far side of its shadow: the curve and
    the (3,) colour direction there; None when there is no such inner edge."""
    coded = np.clip(profiles, 0, 1) ** CODED_POWER
    steep = np.sqrt(sum(slopes(coded[..., channel], SMOOTH_SAMPLES) ** 2 for channel in range(3)))
    third = max(4, len(offsets) // TABLE_SHARE)
    noise = float(median(steep[:, 2:third].ravel()))
    inside = np.where(offsets[None, :] < outer[:, None] - INNER_GAP_PX, steep, 0.0)
    typical = quantile(inside.max(axis=1), TYPICAL_SHARE)
    if typical <= 0:
        return None
    curve = lay_curve(np.clip((inside - noise) / typical, MOST_AGAINST, MOST_FOR), offsets, bow_px)
    force = float(median(read_at(inside, offsets, curve)))
    outer_force = float(median(read_at(steep, offsets, outer)))
    if force < INNER_SHARE * outer_force or force < INNER_NOISE * noise:
        return None

    def light_at(where: Floats) -> Floats:
        return median(read_at(profiles, offsets, where), axis=0)

    sheet, between, beyond = (
        light_at(where) for where in (curve - BESIDE_PX, (curve + outer) / 2, outer + BESIDE_PX)
    )
    if (
        median(outer - curve) > LINE_GAP_PX
        and np.linalg.norm(between - sheet) < LINE_SHARE * np.linalg.norm(between - beyond)
        and _sine(between, sheet) < LINE_SINE
    ):
        return None  # a pencil line along the edge: beyond it the sheet goes on
    step = sheet - light_at(curve + BESIDE_PX)
    table = median(profiles[:, -third:].reshape(-1, 3), axis=0)
    # Across the table's own colour its shade is not seen, whose far side would be a second step.
    colour = apart_from(step, table)
    if np.linalg.norm(colour) > LEAST_SINE * np.linalg.norm(sheet):
        step = colour
    if not np.any(step):
        return None
    return curve, step / np.linalg.norm(step)


def at_the_sheets_end(pixels: RgbImage, edge: EdgePoints, reach_px: float) -> EdgePoints:
    """The edge moved to where the sheet's own colour ends, where sheet and table differ in colour.

    The steepest place can be the far side of the sheet's shadow, or be drawn towards it: brown card on a light
    table ends in a rim of grey that is nearer to the card in brightness. Measured: a third of the edges' error
    goes.
    """
    offsets = MIX_OFFSETS * reach_px
    light = sample(pixels, edge.course, offsets)
    parts = np.array_split(np.arange(len(light)), MIX_PARTS)
    ends = np.array([_end_of_sheet(median(light[part], axis=0), offsets) for part in parts])
    known = np.isfinite(ends)
    if known.sum() < LEAST_PARTS:
        return edge
    middles = np.array([part.mean() for part in parts])
    if known.sum() < MIX_PARTS:
        line = np.polynomial.polynomial.polyfit(middles[known], ends[known], 1)
        ends = np.where(known, ends, np.polynomial.polynomial.polyval(middles, line))
    shift = np.interp(np.arange(len(light)), middles, ends)
    return replace(edge, points=edge.points + shift[:, None] * edge.outward)


def _end_of_sheet(profile: Floats, offsets: Floats) -> float:
    """Where a (N, 3) profile of linear light goes from mostly sheet to mostly table; nan where that can't be told.

    Light is taken for so much of the sheet's colour and so much of the table's. Shade on the table lowers the
    table's part and leaves the sheet's, so a rim of shadow counts for table however dark it is.
    """
    colours = np.column_stack([median(profile[part], axis=0) for part in (ALL_SHEET, ALL_TABLE)])
    weight = 2 / (colours.sum(axis=1) + DIM_LIGHT)  # noise grows with the light
    weighted = colours * weight[:, None]
    if _sine(weighted[:, 0], weighted[:, 1]) < LEAST_SINE:
        return float("nan")
    sheet = (np.linalg.pinv(weighted) @ (profile * weight).T)[0]
    first = int(np.argmax(sheet < 0.5))
    if first == 0:
        return float("nan")
    step = float(offsets[1] - offsets[0])
    end = float(offsets[first - 1]) + step * float(
        (sheet[first - 1] - 0.5) / (sheet[first - 1] - sheet[first])
    )
    ideal = np.where(offsets < end, 1.0, 0.0)
    beyond = np.abs(offsets - end) > AROUND_END * step
    return end if np.abs(sheet - ideal)[beyond].max() < MOST_LEFT else float("nan")


def _sine(first: Floats, second: Floats) -> float:
    """Of the angle between two (3,) colours: how unlike they are, however bright."""
    (a, b, c), (d, e, f) = first, second
    across = np.sqrt((b * f - c * e) ** 2 + (c * d - a * f) ** 2 + (a * e - b * d) ** 2)
    return float(over(float(across), float(np.linalg.norm(first) * np.linalg.norm(second))))
