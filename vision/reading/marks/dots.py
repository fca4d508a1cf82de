"""Which dark spots are filled-in dots: lights, crossed-out dots, doubtful ones, or nothing.

In:    the card's `Blob`s and the network's `Likeness`.
Out:   each blob's verdict, and for a doubt what else the mark could be, as a key.
Fails: never.

Two witnesses are heard who know different things: the network has seen the whole neighbourhood, the rays
have measured this spot and the arms that leave it. Where both agree the mark is what they say; where they
don't it is a doubt.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from vision.arrays import Floats
from vision.reading.marks.blobs import CLOUD_MM, LEAST_RADIUS_MM, Blob, measure_blobs
from vision.reading.marks.crossings import judge_crossing
from vision.reading.marks.ink import Ink, circles
from vision.reading.marks.likeness import Likeness
from vision.reading.marks.words import in_a_word

Verdict = Literal["light", "crossed", "doubt", "nothing"]

CORE = 0.7  # of the radius over which the network is asked
# Measured on simulated photos: one true light in 200 is below 0.9, one other mark in 10,000 above 0.1.
SURE_FROM, LIKELY_FROM, SURELY_NOT_BELOW = 0.8, 0.3, 0.1
SMALLEST_MM, LARGEST_MM = 1.45, 6.8  # chosen: dots of 2 to 5 mm, drawn with a free hand
PALE = 0.35  # of the ink of the card's other dots; rubbed-out ones keep 0.2 to 0.4
FAINTEST = 0.2
USUAL_LEVEL = 0.45  # what a soft pencil leaves, where no dot on the card tells
SPECK_MM, SMUDGE_EDGE_MM, LOOP_MIDDLE = 1.7, 1.0, 0.5
CROSSED_OUT = "crossed-out"
LETTER = "letter"
LETTER_CHANCE = 0.5  # of a light in the middle of a word
# A spot as plain as this is a disc whatever the network says of it.
DISC_MM, DISC_EDGE_MM, DISC_MIDDLE = (1.45, 5.8), 0.8, 0.7
PLAIN_MM = 1.58  # a light of 2 mm, thinly filled and so measured a fifth too small; specks stay below
DISC_RAGGED_MM, DISC_STRAYS, DISC_HOLES, DISC_LONG = 0.15, 0.1, 0.06, 0.12
# A spot with a dot's body, be it ever so much in touch with lines. In 3,800 photos two that the network had such
# a hint of were else dropped: a light in a finger's shadow, and one half filled on the window's line.
HINT = 0.01
BODY_MM, BODY_CHANCE = (1.9, 5.8), 0.05
# Least ink over that of the other dots, most bare share, least of the middle's ink over the rest's.
SOLID, HINTED = (0.6, 0.15, 0.7), (0.35, 0.2, 0.5)
BODY_RAGGED_MM, BODY_STRAYS = 0.2, 0.26
# A spot with nothing about it: of its size, level over the noise, bare share, middle's ink over the rest's; and of
# the rings so far beyond its rim the share with ink of so much of its level. In 1,390 photos one light was that.
ALONE_MM, ALONE_NOISE, ALONE_HOLES, ALONE_MIDDLE = (1.9, 4.0), 4.0, 0.1, 0.6
ROUND_MM, INKED, MOST_INKED = np.array([0.6, 0.9, 1.2, 1.6, 2.0]), 0.35, 0.1
# Rings round the middle of what may be a part of a speckled dot with nothing about it.
CLEAR_MM, MOST_INKED_CLEAR = np.array([2.8, 3.2, 3.6]), 0.02
LETTER_MM = 2.2  # chosen: a letter's filled loop is smaller
# Small lights are solid; what is small and has strays or pale spots may be a letter's loop.
LOOSE_MM, LOOSE_STRAYS, LOOSE_FLOOR, LOOSE_LIKELY, SOLID_FROM = 2.0, 0.22, 0.7, 0.9, 0.95
ODD_SIZE = 0.7  # of the other dots; measured: 199 of 200 true ones are larger
# On 1,212 cards nothing else so small had more than 0.5; small lights mostly have more than this.
PLAINLY_FROM = 0.97
# Measured on simulated photos: where the two differ by more than this, the network lies nearer in 11 of 13.
ASTRAY_MM, ASTRAY_SIGMA_MM, NEAR_MM = 0.25, 0.15, 1.2
WIDER = 1.2  # how much wider a dot looks in the network's map
BETWEEN_CHANCE, BESIDE_MM = 0.5, (0.0, 0.4, 0.8)  # beyond a spot's rim, where a lane's lines pass it
# In 813 photos with pencilled lines one light, a mere hook of pencil, and two other marks were that.
LANE_HINT, LANE_CLEAR_MM = 0.015, 3.0
LINE_PAST_MM, LINE_FROM = (0.6, 1.4), 0.5  # how near a circuit line, and from what likeness on


@dataclass(frozen=True, slots=True)
class Judged:
    """A blob with its verdict; `why` says what else it could be; `chance` : how much the network takes it
    for a light; `likely` : a doubtful one is rather a light than not."""

    blob: Blob
    verdict: Verdict
    why: str
    chance: float
    likely: bool


def judge_dots(ink: Ink, blobs: Sequence[Blob], likeness: Likeness) -> list[Judged]:
    """The verdict on every blob, the clearest first; of blobs that overlap one."""
    seen = [(_mean(likeness, "light", blob), _mean(likeness, "crossed", blob)) for blob in blobs]
    levels = [blob.level for blob, (chance, _) in zip(blobs, seen) if chance > SURE_FROM]
    usual = float(np.median(levels)) if levels else USUAL_LEVEL
    judged = [
        _judge(likeness, blob, chance, struck, blob.level / usual)
        for blob, (chance, struck) in zip(blobs, seen)
    ]
    judged = [_unless_alone(ink, item, usual) for item in [*judged, *_clouds(ink, judged)]]
    judged = _apart([_with_lines(likeness, _with_arms(ink, item), usual) for item in judged])
    judged = [_with_others(item, judged) for item in judged]
    judged = [_unless_in_lane(likeness, item, judged) for item in judged]
    judged = [_unless_a_letter(ink, item) for item in judged]
    return [
        replace(item, blob=_recentred(likeness, item.blob))
        if item.verdict == "light" and item.chance > SURE_FROM
        else item
        for item in judged
    ]


def _recentred(likeness: Likeness, blob: Blob) -> Blob:
    """The spot as the network sees it where the rays were led astray: on rough paper a thinly filled dot
    falls into pieces, and the rays settle on one of them."""
    other = _as_seen(likeness, blob)
    apart = np.hypot(other.x_mm - blob.x_mm, other.y_mm - blob.y_mm)
    return blob if apart < ASTRAY_MM else other


def _as_seen(likeness: Likeness, blob: Blob) -> Blob:
    """Middle and size that the network's map alone gives of a light."""
    shade = likeness.of("light")
    reach = blob.radius_mm + NEAR_MM
    low = np.floor(likeness.to_px(np.array([[blob.x_mm - reach, blob.y_mm - reach]]))[0]).astype(int)
    high = np.ceil(likeness.to_px(np.array([[blob.x_mm + reach, blob.y_mm + reach]]))[0]).astype(int) + 1
    (left, top), (right, bottom) = np.maximum(low, 0), np.maximum(high, 0)
    part = shade[top:bottom, left:right]
    rows, columns = np.mgrid[top : top + part.shape[0], left : left + part.shape[1]]
    places = likeness.to_mm(np.column_stack([columns.ravel(), rows.ravel()]))
    away = np.hypot(places[:, 0] - blob.x_mm, places[:, 1] - blob.y_mm)
    weights = np.where(away < reach, part.ravel().astype(np.float64), 0.0)
    x, y = (weights[:, None] * places).sum(axis=0) / max(float(weights.sum()), 1e-9)
    radius = max(float(np.sqrt(weights.sum() / np.pi)) / likeness.px_per_mm / WIDER, LEAST_RADIUS_MM)
    return replace(blob, x_mm=float(x), y_mm=float(y), radius_mm=radius, sigma_mm=ASTRAY_SIGMA_MM)


