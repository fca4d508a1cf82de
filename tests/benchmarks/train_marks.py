"""python -m tests.benchmarks.train_marks cards OUT --count N --seed S
   python -m tests.benchmarks.train_marks learn CARDS --out vision/reading/marks/marks.onnx
   python -m tests.benchmarks.train_marks average A.pt B.pt --out vision/reading/marks/marks.onnx

Learn to tell pencil marks apart from simulated cards: `cards` photographs and straightens them with the
simulator's own geometry, `learn` fits a network, `average` joins the weights of several goes. Needs `torch` and
`onnx`, which nothing else here does: pip install torch onnx.
"""

from __future__ import annotations

import argparse
import json
import time
from itertools import pairwise
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from circuit.layout import Card
from tests.benchmarks.photo_simulator.render import Shot, Wishes, shoot
from vision.reading.marks.ink import read_ink
from vision.reading.marks.likeness import CHANNELS, GREY, PX_PER_MM, STRIDE, TONE, network_input
from vision.straight_card import StraightCard

Bytes = NDArray[np.uint8]
Floats = NDArray[np.float32]

MARGIN_MM = 4.0
MAP_PX_PER_MM = PX_PER_MM / STRIDE
LINE_MM = 1.0  # width of a drawn line in its map
# What else is drawn, and how often.
KINDS = {
    "disc": 0.09,
    "lane": 0.14,
    "pointer": 0.05,
    "crossed": 0.1,
    "word": 0.15,
    "cross": 0.04,
    "ring": 0.06,
    "wedge": 0.07,
    "scribble": 0.05,
    "speck": 0.05,
    "smudge": 0.05,
    "washer": 0.07,
    "battery": 0.08,
}
RADII_MM = {"washer": (5.0, 13.0), "battery": (6.2, 12.8)}  # the others are as large as dots
LABELS = {"disc": "light", "lane": "light", "crossed": "crossed", "battery": "battery"}
CROP = 448  # input pixels a side
TIERS = {"A": 0.2, "B": 0.3, "C": 0.5}
# What a miss costs against a false alarm, by channel: small marks fill little of the card.
WEIGHT = {"light": 3.0, "crossed": 2.0, "battery": 1.0, "window": 1.0, "line": 1.5}


def make_cards(out: Path, seed: int, first: int, count: int) -> None:
    """Straightened cards NAME.png with their truth NAME.json."""
    cv2.setNumThreads(1)
    out.mkdir(parents=True, exist_ok=True)
    for number in range(first, first + count):
        rng = np.random.default_rng([9, seed, number])
        tier = str(rng.choice(list(TIERS), p=list(TIERS.values())))
        shot = shoot(seed, number, Wishes(tier=tier, readable_only=True, large_share=0.02))
        name = out / f"{seed}-{number:05d}"
        cv2.imwrite(f"{name}.png", straight_by_truth(shot)[:, :, ::-1], [cv2.IMWRITE_PNG_COMPRESSION, 1])
        name.with_suffix(".json").write_text(json.dumps(shot.truth))


