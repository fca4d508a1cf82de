"""Compare one reading with the truth beside its photo: pure geometry, no files, no pictures.

In:    a truth as the files beside the photos hold it (see `photo_simulator/truth.py`) and what was read.
Out:   a `Score` of plain values, for tables and JSON.

The truth's frame is the card upright as its maker drew it; a reading's has its top nearest the
picture's top. So the truth is turned to each of the four sides in turn and the best fit counts.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import pairwise
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy.optimize import linear_sum_assignment
from shapely.geometry import LineString, Polygon

from circuit.layout import Layout, Reading

Points = NDArray[np.float64]
Truth = Mapping[str, Any]

PAIR_MM = 2.5  # chosen: farther apart, a mark read and a true one are two different marks
RIGHT_MM = 1.0  # the project's aim: a light or battery farther off than this is wrong
RIGHT_DIAMETER_MM = 1.5  # the project's aim for the battery circle
RIGHT_IOU = 0.95  # the project's aim for a window
LINE_MM = 1.0  # chosen: a drawn line is right where it stays this near the true one ...
LINE_SHARE = 0.9  # ... along this share of its length, both ways
NEAR_SQUARE_MM = 90.0  # chosen: about half of all marks lie nearer the square's middle than this

RIGHT_CAUSES: Mapping[str, tuple[str, ...]] = {
    "no square": ("no-square",),
    "square cut by the frame": ("square-cut-off", "no-square"),
    "card cut by the frame": ("card-cut-off", "no-card"),
    "no battery circle": ("no-battery",),
    "two battery circles": ("two-batteries",),
    "no dots": ("no-dots",),
    "too blurred": ("too-blurred",),
    "too dark": ("too-dark",),
    "square and card disagree": ("square-card-disagree",),
}

Mark = tuple[float, float, bool]  # error [mm], stated 95 % bound [mm], near the square?


@dataclass(slots=True)
class Score:
    """How one photo fared. `outcome`: "read" (said to be sure), "doubt", "refused" or "crash"; `cause`
    the refusal's stable word. None or empty where there is nothing to compare. `seconds` are the wall
    clock's for opening and reading, `cpu_seconds` the processor's, `decode_seconds` the processor's for
    opening the same file with Pillow, upright, as an array."""

    photo: str
    tier: str
    expect: str
    reason: str | None
    conditions: dict[str, str]
    true_lights: int = 0
    outcome: str = "crash"
    cause: str | None = None
    says: list[str] = field(default_factory=list)
    missed: int = 0
    extra: int = 0
    off: int = 0
    lights: list[Mark] = field(default_factory=list)
    battery: Mark | None = None
    diameter: tuple[float, float] | None = None
    battery_right: bool = False
    window: str | None = None
    window_iou: float | None = None
    lines: str | None = None
    seconds: float = 0.0
    cpu_seconds: float = 0.0
    decode_seconds: float = 0.0
    detail: list[str] = field(default_factory=list)

    @property
    def perfect(self) -> bool:
        """All lights and the battery there, nothing invented, all within a millimetre."""
        wrong = self.missed or self.extra or self.off or not self.battery_right
        return self.expect == "read" and self.outcome in ("read", "doubt") and not wrong

    @property
    def silent_wrong(self) -> bool:
        """Said to be sure and is not right: the worst that can happen."""
        return self.outcome == "read" and not self.perfect

    @property
    def refused_rightly(self) -> bool:
        return self.expect == "refuse" and self.outcome in ("refused", "doubt")

    @property
    def cause_right(self) -> bool:
        return self.expect == "refuse" and self.cause in RIGHT_CAUSES.get(self.reason or "", ())


def start(truth: Truth) -> Score:
    """An empty score that knows the photo and its conditions."""
    return Score(
        photo=truth["photo"],
        tier=truth["tier"],
        expect=truth["expect"],
        reason=truth.get("reason"),
        conditions=conditions_of(truth),
        true_lights=len(truth["lights"]),
    )


NOT_TOLD = "not told"  # of a condition that a truth file, a real photo's mostly, says nothing about


def conditions_of(truth: Truth) -> dict[str, str]:
    """The photo's circumstances as words, for tables by condition."""
    parts: dict[str, Truth] = {key: truth.get(key) or {} for key in ("scene", "camera", "image", "card")}
    scene, camera, image, card = parts["scene"], parts["camera"], parts["image"], parts["card"]
    square = truth["square"]
    long = max(image["width"], image["height"])
    where = {True: "on card", False: "beside"}.get(scene.get("square_on_card"), "")
    glare, curl, k1 = scene.get("glare"), truth.get("curl_mm"), camera.get("k1")
    return {
        "table": str(scene.get("table", NOT_TOLD)),
        "light": str(scene.get("light", NOT_TOLD)),
        "shadow": str(scene.get("shadow", NOT_TOLD)),
        "glare": NOT_TOLD if glare is None else "yes" if glare else "no",
        "card": str(card.get("colour", NOT_TOLD)),
        "tilt": band(camera.get("tilt_deg"), (8, 16, 24), "deg"),
        "lens |k1|": band(None if k1 is None else abs(k1), (0.015, 0.04), ""),
        "curl": "flat" if curl == 0 else band(curl, (1, 2), "mm"),
        "bow": band(max(card["edge_bow_mm"]) if "edge_bow_mm" in card else None, (0.15, 0.3), "mm"),
        "blur": str(scene.get("blur", NOT_TOLD)),
        "picture": "12 MP" if long > 3000 else "3 MP" if long > 1600 else "1600 px",
        "square": f"{square['kind']} {where}".strip() if square else "none",
        "jpeg quality": band(image["jpeg_quality"], (70, 80, 90), ""),
    }


