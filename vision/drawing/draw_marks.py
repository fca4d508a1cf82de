"""The parts at true size: lights with their positive side, the cell, the switch; window, edge, moves.

In:    a pen, where the card lies, the marks, a look.
Out:   ink.
Fails: never; a light whose positive side is not known is a ring without signs.
"""

from __future__ import annotations

from circuit.joint import Joint
from circuit.layout import POLARITIES, Card, DrawnLine, Move, Point, Polyline
from circuit.part_kinds import LightPart
from circuit.polyline import middle_of
from circuit.settings import Settings
from circuit.switch import Switch
from vision.drawing.box import Placing
from vision.drawing.colours import (
    DOUBT,
    FAINT_INK,
    INK,
    MOVE,
    NEGATIVE,
    POSITIVE,
    WHITE,
    WINDOW,
    Colour,
)
from vision.drawing.draw_signs import draw_arrow, draw_cross, draw_minus, draw_plus, draw_polarity
from vision.drawing.look import ON_PHOTO, Look
from vision.drawing.pen import BOLD_MM, DOTS, HAIR_MM, LINE_MM, LONG_DASH, SHORT_DASH, Pen
from vision.drawing.shapes import body_corners, card_corners, circle_points, tape_pieces

UNCLEAR_MM = 3.5  # chosen: ring round a mark that is not taken for a light
_ON_FLAP_OPACITY = 0.22  # chosen: seen, and not taken for tape on the card
END_SHARE = 0.24  # chosen: each pad end of a body is marked over this share of its length
_SIGN_FITS_MM = 2.7  # chosen: a body less than this across on the sheet has no room for a legible sign
_LEAST_SIGN_MM = 0.9  # chosen: size of the smallest legible sign
_SIGN_IN_WIDTH = 0.55  # chosen: most of a body's width that a sign takes
_OUTLINE_SHARE = 0.07  # chosen: a small body's outline over its width, so that it is not all outline
_LEAST_OUTLINE_MM = 0.16  # chosen: a finer line is lost in print
_PRICK_MM, _PRICK_WIDE_MM, _PRICK_HOLE_MM = (
    2.0,
    0.15,
    0.3,
)  # chosen: arms, lines and hole of a cross to prick through
_MOVE_HEAD_MM, _MOVE_WIDE_MM, _MOVE_HALO_MM = 2.3, 0.55, 1.1  # chosen: a move's arrow


def draw_card_edge(pen: Pen, placing: Placing, card: Card, look: Look) -> None:
    """The card's outline."""
    look.stroke(pen, placing.along(card_corners(card)), look.edge, HAIR_MM, closed=True)


def draw_window(pen: Pen, placing: Placing, window: Polyline, look: Look) -> None:
    """The front card's window, dotted."""
    look.stroke(pen, placing.along(window), WINDOW, LINE_MM, dash=DOTS, closed=True)


def draw_drawn_line(pen: Pen, placing: Placing, line: DrawnLine, look: Look) -> None:
    """What the maker pencilled, as a thin line in its polarity's colour."""
    colour = {"positive": POSITIVE, "negative": NEGATIVE, None: INK}[line.polarity]
    dash = SHORT_DASH if line.polarity == "negative" else ()
    look.stroke(pen, placing.along(line.points), colour, LINE_MM, dash=dash)


def draw_light(
    pen: Pen,
    placing: Placing,
    centre: Point,
    part: LightPart,
    positive_deg: float | None,
    look: Look,
    *,
    sure: bool = True,
) -> None:
    """The body's outline, see-through in the middle where the pencil dot is, with its two pad ends."""
    if positive_deg is None:
        outline = circle_points(placing.at(centre), max(part.length_mm, part.width_mm) / 2 * placing.scale)
    else:
        outline = placing.along(body_corners(centre, part, positive_deg))
    across = min(part.length_mm, part.width_mm) * placing.scale
    wide = min(LINE_MM, max(_LEAST_OUTLINE_MM, _OUTLINE_SHARE * across))
    dash = () if sure and positive_deg is not None else SHORT_DASH
    look.washed(pen, outline)
    if look.halo:
        look.stroke(pen, outline, WHITE, wide, closed=True)
    if positive_deg is not None:
        _draw_ends(pen, placing, centre, part, positive_deg, look)
    pen.line(outline, INK if sure else DOUBT, wide, dash=dash, closed=True)


def _draw_ends(
    pen: Pen, placing: Placing, centre: Point, part: LightPart, positive_deg: float, look: Look
) -> None:
    inner = 1 - 2 * END_SHARE
    signs = look.signs_on_ends and min(part.length_mm, part.width_mm) * placing.scale >= _SIGN_FITS_MM
    size = min(part.length_mm * END_SHARE, _SIGN_IN_WIDTH * part.width_mm) * placing.scale
    for along, colour, draw_sign in (
        ((inner, 1.0), look.plus_end, draw_plus),
        ((-1.0, -inner), look.minus_end, draw_minus),
    ):
        if colour is None:
            continue
        end = placing.along(body_corners(centre, part, positive_deg, along))
        pen.shape([end], colour)
        if signs:
            draw_sign(pen, middle_of(end), max(size, _LEAST_SIGN_MM), WHITE)
    if look.signs_on_ends and not signs:
        # Too small a body for a sign in it: one beside its positive end instead.
        out = 1 + 2 * _LEAST_SIGN_MM / (part.length_mm * placing.scale)
        beside = placing.along(body_corners(centre, part, positive_deg, (out, out)))
        draw_polarity(pen, middle_of(beside), _LEAST_SIGN_MM, positive=True)