def _apart(judged: list[Judged]) -> list[Judged]:
    """One mark where several lie upon each other: the largest of the clearest."""
    rank = {"light": 0, "crossed": 1, "doubt": 2, "nothing": 3}
    kept: list[Judged] = []
    for item in sorted(judged, key=lambda item: (rank[item.verdict], -item.blob.radius_mm)):
        if item.verdict == "nothing" or not any(_overlap(item.blob, other.blob) for other in kept):
            kept.append(item)
    return kept


def _overlap(one: Blob, other: Blob) -> bool:
    apart = np.hypot(one.x_mm - other.x_mm, one.y_mm - other.y_mm)
    return bool(apart < one.radius_mm + other.radius_mm)


def _clouds(ink: Ink, judged: Sequence[Judged]) -> list[Judged]:
    """What was dropped and lies alone, measured once more as the cloud of specks it may be: in a half filled or
    thinly filled dot the rays settle on its darkest part."""
    lonely = [
        (item.blob.x_mm, item.blob.y_mm)
        for item in judged
        if item.verdict == "nothing" and _inked(ink, item.blob, CLEAR_MM) <= MOST_INKED_CLEAR
    ]
    clouds = measure_blobs(ink, np.array(lonely).reshape(-1, 2), CLOUD_MM)
    return [Judged(cloud, "nothing", "", 0.0, False) for cloud in clouds]