def band(value: float | None, limits: Sequence[float], unit: str) -> str:
    """Which band a number falls in, as words: "8-16 deg"."""
    if value is None:
        return NOT_TOLD
    if value < limits[0]:
        return f"below {limits[0]:g} {unit}".rstrip()
    for low, high in pairwise(limits):
        if value < high:
            return f"{low:g} to {high:g} {unit}".rstrip()
    return f"over {limits[-1]:g} {unit}".rstrip()


def card_corners(truth: Truth) -> Points:
    """(4, 2) corners of the true card in its own frame; a plain rectangle where they aren't told."""
    card = truth["card"]
    w, h = card["width_mm"], card["height_mm"]
    return np.asarray(card.get("corners_mm") or [(0, 0), (w, 0), (w, h), (0, h)], dtype=np.float64)


def turned(points: Points, corners: Points, side: int) -> Points:
    """`points` in the frame whose origin is corner `side` and whose x runs to the next corner."""
    origin, toward = corners[side], corners[(side + 1) % 4]
    along = (toward - origin) / np.linalg.norm(toward - origin)
    off = np.asarray(points, dtype=np.float64).reshape(-1, 2) - origin
    return np.column_stack([off @ along, off @ np.array([-along[1], along[0]])])


def pair(true: Points, read: Points) -> list[tuple[int, int, float]]:
    """The best one-to-one pairing no farther apart than `PAIR_MM`: (true, read, distance)."""
    if len(true) == 0 or len(read) == 0:
        return []
    apart = np.linalg.norm(true[:, None] - read[None, :], axis=2)
    rows, columns = linear_sum_assignment(np.minimum(apart, PAIR_MM * 2))
    pairs = [(int(i), int(j), float(apart[i, j])) for i, j in zip(rows, columns, strict=True)]
    return [found for found in pairs if found[2] <= PAIR_MM]


def compare(score: Score, truth: Truth, layout: Layout, reading: Reading) -> None:
    """Fill in `score` from what was read."""
    score.outcome = "read" if reading.sure else "doubt"
    score.says = [doubt.says.key for doubt in reading.doubts]
    corners = card_corners(truth)
    true = _places(truth["lights"])
    read = np.array([light.centre for light in layout.lights], dtype=np.float64).reshape(-1, 2)
    side = _best_side(truth, corners, true, read, layout)
    here = turned(true, corners, side)
    near = _near_square(truth)
    words = _place_words(truth, corners, side)
    pairs = pair(here, read)
    score.missed, score.extra = len(true) - len(pairs), len(read) - len(pairs)
    for i, j, apart in pairs:
        score.lights.append((apart, layout.lights[j].uncertainty_mm, near(true[i])))
        if apart > RIGHT_MM:
            score.off += 1
            score.detail.append(f"a light {apart:.2f} mm off at {words(read[j])}")
    score.detail += [f"missed a light at {words(here[i])}" for i in _left(len(true), [p[0] for p in pairs])]
    score.detail += [f"invented a light at {words(read[j])}" for j in _left(len(read), [p[1] for p in pairs])]
    _compare_battery(score, truth, corners, side, layout, near)
    _compare_window(score, truth, corners, side, layout)
    _compare_lines(score, truth, corners, side, layout)


def _places(marks: Sequence[Mapping[str, float]]) -> Points:
    return np.array([(m["x_mm"], m["y_mm"]) for m in marks], dtype=np.float64).reshape(-1, 2)


