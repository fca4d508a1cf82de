"""Which dark spots are filled-in dots: lights, crossed-out dots, doubtful ones, or nothing.

In:    `Ink`, the network's `Likeness` and the spots of the card.
Out:   the verdict on each spot that could be a mark, and for a doubt what else it could be, as a key.
Fails: never.

Every spot is one `Traits` value, and one learnt chance says what that is (`chances.py`). Three limits make verdicts of
the chance; the trait that speaks most against a light gives a doubt its words. What is unlike all lights that were
learnt from is never sure.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from vision.reading.marks.blobs import Blob
from vision.reading.marks.chances import chances_of, speaking_against, unlike_lights
from vision.reading.marks.ink import Ink
from vision.reading.marks.likeness import Likeness
from vision.reading.marks.placed import as_seen, far_from
from vision.reading.marks.traits import Traits, traits_of

Verdict = Literal["light", "crossed", "doubt"]

# One mark wrong in silence costs a card, a needless doubt one look at it: chosen, as much as 24 looks. The cheapest
# limits then are 1 / 25 and 24 / 25; spots held out bear them out (chances.json).
SILENT_WRONG_IN_LOOKS = 24.0
LEAST_DOUBTED = 1 / (1 + SILENT_WRONG_IN_LOOKS)  # a less likely light is dropped
LEAST_SURE = 1 - LEAST_DOUBTED  # a less likely light is told as a doubt
LIKELY = 0.5  # the likelier of two: which way a doubt is drawn, and whose word on the place counts
# Ink over the other lights', under which even a sure light is asked about: a rubber leaves 0.2 to 0.4 of a dot
# (measured), a light hand as little, and only the maker knows which it was.
RUBBED_OUT_BELOW = 0.35
# Spreads: a likely light farther from all that were learnt from is asked about. Chosen: at 13.2 no sure light on 1,440
# usual cards held out (13,927 spots) would be asked about, at 10.5 one on some five cards; but crumbs on real paper
# that pass for lights lie at 11.8, a filled letter that no simulator drew at 14.2, and asking costs less than either.
MOST_UNLIKE = 10.5

CROSSED_OUT, RUBBED_OUT = "crossed-out", "rubbed-out"
ELSE = "else"
# What a mark may be instead, by the trait that makes it an unlikely light and the side on which it does.
_WORDS: dict[tuple[str, int], str] = {
    ("level_ratio", -1): RUBBED_OUT,
    ("clearness", -1): RUBBED_OUT,
    ("diameter_mm", -1): "speck",
    ("size_ratio", -1): "speck",
    ("diameter_mm", 1): "smudge",
    ("edge_mm", 1): "smudge",
    ("middle", -1): "loop",
    ("floor", -1): "loop",
    ("holes", 1): "loop",
    ("letters", 1): "letter",
    ("in_row", 1): "letter",
    ("piece_mm", 1): "strokes",
    ("strays", 1): "strokes",
    ("ragged_mm", 1): "strokes",
    ("rim_inked", 1): "strokes",
    ("line_beside", 1): "strokes",
    ("arms", 1): "strokes",
}

WHAT_ELSE = frozenset({CROSSED_OUT, RUBBED_OUT, ELSE, *_WORDS.values()})  # every key that a doubt may have


@dataclass(frozen=True, slots=True)
class Judged:
    """A mark, or what may be one. `why` : what a doubtful one could be instead; `likely` : it is rather a
    light than not."""

    blob: Blob
    verdict: Verdict
    why: str
    likely: bool


def judge_dots(ink: Ink, likeness: Likeness, spots: Sequence[Blob]) -> list[Judged]:
    """Every mark among the spots, the clearest first; of spots that overlap one."""
    traits = traits_of(ink, likeness, spots)
    judged = []
    chances, unlike = chances_of(traits).tolist(), unlike_lights(traits).tolist()
    for spot, seen, (light, crossed, other), far in zip(spots, traits, chances, unlike, strict=True):
        verdict = verdict_of(light, crossed)
        if verdict is None:
            continue
        if verdict == "crossed" and seen.light > LIKELY:  # the network contradicts
            verdict = "doubt"
        why = "" if verdict != "doubt" else CROSSED_OUT if crossed > other else _why(seen)
        if verdict == "light" and seen.level_ratio < RUBBED_OUT_BELOW:
            verdict, why = "doubt", RUBBED_OUT
        elif verdict == "light" and far > MOST_UNLIKE:
            verdict, why = "doubt", ELSE
        judged.append(Judged(_placed(likeness, spot, seen), verdict, why, light > LIKELY))
    return _apart(judged)


def verdict_of(light: float, crossed: float) -> Verdict | None:
    """What a spot of these chances is said to be; None: no mark."""
    if light >= LEAST_SURE:
        return "light"
    if light >= LEAST_DOUBTED:
        return "doubt"
    return "crossed" if crossed > LIKELY else None


def _why(seen: Traits) -> str:
    trait = speaking_against(seen, list(_WORDS))
    return ELSE if trait is None else _WORDS[trait]


def _placed(likeness: Likeness, spot: Blob, seen: Traits) -> Blob:
    """The spot, or what the network makes of it where it is sure of a light and sees it elsewhere: on rough paper a
    thinly filled dot falls into pieces, and the rays settle on one of them."""
    if seen.light <= LIKELY:
        return spot
    other = as_seen(likeness, spot)
    return other if far_from(spot, other) else spot


def _apart(judged: Sequence[Judged]) -> list[Judged]:
    """One mark where several lie upon each other: the largest of the clearest."""
    rank = {"light": 0, "crossed": 1, "doubt": 2}
    kept: list[Judged] = []
    for item in sorted(judged, key=lambda item: (rank[item.verdict], -item.blob.radius_mm)):
        if not any(item.blob.overlaps(other.blob) for other in kept):
            kept.append(item)
    return kept
