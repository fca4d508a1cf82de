"""What stands in the window, and what it does to the light.

In:    a choice of papers.
Out:   `GlowSettings`: how far the papers spread light, what they throw back and let through.
Fails: ValueError for figures that no paper has.

Papers that lie on each other are one sheet for the light that comes from behind: of what the first lets through the
second throws some back, and so on between the two.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from circuit.settings import WindowPaper

CARD_REFLECTS = 0.8  # white card, matt: from memory


@dataclass(frozen=True, slots=True)
class Sheet:
    """One sheet of paper: the shares of light that it throws back and lets through, and how far it spreads what it
    lets through (standard deviation). [mm]"""

    reflects: float
    passes: float
    spread_mm: float

    def under(self, above: Sheet) -> Sheet:
        """The two as one, seen from below: the series of what goes back and forth between them, summed."""
        between = 1 - self.reflects * above.reflects
        return Sheet(
            reflects=self.reflects + self.passes**2 * above.reflects / between,
            passes=self.passes * above.passes / between,
            spread_mm=math.hypot(self.spread_mm, above.spread_mm),
        )


# From memory, no source: papers differ by a third. Tracing paper, vellum and the like; and plain white 80 g paper.
TRANSLUCENT = Sheet(reflects=0.5, passes=0.45, spread_mm=0.8)
PLAIN = Sheet(reflects=0.75, passes=0.2, spread_mm=1.5)
_SHEETS: dict[WindowPaper, Sheet] = {
    "one": TRANSLUCENT,
    "two": TRANSLUCENT.under(TRANSLUCENT),
    "plain": TRANSLUCENT.under(PLAIN),
}


@dataclass(frozen=True, slots=True)
class GlowSettings:
    """Stated settings of the window's papers and the inside of the card.

    `spread_mm`: how far the papers spread light sideways (standard deviation). `bounce`: share of the light that
    returns to the papers at each round between them and the back card. `passes`: share that they let through.
    """

    spread_mm: float = TRANSLUCENT.spread_mm
    bounce: float = TRANSLUCENT.reflects * CARD_REFLECTS
    passes: float = TRANSLUCENT.passes

    def __post_init__(self) -> None:
        if not 0 <= self.spread_mm < math.inf:
            raise ValueError(f"spread_mm must be 0 or above and finite, got {self.spread_mm}")
        if not 0 <= self.bounce < 1:
            raise ValueError(f"bounce must lie in 0..1, 1 excluded, got {self.bounce}")
        if not 0 < self.passes <= 1:
            raise ValueError(f"passes must lie in 0..1, 0 excluded, got {self.passes}")


def glow_settings(paper: WindowPaper) -> GlowSettings:
    """The window with those papers in it."""
    sheet = _SHEETS[paper]
    return GlowSettings(sheet.spread_mm, sheet.reflects * CARD_REFLECTS, sheet.passes)