def _unless_alone(ink: Ink, item: Judged, usual: float) -> Judged:
    """A spot of a dot's size and shape with bare paper all round it is not dropped, be it ever so pale: words
    and lines have no such spots."""
    blob = item.blob
    if item.verdict != "nothing" or not ALONE_MM[0] <= 2 * blob.radius_mm <= ALONE_MM[1]:
        return item
    round_spot = blob.ragged_mm < DISC_RAGGED_MM and blob.strays < BODY_STRAYS
    seen = blob.level > max(FAINTEST * usual, ALONE_NOISE * ink.noise)
    if not round_spot or not seen or blob.holes > ALONE_HOLES or blob.middle < ALONE_MIDDLE:
        return item
    if _inked(ink, blob, blob.radius_mm + ROUND_MM) > MOST_INKED:
        return item
    return replace(item, verdict="doubt", why="rubbed-out")


def _inked(ink: Ink, blob: Blob, radii_mm: Floats) -> float:
    """Share of rings round a spot's middle that has ink."""
    spots = circles((blob.x_mm, blob.y_mm), radii_mm, turns=48)
    return float((ink.sample(spots.reshape(-1, 2)) > INKED * blob.level).mean())


def _unless_a_letter(ink: Ink, item: Judged) -> Judged:
    """What could be a letter, and is hardly taken for a light, is a letter in the middle of a word."""
    if item.verdict != "doubt" or item.why != LETTER or item.likely or item.chance > LETTER_CHANCE:
        return item
    return replace(item, verdict="nothing") if in_a_word(ink, (item.blob.x_mm, item.blob.y_mm)) else item


def _unless_in_lane(likeness: Likeness, item: Judged, judged: Sequence[Judged]) -> Judged:
    """What lies between two circuit lines and looks the least like a light is not dropped: a lane leads from light
    to light."""
    blob = item.blob
    if item.verdict != "nothing" or item.chance < LANE_HINT or 2 * blob.radius_mm > BODY_MM[1]:
        return item
    marks = [other.blob for other in judged if other.verdict != "nothing"]
    by_itself = all(
        np.hypot(blob.x_mm - other.x_mm, blob.y_mm - other.y_mm) > LANE_CLEAR_MM for other in marks
    )
    return replace(item, verdict="doubt") if by_itself and _between_lines(likeness, blob) else item


def _with_others(item: Judged, judged: Sequence[Judged]) -> Judged:
    """A light far smaller than the card's others and no plain disc is a doubt: a letter's filled loop looks
    like that."""
    others = [
        other.blob.radius_mm for other in judged if other.verdict == "light" and other.blob is not item.blob
    ]
    if item.verdict != "light" or not others or _is_disc(item.blob) or item.chance > PLAINLY_FROM:
        return item
    if item.blob.radius_mm > ODD_SIZE * np.median(others):
        return item
    return replace(item, verdict="doubt", why=LETTER, likely=item.chance > LOOSE_LIKELY)


def _with_lines(likeness: Likeness, item: Judged, usual: float) -> Judged:
    """Where circuit lines run, lights are expected: a spot of a dot's size there is not dropped, and none
    that lies at a line's end is struck out for certain, since the ends look like the arms of an X."""
    blob = item.blob
    if item.verdict == "light" or not _at_lines(likeness, blob):
        return item
    body = _has_body(blob, blob.level / usual)
    if item.verdict == "doubt" and item.why != CROSSED_OUT and item.chance > BETWEEN_CHANCE:
        if _between_lines(likeness, blob):  # where a lane leads, there is a light
            return replace(item, verdict="light" if body else "doubt", likely=True)
        return item
    if item.verdict == "crossed" or body:
        return replace(item, verdict="doubt", likely=item.verdict == "crossed" or item.chance > BODY_CHANCE)
    return item


def _lines_round(likeness: Likeness, blob: Blob, beyond_mm: tuple[float, ...]) -> NDArray[np.bool_]:
    """(24,) ways round the spot in which a circuit line shows so far beyond its rim."""
    radii = blob.radius_mm + np.array(beyond_mm)
    around = likeness.round_about("line", (blob.x_mm, blob.y_mm), radii)
    return np.asarray(around.max(axis=0) > LINE_FROM, dtype=np.bool_)


def _at_lines(likeness: Likeness, blob: Blob) -> bool:
    return bool(_lines_round(likeness, blob, LINE_PAST_MM).any())


def _between_lines(likeness: Likeness, blob: Blob) -> bool:
    """Whether circuit lines pass the spot on two opposite sides."""
    sides = _lines_round(likeness, blob, BESIDE_MM)
    turn = len(sides) // 2
    return any(bool((sides & np.roll(sides, turn + off)).any()) for off in range(-2, 3))