def draw_prick(pen: Pen, at: Point) -> None:
    """A cross to prick through at a light's centre."""
    draw_cross(pen, at, _PRICK_MM, _PRICK_WIDE_MM)
    pen.circle(at, _PRICK_HOLE_MM, INK, _PRICK_WIDE_MM, fill=WHITE)


def draw_cell(
    pen: Pen, placing: Placing, centre: Point, diameter_mm: float, look: Look, *, sure: bool = True
) -> None:
    """The cell at its true size."""
    ring = circle_points(placing.at(centre), diameter_mm / 2 * placing.scale)
    look.stroke(pen, ring, INK if sure else DOUBT, LINE_MM, dash=look.cell_dash)


def draw_zone(pen: Pen, placing: Placing, centre: Point, radius_mm: float) -> None:
    """Where neither lights nor tape may lie but for the two ends."""
    pen.circle(placing.at(centre), radius_mm * placing.scale, FAINT_INK, HAIR_MM, dash=DOTS)


def draw_frame(pen: Pen, placing: Placing, switch: Switch, look: Look) -> None:
    """The foam frame round the cell, on the card."""
    for strip in switch.foam_mm:
        look.tinted(pen, [placing.along(strip)])
    pen.line(placing.along(switch.opening_mm), FAINT_INK, HAIR_MM, dash=SHORT_DASH, closed=True)


def draw_cover(pen: Pen, placing: Placing, switch: Switch) -> None:
    """The clear tape over the negative tape, and the paper dot under it."""
    pen.line(placing.along(switch.cover_mm), INK, HAIR_MM, dash=DOTS, closed=True)
    pen.circle(placing.at(switch.centre), switch.dot_mm / 2 * placing.scale, FAINT_INK, HAIR_MM)


def draw_joint(pen: Pen, placing: Placing, joint: Joint, look: Look) -> None:
    """Where a branch's tapes lie on the lane's, each crossed out as a box is; and the clear tape under the crossing
    one."""
    look.stroke(pen, placing.along(joint.cover_mm), INK, HAIR_MM, dash=DOTS, closed=True)
    for polarity in POLARITIES:
        draw_contact(pen, placing.along(joint.contact_mm(polarity)), look)


def draw_contact(pen: Pen, corners: Polyline | list[Point], look: Look) -> None:
    """Tape on tape, copper on copper: its outline with both diagonals."""
    a, b, c, d = corners
    look.stroke(pen, corners, INK, LINE_MM, closed=True)
    for line in ((a, c), (b, d)):
        pen.line(line, INK, LINE_MM)


def draw_flap(pen: Pen, placing: Placing, switch: Switch, tape_mm: float, look: Look) -> None:
    """The flap over what lies on the card, and on it the positive tape: thin and broken, since it is not the card's."""
    look.washed(pen, placing.along(switch.outline_mm))
    look.tinted(pen, [placing.along(switch.tab_mm)])
    tape = [placing.along(piece) for piece in tape_pieces(switch.over_mm, tape_mm)]
    pen.shape(tape, POSITIVE, _ON_FLAP_OPACITY)
    for piece in tape:
        pen.line(piece, POSITIVE, LINE_MM, dash=SHORT_DASH, closed=True)
    pen.line(placing.along(switch.outline_mm), INK, HAIR_MM, dash=SHORT_DASH, closed=True)
    for line in (switch.hinge_mm, (switch.tab_mm[0], switch.tab_mm[3])):  # where the ramp begins and ends
        pen.line(placing.along(line), INK, HAIR_MM, dash=LONG_DASH)


def draw_unclear(pen: Pen, placing: Placing, where_mm: Point, colour: Colour) -> None:
    """A broken ring, on a photo, round something that is not taken for a light."""
    ring = circle_points(placing.at(where_mm), UNCLEAR_MM * placing.scale)
    ON_PHOTO.stroke(pen, ring, colour, LINE_MM, dash=SHORT_DASH)


def draw_move(pen: Pen, placing: Placing, move: Move, settings: Settings, positive_deg: float | None) -> None:
    """On a photo, the mark's ghost at its new place, and an arrow to it from the old one."""
    if move.about == "battery":
        ghost = circle_points(placing.at(move.to_mm), settings.cell.diameter_mm / 2 * placing.scale)
    else:
        ghost = placing.along(body_corners(move.to_mm, settings.light, positive_deg or 0.0))
    ON_PHOTO.stroke(pen, ghost, MOVE, BOLD_MM, dash=SHORT_DASH, closed=True)
    a, b = placing.at(move.from_mm), placing.at(move.to_mm)
    pen.line([a, b], WHITE, _MOVE_HALO_MM, opacity=ON_PHOTO.halo)
    draw_arrow(pen, a, b, MOVE, _MOVE_WIDE_MM, _MOVE_HEAD_MM)
