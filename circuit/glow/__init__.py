"""How the window will look lit: light on the translucent sheet, its evenness, what would even it out."""

from circuit.glow.field import GlowField, glow_field
from circuit.glow.suggestion import glow_lines, glow_note, glow_of
from circuit.glow.window import GlowSettings, glow_settings

__all__ = ["GlowField", "GlowSettings", "glow_field", "glow_lines", "glow_note", "glow_of", "glow_settings"]