def _has_body(blob: Blob, ratio: float, least: tuple[float, float, float] = SOLID) -> bool:
    """Whether a spot is solid and round; ratio : its ink over that of the card's other dots."""
    level, holes, middle = least
    return (
        BODY_MM[0] <= 2 * blob.radius_mm <= BODY_MM[1]
        and ratio > level
        and blob.holes < holes
        and blob.middle > middle
        and blob.ragged_mm < BODY_RAGGED_MM
        and blob.strays < BODY_STRAYS
    )


def _with_arms(ink: Ink, item: Judged) -> Judged:
    """A light that has the arms of an X, or a crossed-out dot that has none, is a doubt."""
    if item.verdict not in ("light", "crossed"):
        return item
    blob = item.blob
    arms = judge_crossing(ink, blob.x_mm, blob.y_mm, blob.radius_mm, blob.level)
    if arms == ("crossed" if item.verdict == "light" else "clear"):
        return replace(item, verdict="doubt", why=CROSSED_OUT, likely=arms == "clear")
    return item


def _mean(likeness: Likeness, kind: str, blob: Blob) -> float:
    """The network's mean over the inner part of the spot."""
    radii = blob.radius_mm * CORE * np.sqrt(np.array([0.15, 0.5, 0.85]))
    return float(likeness.round_about(kind, (blob.x_mm, blob.y_mm), radii, turns=12).mean())


def _judge(likeness: Likeness, blob: Blob, chance: float, struck: float, ratio: float) -> Judged:
    def verdict(word: Verdict) -> Judged:
        likely = chance > max(LIKELY_FROM, struck)
        return Judged(blob, word, _alternative(blob, struck, ratio), chance, likely)

    fits = SMALLEST_MM <= 2 * blob.radius_mm <= LARGEST_MM
    disc = fits and _is_disc(blob) and ratio > FAINTEST
    if max(chance, struck) < SURELY_NOT_BELOW or not fits:
        if 2 * blob.radius_mm < SMALLEST_MM and chance >= LIKELY_FROM:
            # the rays settled on a part of a speckled dot
            spot = _as_seen(likeness, blob)
            return Judged(spot, "doubt", _alternative(spot, struck, 1.0), chance, chance > LOOSE_LIKELY)
        plain = disc and 2 * blob.radius_mm >= PLAIN_MM
        hinted = chance > HINT and _has_body(blob, ratio, HINTED)
        return verdict("doubt" if plain or hinted else "nothing")
    if ratio < FAINTEST and chance < LIKELY_FROM:
        return verdict("nothing")
    if struck >= SURE_FROM and chance < 1 - SURE_FROM:
        return verdict("crossed")
    if chance >= LIKELY_FROM and disc and struck < SURELY_NOT_BELOW and ratio >= PALE:
        return verdict("light")  # both witnesses agree
    if struck < chance < SOLID_FROM and _is_loose(blob):
        # as the network sees it: the rays may have settled on a part of a speckled dot
        spot = _as_seen(likeness, blob) if chance >= LIKELY_FROM else blob
        return Judged(spot, "doubt", LETTER, chance, chance > LOOSE_LIKELY)
    if chance >= SURE_FROM and struck < 1 - SURE_FROM and ratio >= PALE:
        return verdict("light")
    return verdict("doubt")


def _is_loose(blob: Blob) -> bool:
    return 2 * blob.radius_mm < LOOSE_MM and (blob.strays > LOOSE_STRAYS or blob.floor < LOOSE_FLOOR)


def _is_disc(blob: Blob) -> bool:
    return (
        DISC_MM[0] <= 2 * blob.radius_mm <= DISC_MM[1]
        and blob.ragged_mm < DISC_RAGGED_MM
        and blob.strays < DISC_STRAYS
        and blob.holes < DISC_HOLES
        and blob.edge_mm < DISC_EDGE_MM
        and blob.long < DISC_LONG
        and blob.middle > DISC_MIDDLE
        and (blob.floor > LOOSE_FLOOR or 2 * blob.radius_mm > LETTER_MM)
    )


def _alternative(blob: Blob, struck: float, ratio: float) -> str:
    """What the mark is likely to be if it is no light."""
    if struck > SURELY_NOT_BELOW:
        return CROSSED_OUT
    if ratio < PALE:
        return "rubbed-out"
    if 2 * blob.radius_mm < SPECK_MM:
        return "speck"
    if blob.middle < LOOP_MIDDLE:
        return "loop"
    if blob.edge_mm > SMUDGE_EDGE_MM:
        return "smudge"
    return "strokes"
