"""The overlay: the card in colour with its traces, marks, problems and moves, and a legend in plain words."""

from vision.drawing.overlay.sheet import CARD_ROWS, draw_overlay

__all__ = ["CARD_ROWS", "draw_overlay"]
