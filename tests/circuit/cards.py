"""Small cards of our own for the tests of what happens in the circuit."""

from circuit.layout import BatteryMark, Card, Layout, LightMark, Traces

CARD = Card(107.95, 139.7)
BATTERY = BatteryMark(54.0, 110.0, 20.0)
WINDOW = ((14.0, 14.0), (94.0, 14.0), (94.0, 74.0), (14.0, 74.0))


def ladder(count, pitch_mm=12.0, window=None):
    """A straight lane up the card's middle from the battery, lights `pitch_mm` apart on it, and its traces."""
    ys = [88.0 - pitch_mm * i for i in range(count)]
    lights = tuple(LightMark(f"L{i + 1}", 54.0, y) for i, y in enumerate(ys))
    end = (ys[-1] if ys else 80.0) - 5.0
    traces = Traces(((56.5, 106.0), (56.5, end)), ((51.5, 106.0), (51.5, end)))
    return Layout(CARD, lights, BATTERY, window), traces


def scattered(places, window=None, battery=BATTERY):
    """Lights at those places, no traces."""
    lights = tuple(LightMark(f"L{i + 1}", x, y) for i, (x, y) in enumerate(places))
    return Layout(CARD, lights, battery, window)
