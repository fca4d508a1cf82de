"""The overlay: the card in colour with its traces, marks, problems and moves, and what they mean in plain words."""

from vision.drawing.overlay.picture import draw_overlay

__all__ = ["draw_overlay"]
