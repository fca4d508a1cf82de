"""The overlay: the card in colour with its traces, marks, problems and moves, and a legend in plain words."""

from vision.drawing.overlay.sheet import CARD_ROWS, draw_overlay
from vision.drawing.overlay.words import numbered_problems

__all__ = ["CARD_ROWS", "draw_overlay", "numbered_problems"]