def _place_words(truth: Truth, corners: Points, side: int) -> Callable[[Points], str]:
    """Says where a point of the reading's frame is: in millimetres and, for looking at it, in pixels
    (by the true corners alone, so a few pixels off on a bent card or through a bent lens)."""
    seen = np.asarray(truth["card"]["corners_px"], dtype=np.float32)
    there = cv2.getPerspectiveTransform(turned(corners, corners, side).astype(np.float32), seen)

    def words(point: Points) -> str:
        u, v, w = there @ np.array([point[0], point[1], 1.0])
        return f"({point[0]:.1f}, {point[1]:.1f}) mm, px ({u / w:.0f}, {v / w:.0f})"

    return words


def _left(count: int, taken: Sequence[int]) -> list[int]:
    return sorted(set(range(count)) - set(taken))


def _best_side(truth: Truth, corners: Points, true: Points, read: Points, layout: Layout) -> int:
    costs = []
    for side in range(4):
        pairs = pair(turned(true, corners, side), read)
        cost = sum(p[2] for p in pairs) + PAIR_MM * (len(true) + len(read) - 2 * len(pairs))
        if truth["battery"] and layout.battery:
            ring = turned(_places([truth["battery"]]), corners, side)[0]
            cost += min(math.dist(ring, layout.battery.centre), 4 * PAIR_MM)
        costs.append(cost)
    return int(np.argmin(costs))


def _near_square(truth: Truth) -> Callable[[Points], bool]:
    """A test of true card points: nearer the square's middle than `NEAR_SQUARE_MM`?"""
    if not truth["square"]:
        return lambda point: False
    seen = np.asarray(truth["card"]["corners_px"], dtype=np.float32)
    back = cv2.getPerspectiveTransform(seen, card_corners(truth).astype(np.float32))
    middle = np.asarray(truth["square"]["corners_px"], dtype=np.float64).mean(axis=0)
    there = back @ np.array([middle[0], middle[1], 1.0])
    centre = there[:2] / there[2]
    return lambda point: bool(np.linalg.norm(point - centre) < NEAR_SQUARE_MM)


def _compare_battery(
    score: Score, truth: Truth, corners: Points, side: int, layout: Layout, near: Callable[[Points], bool]
) -> None:
    ring, seen = truth["battery"], layout.battery
    if ring is None or seen is None:
        score.battery_right = ring is None and seen is None
        if not score.battery_right:
            score.detail.append("no battery circle read" if seen is None else "invented a battery circle")
        return
    place = _places([ring])
    apart = math.dist(turned(place, corners, side)[0], seen.centre)
    too_wide = seen.diameter_mm - ring["diameter_mm"]
    score.battery_right = apart <= RIGHT_MM and abs(too_wide) <= RIGHT_DIAMETER_MM
    if apart <= 4 * PAIR_MM:
        score.battery = (apart, seen.uncertainty_mm, near(place[0]))
        score.diameter = (too_wide, seen.diameter_uncertainty_mm)
    if not score.battery_right:
        score.detail.append(f"battery {apart:.2f} mm off, diameter {too_wide:+.2f} mm")


def _compare_window(score: Score, truth: Truth, corners: Points, side: int, layout: Layout) -> None:
    if truth["window"] is None:
        score.window = "invented" if layout.window else None
    elif layout.window is None:
        score.window = "missed"
    else:
        outline = turned(np.asarray(truth["window"], dtype=np.float64), corners, side)
        true, read = Polygon(outline).buffer(0), Polygon(layout.window).buffer(0)
        joined = true.union(read).area
        score.window_iou = float(true.intersection(read).area / joined) if joined else 0.0
        score.window = "right" if score.window_iou >= RIGHT_IOU else "poor"
    if score.window in ("invented", "missed", "poor"):
        overlap = "" if score.window_iou is None else f" (IoU {score.window_iou:.2f})"
        score.detail.append(f"window {score.window}{overlap}")


def _compare_lines(score: Score, truth: Truth, corners: Points, side: int, layout: Layout) -> None:
    if truth["lines"] is None:
        score.lines = "invented" if layout.drawn_lines else None
        return
    if not layout.drawn_lines:
        score.lines = "missed"
        return
    right, told = 0, 0
    for name in ("positive", "negative"):
        true = LineString(turned(np.asarray(truth["lines"][name], dtype=np.float64), corners, side))
        for line in layout.drawn_lines:
            read = LineString(line.points)
            if _follows(true, read) and _follows(read, true):
                right += 1
                told += line.polarity in (None, name)
                break
    score.lines = "poor" if right < 2 else "right" if told == 2 else "wrong polarity"


def _follows(line: LineString, other: LineString) -> bool:
    steps = np.arange(0.5, line.length, 1.0)
    close = [other.distance(line.interpolate(s)) <= LINE_MM for s in steps]
    return bool(close) and float(np.mean(close)) >= LINE_SHARE
