"""The rules of a light-up card, in one table: name, limits, unit, how measured, advice.

Limits are edge to edge in millimetres unless the key says degrees. A maker's own limits come in
as `Settings.limits`, keyed like the table: "rule" for a rule's single limit, "rule.part" where
a rule has several.
"""

from __future__ import annotations

from circuit.settings import Settings

# Chosen with makers of such cards: common practice, no source.
DEFAULT_LIMITS: dict[str, float] = {
    "light-not-bridged.off-midline": 0.5,
    "light-not-bridged.overlap": 0.75,
    "light-not-bridged.gap": 1.5,
    "traces-too-close": 1.5,
    "trace-overlaps-itself": 1.0,
    "trace-overlaps-itself.along-widths": 3.0,
    "trace-near-edge": 3.0,
    "battery-zone.foam-ring": 6.0,
    "battery-zone.end-from-centre": 6.0,
    "battery-zone.entries-apart-deg": 90.0,
    "fold-near-light": 1.5,
    "folds-too-close": 4.0,
    "folds-too-close.turn-deg": 135.0,
    "tape-under-light": 0.0,
    "lights-too-close": 7.0,
    "light-near-edge": 5.0,
}


def limit_of(settings: Settings, key: str) -> float:
    """The limit in force for `key`: the maker's own, else the table's. KeyError if unknown."""
    if key in settings.limits:
        return settings.limits[key]
    return DEFAULT_LIMITS[key]
