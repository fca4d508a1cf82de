"""The dice: which card, square, table, lamp and phone, and what is wrong in a photo to refuse.

All chances and ranges of the simulator that are not a module's own business stand here; they are
chosen, from what phones and kitchen tables are like.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from tests.benchmarks.photo_simulator.edges import span_along
from tests.benchmarks.photo_simulator.light import Lighting
from tests.benchmarks.photo_simulator.table_tops import NEAR_WHITE, TABLES
from tests.card_kit.camera import Sheet
from tests.card_kit.outlines import Points, square_about

Rgb = tuple[float, float, float]
TIERS = {"A": 0.34, "B": 0.38, "C": 0.28}
REFUSALS = (
    "no square",
    "square cut by the frame",
    "card cut by the frame",
    "no battery circle",
    "two battery circles",
    "no dots",
    "too blurred",
    "too dark",
    "square and card disagree",
)
# ANSI and ISO 216 sizes as cards are made of them, and the 5 x 7 in of photo shops; the chances are chosen.
CARDS = (
    ("quarter-letter", 107.95, 139.7, 0.45),
    ("a6", 105.0, 148.0, 0.25),
    ("5x7", 127.0, 177.8, 0.22),
    ("a5", 148.0, 210.0, 0.08),
)
PAPERS: dict[str, Rgb] = {  # linear light
    "white": (0.82, 0.82, 0.81),
    "bright white": (0.86, 0.87, 0.89),
    "cream": (0.80, 0.73, 0.58),
    "ivory": (0.82, 0.79, 0.70),
    "kraft": (0.40, 0.26, 0.14),
    "mint": (0.60, 0.78, 0.64),
    "peach": (0.83, 0.60, 0.44),
    "sky": (0.52, 0.68, 0.82),
    "rose": (0.80, 0.55, 0.60),
    "butter": (0.82, 0.74, 0.40),
    "lilac": (0.64, 0.58, 0.78),
    "pale grey": (0.60, 0.60, 0.60),
}
_PAPER_CHANCES = (0.3, 0.08, 0.1, 0.06, 0.12, 0.05, 0.05, 0.05, 0.05, 0.04, 0.05, 0.05)
# What a pencil takes of red, green and blue light, of what graphite takes: all of it, or as coloured leads and pens do.
GREY_LEAD: Rgb = (1.0, 1.0, 1.0)
COLOURED_LEADS: dict[str, Rgb] = {
    "blue": (0.95, 0.75, 0.3),
    "red": (0.25, 0.95, 0.9),
    "green": (0.9, 0.45, 0.8),
    "violet": (0.6, 0.95, 0.45),
    "brown": (0.55, 0.8, 0.95),
    "orange": (0.15, 0.65, 1.0),
}
LEADS_VARY = 0.1
DARK_PAPERS: tuple[Rgb, ...] = (
    (0.025, 0.025, 0.027),
    (0.03, 0.035, 0.07),
    (0.06, 0.035, 0.025),
    (0.02, 0.04, 0.03),
)
TOO_DARK_FOR_PLAIN = ("black desk",)  # tables on which a dark paper square does not show
CODED_SIDES = (20, 25, 30, 35, 40)
SHRUNK_PRINT = 0.94
SMALL_PX, LARGE_PX = (2016, 1512), (4032, 3024)  # 3 and 12 megapixels
LARGE_SHARE = 0.05
SHRINK_TO_PX, SHRUNK_SHARE = 1600, 0.13  # what a messaging service leaves of a small one


@dataclass(frozen=True, slots=True)
class CardSpec:
    """`corners_mm`: the cut card, clockwise from the top-left one at (0, 0), its top edge along x.
    `wander_mm`: (4, N) how far each side lies outside the straight line between its corners, all along it."""

    size: str
    nominal_mm: tuple[float, float]
    corners_mm: Points
    paper: str
    tooth: str
    darkest: float
    by_hand: bool = False
    lead: Rgb = GREY_LEAD  # what the pencil takes of red, green and blue light, of what graphite takes
    wander_mm: Points = field(default_factory=lambda: np.zeros((4, 2)))

    def rim_mm(self, pieces: int = 24) -> Points:
        """(4 * pieces, 2) places along the cut, clockwise from the first corner."""
        sides = []
        for k, off in enumerate(self.wander_mm):
            start, end = self.corners_mm[k], self.corners_mm[(k + 1) % 4]
            x, y = (end - start) / np.linalg.norm(end - start)
            t = np.arange(pieces) / pieces
            out = np.interp(t, np.linspace(0, 1, len(off)), off)
            sides.append(start + t[:, None] * (end - start) + out[:, None] * np.array([y, -x]))
        return np.vstack(sides)


@dataclass(frozen=True, slots=True)
class SquareSpec:
    """`side_mm` is what it claims; `true_side_mm` what it has. Clockwise turn of its own top edge."""

    coded: bool
    side_mm: float
    true_side_mm: float
    centre_mm: Points
    turn_deg: float
    on_card: bool
    border: float
    colour: Rgb

    @property
    def corners_mm(self) -> Points:
        """(4, 2) of the black, clockwise from its own first corner."""
        return self._around(self.true_side_mm / 2)

    @property
    def paper_mm(self) -> Points:
        """(4, 2) of the paper it is printed on; the black itself when plain."""
        return self._around(self.true_side_mm / 2 * self.border)

    def _around(self, half: float) -> Points:
        return square_about(self.centre_mm, half, self.turn_deg)


def coloured_lead(rng: np.random.Generator) -> Rgb:
    """Of one of the coloured leads, each box's own a little different."""
    usual = COLOURED_LEADS[str(rng.choice(list(COLOURED_LEADS)))]
    red, green, blue = np.clip(usual + rng.uniform(-LEADS_VARY, LEADS_VARY, 3), 0.0, 1.0).tolist()
    return red, green, blue