def straight_by_truth(shot: Shot, px_per_mm: float = PX_PER_MM, margin_mm: float = MARGIN_MM) -> Bytes:
    """The card from above, by the geometry that took the photo."""
    card = shot.truth["card"]
    columns = round((card["width_mm"] + 2 * margin_mm) * px_per_mm)
    rows = round((card["height_mm"] + 2 * margin_mm) * px_per_mm)
    step = 8
    x = (np.arange(0, columns + step, step) + 0.5) / px_per_mm - margin_mm
    y = (np.arange(0, rows + step, step) + 0.5) / px_per_mm - margin_mm
    mesh = np.stack(np.meshgrid(x, y), axis=-1)
    sparse = shot.to_px(mesh.reshape(-1, 2)).reshape(mesh.shape).astype(np.float32)
    u, v = np.meshgrid(np.arange(columns, dtype=np.float32) / step, np.arange(rows, dtype=np.float32) / step)
    dense = cv2.remap(sparse, u, v, cv2.INTER_LINEAR)
    ways = np.array([sparse[5, 6] - sparse[5, 5], sparse[6, 5] - sparse[5, 5]]) / step
    ratio = float(np.sqrt(abs(np.linalg.det(ways))))
    jpeg = cv2.imencode(
        ".jpg", shot.picture[:, :, ::-1], [cv2.IMWRITE_JPEG_QUALITY, shot.sensor.jpeg_quality]
    )
    photo = cv2.imdecode(jpeg[1], cv2.IMREAD_COLOR)[:, :, ::-1]
    if ratio > 1.4:
        photo = cv2.resize(photo, None, fx=1 / ratio, fy=1 / ratio, interpolation=cv2.INTER_AREA)
        dense = (dense + 0.5) / ratio - 0.5
    return np.asarray(
        cv2.remap(
            np.ascontiguousarray(photo),
            np.ascontiguousarray(dense[..., 0]),
            np.ascontiguousarray(dense[..., 1]),
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
    )


def load_card(path: Path) -> tuple[Bytes, Bytes]:
    """What the network sees of a card, (H, W, 3), and its maps as one bit per channel, (H/2, W/2)."""
    truth = json.loads(path.with_suffix(".json").read_text())
    pixels = cv2.imread(str(path))[:, :, ::-1]
    straight = as_straightened(truth, pixels, PX_PER_MM, MARGIN_MM)
    seen = network_input(straight, read_ink(straight))
    return seen, _maps(truth, seen.shape[1] // STRIDE, seen.shape[0] // STRIDE)


def as_straightened(truth: dict[str, Any], pixels: Bytes, px_per_mm: float, margin_mm: float) -> StraightCard:
    """The card as the reading hands it on, of its true edges' pixels, (H, W, 3)."""
    card = Card(truth["card"]["width_mm"], truth["card"]["height_mm"])
    square = square_on_card(truth)
    coded = square is not None and truth["square"]["kind"] == "coded"
    return StraightCard(np.ascontiguousarray(pixels), px_per_mm, card, margin_mm, square, coded)


def square_on_card(truth: dict[str, Any]) -> NDArray[np.float64] | None:
    if truth["square"] is None or not truth["scene"]["square_on_card"]:
        return None
    to_mm = cv2.getPerspectiveTransform(
        np.float32(truth["card"]["corners_px"]), np.float32(truth["card"]["corners_mm"])
    )
    corners = np.float32(truth["square"]["corners_px"])[None]
    return np.asarray(cv2.perspectiveTransform(corners, to_mm)[0], dtype=np.float64)


def _maps(truth: dict[str, Any], width: int, height: int) -> Bytes:
    def at(points: Any) -> NDArray[np.int32]:
        return np.round(((np.array(points) + MARGIN_MM) * MAP_PX_PER_MM - 0.5) * 16).astype(np.int32)

    def disc(mask: Bytes, mark: dict[str, float]) -> None:
        radius = round(mark["diameter_mm"] / 2 * MAP_PX_PER_MM * 16)
        cv2.circle(mask, at([mark["x_mm"], mark["y_mm"]]).tolist(), radius, 1, -1, shift=4)

    planes = {name: np.zeros((height, width), np.uint8) for name in CHANNELS}
    for light in truth["lights"]:
        disc(planes["light"], light)
    for mark in truth["crossed_out"]:
        disc(planes["crossed"], mark)
    for ring in [truth["battery"], *truth["extra_batteries"]]:
        if ring:
            disc(planes["battery"], ring)
    if truth["window"]:
        cv2.fillPoly(planes["window"], [at(truth["window"])], 1, shift=4)
    for line in (truth["lines"] or {}).values():
        cv2.polylines(planes["line"], [at(line)], False, 1, round(LINE_MM * MAP_PX_PER_MM), shift=4)
    bits = np.zeros((height, width), np.uint8)
    for k, name in enumerate(CHANNELS):
        bits |= planes[name] << k
    return bits


def vary(seen: Bytes, bits: Bytes, rng: np.random.Generator) -> tuple[Bytes, Bytes]:
    """A crop, turned, mirrored, with paler or darker pencil, other noise, and marks of another hand."""
    size = CROP // STRIDE
    height, width = bits.shape
    padded = ((0, max(0, size - height)), (0, max(0, size - width)))
    bits = np.pad(bits, padded)
    seen = np.pad(seen, [(STRIDE * a, STRIDE * b) for a, b in padded] + [(0, 0)], mode="edge")
    seen = seen[: STRIDE * bits.shape[0], : STRIDE * bits.shape[1]]
    short = (STRIDE * bits.shape[0] - seen.shape[0], STRIDE * bits.shape[1] - seen.shape[1])
    seen = np.pad(seen, ((0, short[0]), (0, short[1]), (0, 0)), mode="edge")
    top = int(rng.integers(0, bits.shape[0] - size + 1))
    left = int(rng.integers(0, bits.shape[1] - size + 1))
    bits = bits[top : top + size, left : left + size].copy()
    seen = seen[STRIDE * top : STRIDE * top + CROP, STRIDE * left : STRIDE * left + CROP].copy()
    if rng.random() < 0.6:
        other_hand(seen, bits, rng)
    if rng.random() < 0.5:
        seen, bits = _askew(seen, bits, rng)
    turns = int(rng.integers(4))
    seen, bits = np.rot90(seen, turns), np.rot90(bits, turns)
    if rng.random() < 0.5:
        seen, bits = seen[:, ::-1], bits[:, ::-1]
    out = np.ascontiguousarray(seen).astype(np.float32)
    if rng.random() < 0.6:  # paler or darker pencil
        ink = TONE - out[..., 0]
        out[..., 0] = TONE - np.sign(ink) * TONE * (np.abs(ink) / TONE) ** rng.uniform(
            0.8, 1.25
        ) * rng.uniform(0.65, 1.3)
    if rng.random() < 0.2:  # few pixels
        size = round(CROP * float(rng.uniform(0.55, 0.9)))
        few = cv2.resize(out, (size, size), interpolation=cv2.INTER_AREA)
        out = cv2.resize(few, (CROP, CROP), interpolation=cv2.INTER_LINEAR)
    if rng.random() < 0.2:
        quality = [cv2.IMWRITE_JPEG_QUALITY, int(rng.integers(30, 85))]
        coded = cv2.imencode(".jpg", np.clip(out[..., 0], 0, 255).astype(np.uint8), quality)[1]
        out[..., 0] = cv2.imdecode(coded, cv2.IMREAD_GRAYSCALE)
    if rng.random() < 0.3:
        out[..., 0] = cv2.GaussianBlur(out[..., 0], (0, 0), float(rng.uniform(0.4, 1.3)))
    if rng.random() < 0.5:
        grain = cv2.GaussianBlur(
            rng.normal(0, 1, out.shape[:2]).astype(np.float32), (0, 0), float(rng.uniform(0.3, 1.2))
        )
        out[..., 0] += grain / grain.std() * rng.uniform(0, 5.0)
    if rng.random() < 0.5:
        out[..., 1:] = (out[..., 1:] - GREY) * rng.uniform(0.0, 1.4, 2) + GREY + rng.normal(0, 3, 2)
    return np.clip(out, 0, 255).astype(np.uint8), np.ascontiguousarray(bits)


def _askew(seen: Bytes, bits: Bytes, rng: np.random.Generator) -> tuple[Bytes, Bytes]:
    """Turned by some degrees, larger or smaller, a little out of square."""
    turn, size = rng.normal(0, 0.15), float(np.exp(rng.normal(0, 0.12)))
    linear = np.array([[np.cos(turn), -np.sin(turn)], [np.sin(turn), np.cos(turn)]]) * size
    linear = linear @ (np.eye(2) + rng.normal(0, 0.03, (2, 2)))

    def moved(image: Bytes, way: int, fill: Any) -> Bytes:
        middle = (np.array(image.shape[1::-1]) - 1) / 2
        affine = np.column_stack([linear, middle - linear @ middle])
        side = image.shape[1::-1]
        return np.asarray(cv2.warpAffine(image, affine, side, flags=way, borderValue=fill), dtype=np.uint8)

    return moved(seen, cv2.INTER_LINEAR, (TONE, GREY, GREY)), moved(bits, cv2.INTER_NEAREST, 0)


def other_hand(seen: Bytes, bits: Bytes, rng: np.random.Generator) -> None:
    """Marks and things drawn by plain means on bare paper, as no simulated hand draws them."""
    ink = np.zeros((CROP, CROP), np.float32)
    taken = np.abs(seen[..., 0].astype(np.float32) - TONE) > 24
    taken |= cv2.resize(bits & 0b111, (CROP, CROP), interpolation=cv2.INTER_NEAREST) > 0
    free = cv2.distanceTransform((~taken).astype(np.uint8), cv2.DIST_L2, 5)
    level = float(rng.uniform(0.25, 0.8))
    for _ in range(int(rng.integers(1, 9))):
        kind = str(rng.choice(tuple(KINDS), p=tuple(KINDS.values())))
        low, high = RADII_MM.get(kind, (1.0, 2.4))
        radius = float(rng.uniform(low, high)) * PX_PER_MM
        # a battery circle may touch what is drawn round about
        room = 0.85 * radius if kind == "battery" else radius + 5
        spots = rng.integers(8, CROP - 8, (12, 2))
        roomy = [(int(x), int(y)) for x, y in spots if free[y, x] > room]
        if not roomy:
            continue
        x, y = roomy[0]
        cv2.circle(free, (x, y), round(radius + 10), 0, -1)
        if kind == "washer":
            _washer(seen, x, y, radius, rng)
            continue
        mark = _plain_mark(kind, x, y, radius, rng)
        if kind == "lane":
            mark = np.maximum(mark, _lane(bits, x, y, radius, rng))
        speckle = 1 - rng.uniform(0, 0.5) * rng.random((CROP, CROP)).astype(np.float32)
        ink = np.maximum(ink, cv2.GaussianBlur(mark * speckle, (0, 0), float(rng.uniform(0.5, 0.9))))
        if kind in LABELS:
            plane = np.zeros(bits.shape, np.uint8)
            cv2.circle(plane, (round(x / STRIDE), round(y / STRIDE)), round(radius / STRIDE), 1, -1)
            bits |= plane << CHANNELS.index(LABELS[kind])
    darker = np.minimum(np.minimum(ink, 1.4) * level, 0.9)
    seen[..., 0] = np.clip(seen[..., 0] * (1 - darker), 0, 255).astype(np.uint8)


def _plain_mark(kind: str, x: int, y: int, radius: float, rng: np.random.Generator) -> Floats:
    """(CROP, CROP) how much pencil lies where."""
    mark = np.zeros((CROP, CROP), np.float32)
    thick = int(rng.integers(1, 3))

    def stroke(start: Any, stop: Any, much: float = 1.0) -> None:
        a, b = (np.round(np.array(end)).astype(int).tolist() for end in (start, stop))
        cv2.line(mark, a, b, much, thick, cv2.LINE_AA)

    if kind in ("disc", "crossed", "lane"):
        _hand_disc(mark, x, y, radius, rng)
    if kind in ("cross", "crossed"):
        arm = radius * rng.uniform(1.5, 2.6) if kind == "crossed" else radius
        turn = rng.uniform(0.5, 1.1)
        for way in (turn, turn + rng.uniform(1.2, 1.9)):
            gone = np.array([np.cos(way), np.sin(way)]) * arm
            stroke(np.array([x, y]) - gone, np.array([x, y]) + gone, 1.3)
    if kind == "word":
        letters = np.zeros((CROP, CROP), np.uint8)  # OpenCV 5 sets text in bytes only
        text = "".join(rng.choice(list("aaeeeostnRBLEDclgbdpqw3806969&%@"), int(rng.integers(1, 9))))
        small = rng.random() < 0.45  # so small for the pencil that the loops fill up
        scale = float(rng.uniform(0.36, 0.6) if small else rng.uniform(0.35, 1.3))
        heavy = 2 if small else thick + (scale > 0.8)
        cv2.putText(letters, text, (x, y), int(rng.integers(0, 8)), scale, 255, heavy, cv2.LINE_AA)
        mark = letters.astype(np.float32) / 255
        if rng.random() < 0.5:
            mark = np.ascontiguousarray(np.rot90(mark, int(rng.integers(4))))
    if kind == "pointer":  # an arrow out of a word: its tail touches a letter, its head is a wedge
        way, half = rng.uniform(0, 2 * np.pi), rng.uniform(0.3, 0.6)
        tail = np.array([x, y], dtype=float)
        tip = tail + np.array([np.cos(way), np.sin(way)]) * radius * rng.uniform(5, 12)
        stroke(tail, tip)
        for side in (way + np.pi - half, way + np.pi + half):
            stroke(tip, tip + np.array([np.cos(side), np.sin(side)]) * radius * 1.4)
        cv2.ellipse(
            mark, (x, y), (round(radius), round(0.7 * radius)), rng.uniform(0, 180), 0, 300, 1.0, thick
        )
    if kind == "battery":
        turns = np.linspace(0, 2 * np.pi * rng.uniform(0.95, 1.1), 90)
        reach = radius * (1 + 0.02 * np.sin(rng.uniform(1, 4) * turns + rng.uniform(0, 6)))
        path = np.column_stack([x + reach * np.cos(turns), y + reach * np.sin(turns)])
        cv2.polylines(mark, [np.round(path).astype(np.int32)], False, 1.0, thick, cv2.LINE_AA)
    if kind == "ring":
        cv2.circle(mark, (x, y), round(radius), 1.0, thick, cv2.LINE_AA)
    if kind == "wedge":  # two lines that meet, an arrow's head or an outline's corner
        way, half = rng.uniform(0, 2 * np.pi), rng.uniform(0.06, 0.5)
        for side in (way - half, way + half):
            stroke((x, y), np.array([x, y]) + np.array([np.cos(side), np.sin(side)]) * radius * 6)
    if kind == "scribble":
        path = np.cumsum(rng.normal(0, radius * 0.7, (7, 2)), axis=0) + np.array([x, y])
        cv2.polylines(mark, [np.round(path).astype(np.int32)], False, 1.0, thick, cv2.LINE_AA)
    if kind == "speck":
        cv2.circle(mark, (x, y), int(rng.integers(1, 3)), 1.0, -1, cv2.LINE_AA)
    if kind == "smudge":
        size = (round(radius * 2), round(radius))
        cv2.ellipse(mark, (x, y), size, float(rng.uniform(0, 180)), 0, 360, 1.0, -1)
        mark = cv2.GaussianBlur(mark, (0, 0), radius / 2) * 0.3
    return mark


def _lane(bits: Bytes, x: int, y: int, radius: float, rng: np.random.Generator) -> Floats:
    """Two circuit lines that come along, graze the dot and end a little past it, where they look like the
    arms of an X; (CROP, CROP), and their labels into `bits`."""
    mark = np.zeros((CROP, CROP), np.float32)
    label = np.zeros(bits.shape, np.uint8)
    way = rng.uniform(0, 2 * np.pi)
    along, across = np.array([np.cos(way), np.sin(way)]), np.array([-np.sin(way), np.cos(way)])
    gap = radius * rng.uniform(0.7, 1.3)
    bend = rng.choice((0.0, rng.uniform(-0.9, 0.9)))  # the far leg may turn at the dot
    back = -(along * np.cos(bend) + across * np.sin(bend))
    far, thick = rng.uniform(4, 16) * radius, int(rng.integers(1, 3))
    for side in (-gap, gap):
        middle = np.array([x, y]) + across * side * rng.uniform(0.8, 1.2)
        past = middle + along * rng.uniform(0.5, 3.2) * radius + across * rng.normal(0, 0.25) * radius
        start = middle + back * far + rng.normal(0, 1.0, 2)
        path = np.round([start, middle + rng.normal(0, 0.7, 2), past]).astype(np.int32)
        cv2.polylines(mark, [path], False, float(rng.uniform(0.6, 1.0)), thick, cv2.LINE_AA)
        cv2.polylines(label, [path // STRIDE], False, 1, round(LINE_MM * MAP_PX_PER_MM))
    bits |= label << CHANNELS.index("line")
    return mark


def _washer(seen: Bytes, x: int, y: int, radius: float, rng: np.random.Generator) -> None:
    """A coin, button or cell that lies there: a body of its own tone and tint, rims, perhaps a hole."""
    body = np.array([rng.uniform(60, 240), *(GREY + rng.normal(0, 14, 2))])
    layer = seen.astype(np.float32)
    shade = np.zeros(seen.shape[:2], np.float32)
    off = rng.uniform(-3, 3, 2)
    cv2.circle(shade, (round(x + off[0]), round(y + off[1])), round(radius + 2), 1.0, -1)
    layer[..., 0] *= 1 - 0.4 * cv2.GaussianBlur(shade, (0, 0), 3.0)
    cover = np.zeros(seen.shape[:2], np.float32)
    cv2.circle(cover, (x, y), round(radius), 1.0, -1, cv2.LINE_AA)
    tilt = np.linspace(-1, 1, CROP, dtype=np.float32)[None, :] * rng.uniform(-30, 30)
    face = np.ones_like(layer) * body.astype(np.float32)
    face[..., 0] += tilt
    for share in rng.uniform(0.2, 1.0, int(rng.integers(1, 4))):
        rim = float(np.clip(body[0] + rng.choice((-1, 1)) * rng.uniform(15, 120), 10, 250))
        cv2.circle(face, (x, y), round(radius * share), (rim, body[1], body[2]), int(rng.integers(1, 4)))
    layer = layer * (1 - cover[..., None]) + cv2.GaussianBlur(face, (0, 0), 0.6) * cover[..., None]
    seen[...] = np.clip(layer, 0, 255).astype(np.uint8)


def _hand_disc(mark: Floats, x: int, y: int, radius: float, rng: np.random.Generator) -> None:
    """A filled dot: a solid blot, an outline hatched to and fro, or a firm rim about a paler middle."""
    turns = np.linspace(0, 2 * np.pi, 24, endpoint=False)
    reach = radius * (1 + rng.normal(0, 0.06, 24))
    rim = np.column_stack([x + reach * np.cos(turns), y + reach * np.sin(turns) * rng.uniform(0.85, 1.1)])
    outline = [np.round(rim).astype(np.int32)]
    if rng.random() < 0.5:
        cv2.fillPoly(mark, outline, 1.0, cv2.LINE_AA)
        return
    if rng.random() < 0.25:
        cv2.fillPoly(mark, outline, float(rng.uniform(0.45, 0.8)), cv2.LINE_AA)
        cv2.polylines(mark, outline, True, 1.0, int(rng.integers(2, 4)), cv2.LINE_AA)
        return
    inside = np.zeros_like(mark)
    cv2.fillPoly(inside, outline, 1.0, cv2.LINE_AA)
    way = rng.uniform(0, np.pi)
    along, across = np.array([np.cos(way), np.sin(way)]), np.array([-np.sin(way), np.cos(way)])
    step = rng.uniform(1.4, 2.6)
    for offset in np.arange(-radius, radius, step):
        middle = np.array([x, y]) + across * offset
        a, b = np.round([middle - along * radius * 1.2, middle + along * radius * 1.2]).astype(int)
        cv2.line(mark, a.tolist(), b.tolist(), 1.0, int(rng.integers(1, 3)), cv2.LINE_AA)
    mark *= inside
    cv2.polylines(mark, outline, True, 1.0, 1, cv2.LINE_AA)


def build() -> Any:
    """The network: four halvings and back, 3 x 3 convolutions, the ways across added up."""
    import torch
    from torch import nn

    def block(into: int, out: int) -> nn.Sequential:
        return nn.Sequential(
            nn.Conv2d(into, out, 3, padding=1, bias=False), nn.BatchNorm2d(out), nn.ReLU(inplace=True)
        )

    class Net(nn.Module):
        def __init__(self) -> None:
            super().__init__()
            widths = (20, 32, 64, 80, 80)
            self.first = nn.Sequential(nn.Conv2d(3, 20, 4, stride=2, padding=1), nn.ReLU(inplace=True))
            self.down = nn.ModuleList([block(20, 20)])
            self.up, self.across = nn.ModuleList(), nn.ModuleList()
            for narrow, wide in pairwise(widths):
                self.down.append(nn.Sequential(nn.MaxPool2d(2), block(narrow, wide), block(wide, wide)))
                self.across.append(nn.Conv2d(wide, narrow, 1))
                self.up.append(block(narrow, narrow))
            self.last = nn.Conv2d(widths[0], len(CHANNELS), 1)

        def forward(self, x: Any) -> Any:
            x = self.first(x * (1 / 64.0) - 2.0)
            kept = []
            for down in self.down:
                x = down(x)
                kept.append(x)
            for k in range(len(self.up) - 1, -1, -1):
                x = nn.functional.interpolate(self.across[k](x), scale_factor=2.0, mode="nearest")
                x = self.up[k](x + kept[k])
            return self.last(x)

    torch.manual_seed(1)
    return Net()


def learn(cards: Path, out: Path, epochs: int, threads: int, minutes: float, start: Path | None) -> None:
    import torch

    torch.set_num_threads(threads)
    cv2.setNumThreads(1)
    rng = np.random.default_rng(1)
    data = [load_card(path) for path in sorted(cards.glob("*.png"))]
    held, data = data[:40], data[40:]
    print(f"{len(data)} cards", flush=True)
    net = build()
    if start is not None:
        net.load_state_dict(torch.load(start))
    batch = 6
    steps = epochs * (len(data) // batch)
    teacher = torch.optim.AdamW(net.parameters(), lr=2e-3, weight_decay=1e-4)
    weights = torch.tensor([WEIGHT[name] for name in CHANNELS]).view(1, -1, 1, 1)
    begun, done = time.perf_counter(), 0

    def tensors(items: list[tuple[Bytes, Bytes]]) -> tuple[Any, Any]:
        seen = torch.from_numpy(np.stack([item[0] for item in items])).permute(0, 3, 1, 2).float()
        bits = torch.from_numpy(np.stack([item[1] for item in items]))
        return seen, torch.stack([(bits >> k) & 1 for k in range(len(CHANNELS))], dim=1).float()

    def loss_of(logits: Any, truth: Any) -> Any:
        each = torch.nn.functional.binary_cross_entropy_with_logits(
            logits, truth, pos_weight=weights, reduction="none"
        )
        share = torch.sigmoid(logits)
        both = (share * truth).sum((0, 2, 3))
        dice = 1 - (2 * both + 1) / (share.sum((0, 2, 3)) + truth.sum((0, 2, 3)) + 1)
        return (each.mean((0, 2, 3)) * weights.view(-1)).sum() + 0.2 * dice.sum()

    order: list[int] = []
    for step in range(steps):
        gone = (time.perf_counter() - begun) / 60
        share = max(step / steps, gone / minutes)
        if share >= 1:
            break
        for group in teacher.param_groups:
            group["lr"] = 2e-3 * min(1.0, (step + 1) / 100) * 0.5 * (1 + np.cos(np.pi * share)) + 1e-5
        if len(order) < batch:
            order = list(rng.permutation(len(data)))
        items = [vary(*data[order.pop()], rng) for _ in range(batch)]
        seen, truth = tensors(items)
        loss = loss_of(net(seen), truth)
        teacher.zero_grad()
        loss.backward()
        teacher.step()
        done += batch
        if step % 50 == 0:
            print(f"{gone:.1f} min, {done} crops, loss {float(loss.detach()):.4f}", flush=True)
        if step % 400 == 399:
            _report(net, held, tensors)
            torch.save(net.state_dict(), out.with_suffix(".pt"))
    _write(net, out)


def _report(net: Any, held: list[tuple[Bytes, Bytes]], tensors: Any) -> None:
    import torch

    net.eval()
    rng = np.random.default_rng(5)
    both, either = np.zeros(len(CHANNELS)), np.zeros(len(CHANNELS))
    with torch.no_grad():
        for item in held:
            seen, truth = tensors([vary(*item, rng)])
            got = net(seen) > 0
            both += (got & (truth > 0.5)).sum((0, 2, 3)).numpy()
            either += (got | (truth > 0.5)).sum((0, 2, 3)).numpy()
    print("overlap", dict(zip(CHANNELS, np.round(both / np.maximum(either, 1), 3))), flush=True)
    net.train()


def export(net: Any, out: Path) -> None:
    """Write the network for OpenCV: any size that is a multiple of 32, probabilities out."""
    import torch

    class Ready(torch.nn.Module):
        def __init__(self) -> None:
            super().__init__()
            self.net = net

        def forward(self, x: Any) -> Any:
            return torch.sigmoid(self.net(x))

    sample = torch.zeros(1, 3, 448, 448)
    torch.onnx.export(
        Ready().eval(),
        (sample,),
        str(out),
        input_names=["card"],
        output_names=["maps"],
        opset_version=13,
        dynamo=False,
        dynamic_axes={"card": {2: "h", 3: "w"}, "maps": {2: "h", 3: "w"}},
    )


def _write(net: Any, out: Path) -> None:
    """The network for OpenCV, and beside it the weights (.pt) to go on from."""
    import torch

    net.eval()
    torch.save(net.state_dict(), out.with_suffix(".pt"))
    export(net, out)


def average(weights: list[Path], out: Path) -> None:
    """The mean of networks that went on from one another: steadier than the last of them."""
    import torch

    goes = [torch.load(path) for path in weights]
    mean = {
        key: (sum(go[key].float() for go in goes) / len(goes)).to(value.dtype)
        for key, value in goes[0].items()
    }
    net = build()
    net.load_state_dict(mean)
    _write(net, out)


def main() -> None:
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    steps = parser.add_subparsers(dest="step", required=True)
    cards = steps.add_parser("cards")
    cards.add_argument("out", type=Path)
    cards.add_argument("--count", type=int, default=2000)
    cards.add_argument("--first", type=int, default=0)
    cards.add_argument("--seed", type=int, default=7000)
    fit = steps.add_parser("learn")
    fit.add_argument("cards", type=Path)
    fit.add_argument("--out", type=Path, required=True)
    fit.add_argument("--epochs", type=int, default=36)
    fit.add_argument("--threads", type=int, default=1)
    fit.add_argument("--minutes", type=float, default=1e9, help="end after this long")
    fit.add_argument("--start", type=Path, help="weights (.pt) to go on from")
    both = steps.add_parser("average", help="the mean of the weights of several goes")
    both.add_argument("weights", type=Path, nargs="+", help=".pt files")
    both.add_argument("--out", type=Path, required=True)
    options = parser.parse_args()
    if options.step == "cards":
        make_cards(options.out, options.seed, options.first, options.count)
    elif options.step == "average":
        average(options.weights, options.out)
    else:
        learn(options.cards, options.out, options.epochs, options.threads, options.minutes, options.start)


if __name__ == "__main__":
    main()
