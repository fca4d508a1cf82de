"""Which outlines to try with which squares, from the cheapest on.

In:    a photo as it was taken in, and the squares seen in it.
Out:   outlines with the squares that may belong to them: what a first look sees, what long lines bound, then more
       squares and fainter lines.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from vision.reading.card.find_card import outline_searches, quad_of_outline, snapped
from vision.reading.card.outline import Outline
from vision.reading.card.quads import LEAST_SCORE, Quad
from vision.reading.four_corners import corners_apart
from vision.reading.placing.candidate import Candidate
from vision.reading.sight import Sight
from vision.reading.square.find_squares import search_squares
from vision.reading.square.square_edges import SquareSeen, alike

SURE_LOOK = 0.95  # see `Outline.borne_out`: other lines could only fit by chance
BEST_OF_A_SEARCH = 3  # outlines of one search that are tried
# Small px by which a corner of one outline laid twice may differ; chosen. Lines that found the card that stood lay 1.3
# to 2.6 off on six of 360 simulated photos.
SAME_OUTLINE_PX = 4.0

Try = tuple[Quad, list[SquareSeen]]


def tries(
    sight: Sight,
    squares: list[SquareSeen],
    so_far: Callable[[], Candidate | None],
) -> Iterator[Try]:
    """Each outline with the squares that may belong to it. so_far : the best that came of the tries before, bent
    if need be, if it ends at all its edges; what it leaves no room for is not tried."""
    sheet = sight.sheet
    tried: list[Quad] = []
    by_look = None if sheet is None or sheet.cut_off else quad_of_outline(sight.first_look, sheet)
    if by_look is not None:
        tried.append(by_look)
        yield by_look, squares
        nearer = snapped(sight, by_look)
        if nearer is not None:
            tried.append(nearer)
            yield nearer, squares
    if sheet is not None and by_look is not None and sheet.borne_out > SURE_LOOK:
        yield from _with_others(sight, tried[:1], squares, so_far)
        return
    yield from _by_lines(sight, squares, tried, so_far)
    best = so_far()
    whole = best is not None and best.is_seen_along_whole_edges
    if sheet is not None and sheet.cut_off and not whole:  # a card that only just fits into the picture
        yield quad_of_outline(sight.first_look, sheet), squares


def _by_lines(
    sight: Sight,
    squares: list[SquareSeen],
    tried: list[Quad],
    so_far: Callable[[], Candidate | None],
) -> Iterator[Try]:
    others: list[SquareSeen] | None = None
    for quads in outline_searches(sight.small, BEST_OF_A_SEARCH):
        for quad in quads:
            new = all(corners_apart(quad.corners, other.corners) > SAME_OUTLINE_PX for other in tried)
            if quad.score > LEAST_SCORE and new:
                tried.append(quad)
                yield quad, squares + (others or [])
        best = so_far()
        if best is not None and (best.is_seen_along_whole_edges or _bear_out(sight, quads, best)):
            return
        if others is None:  # after the plainest lines: an outline was wrong more often than a square
            others = []
            for quad, some in _with_others(sight, tried, squares, so_far):
                others = some
                yield quad, some


def _with_others(
    sight: Sight, tried: Sequence[Quad], squares: list[SquareSeen], so_far: Callable[[], Candidate | None]
) -> Iterator[Try]:
    """The outlines tried before with squares elsewhere, unless a code was seen or one of `squares` made a card of a
    known size: then that one is the reference."""
    best = so_far()
    if any(square.kind == "coded" for square in squares) or (best is not None and best.is_known_card):
        return
    others = _elsewhere(search_squares(sight, some_known=True), squares)
    if others:
        yield from [(quad, others) for quad in tried]


def _bear_out(sight: Sight, quads: list[Quad], best: Candidate) -> bool:
    """Whether the likeliest outline of a search lies where a card of a known size was seen first, or measured: long
    lines, square and size agree, and leave fainter lines to something else."""
    places = (best.quad.corners, sight.small.to_small(best.corners_px))
    return best.is_known_card and any(
        corners_apart(quad.corners, laid) < SAME_OUTLINE_PX for quad in quads[:1] for laid in places
    )


def _elsewhere(found: list[SquareSeen], known: list[SquareSeen]) -> list[SquareSeen]:
    """Those that lie elsewhere than any known one."""
    return [one for one in found if not any(alike(one.corners, other.corners) for other in known)]


def is_the_cut_off_sheet(sight: Sight, quad: Quad) -> bool:
    """Whether an outline is the first look's own, of a sheet that goes on beyond the picture."""
    sheet: Outline | None = sight.sheet
    if sheet is None or not sheet.cut_off:
        return False
    return corners_apart(quad.corners, sight.first_look.to_small(sheet.corners)) < SAME_OUTLINE_PX