def card_of_chance(rng: np.random.Generator, refuse: str | None) -> CardSpec:
    chances = [c[3] for c in CARDS]
    size, short, long, _ = CARDS[int(rng.choice(len(CARDS), p=chances))]
    w, h = (short, long) if rng.random() < 0.62 else (long, short)
    by_hand = rng.random() < 0.6 and refuse != "square and card disagree"
    off = 0.5 if by_hand else 0.08
    a, b = rng.uniform(-off, off, 2)
    s1, s2, c = rng.uniform(-off, off, 3) * 0.6
    corners = np.array([(0, 0), (w + a, 0), (w + a + s2, h + b + c), (s1, h + b)])
    paper = str(rng.choice(list(PAPERS), p=_PAPER_CHANCES))
    tooth = (
        "rough"
        if paper == "kraft"
        else str(rng.choice(("smooth", "drawing", "laid", "rough"), p=(0.45, 0.3, 0.15, 0.1)))
    )
    # The graphite itself gives back about 0.07 of the light (soft lead) to 0.14 (hard).
    darkest = rng.uniform(0.065, 0.14) / (sum(PAPERS[paper]) / 3)
    return CardSpec(size, (w, h), corners, paper, tooth, float(darkest), bool(by_hand))


def square_of_chance(
    rng: np.random.Generator, card: CardSpec, refuse: str | None, on_card: bool | None
) -> SquareSpec | None:
    if refuse == "no square":
        return None
    coded = rng.random() < 0.6 or refuse == "square and card disagree"
    lies_on = (rng.random() < 0.3) if on_card is None else on_card
    lies_on = lies_on and refuse not in ("square cut by the frame", "two battery circles")
    side = float(rng.choice(CODED_SIDES)) if coded else 25.4
    if lies_on and coded:
        side = float(rng.choice(CODED_SIDES[:3]))
    scale = 1 + rng.normal(0, 0.0012) if coded else 1 + rng.normal(0, 0.002)  # printers; punches
    if refuse == "square and card disagree":
        scale = SHRUNK_PRINT
    true_side = side * scale
    # One cell of white or more: the code is six cells across.
    border = 1 + 2 * rng.uniform(1.05, 1.8) / 6 if coded else 1.0
    reach = true_side / 2 * border * 1.42
    w, h = card.nominal_mm
    turn = float(rng.choice((0, 90, 180, 270)) + rng.normal(0, 9))
    if lies_on:
        centre = rng.uniform((reach + 1, reach + 1), (w - reach - 1, h - reach - 1))
    else:
        gap = rng.uniform(3, 16)
        side_of = rng.choice(("left", "right", "above", "below"))
        along_x, along_y = rng.uniform(0.1, 0.9) * w, rng.uniform(0.1, 0.9) * h
        centre = {
            "left": np.array([-reach - gap, along_y]),
            "right": np.array([w + reach + gap, along_y]),
            "above": np.array([along_x, -reach - gap]),
            "below": np.array([along_x, h + reach + gap]),
        }[str(side_of)]
    colour = (0.03, 0.03, 0.032) if coded else DARK_PAPERS[int(rng.choice(4, p=(0.7, 0.1, 0.1, 0.1)))]
    return SquareSpec(coded, side, float(true_side), centre, turn, bool(lies_on), float(border), colour)


def sheet_of_chance(
    rng: np.random.Generator, card: CardSpec, curl: float | None, bend: str | None = None
) -> tuple[Sheet, float]:
    """The card's stock, and how far its highest point stands off the table. bend : see `Sheet.bent`, or "corners", two
    opposite ones that rise, each about its diagonal; None for one of the dice's, an end or an arch."""
    thickness = float(rng.uniform(0.22, 0.36))
    lift = curl if curl is not None else (float(rng.uniform(0.4, 4.0)) if rng.random() < 0.25 else 0.0)
    if lift <= 0:
        return Sheet(thickness), 0.0
    of_dice = str(rng.choice(("end", "arch"), p=(0.65, 0.35)))
    way = bend or of_dice
    direction = float(
        rng.choice((0, 90, 180, 270)) + (rng.normal(0, 18) if way == "end" else rng.normal(0, 3))
    )
    if way == "corners":
        width, height = np.ptp(card.corners_mm, axis=0)
        diagonal, quarter = float(np.degrees(np.arctan2(height, width))), round(direction / 90)
        direction, way = direction - 90 * quarter + (-1) ** quarter * diagonal, "ends"
    low, high = span_along(card.corners_mm, direction)
    start = low + rng.uniform(0.25, 0.7) * (high - low)
    return Sheet.bent(thickness, direction, (low, high), start, lift, way), lift


def table_of_chance(rng: np.random.Generator) -> str:
    """Near-white tables twice as often as others: they are hard, and common."""
    kinds = list(TABLES)
    weights = np.array([2.0 if k in NEAR_WHITE else 1.0 for k in kinds])
    return str(rng.choice(kinds, p=weights / weights.sum()))


def lighting_of_chance(rng: np.random.Generator) -> Lighting:
    return Lighting.of_chance(rng)


def roll_of_chance(rng: np.random.Generator) -> float:
    way = rng.random()
    if way < 0.6:
        return float(rng.normal(0, 7))
    if way < 0.87:
        return float(rng.choice((-90, 90, 180)) + rng.normal(0, 7))
    return float(rng.uniform(-180, 180))


def resolution_of_chance(rng: np.random.Generator, large_share: float) -> tuple[int, int]:
    """Width and height of the picture as taken, upright a little more often than across."""
    long, short = LARGE_PX if rng.random() < large_share else SMALL_PX
    return (short, long) if rng.random() < 0.55 else (long, short)
