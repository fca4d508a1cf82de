"""Phone photos of pencilled back cards, drawn from a seed, each with the exact truth beside it.

In:    a seed and a number (`python -m tests.benchmarks.photo_simulator OUT --count N --seed S`).
Out:   NAME.jpg and NAME.json; the fields are those of `truth.py`.
Fails: never by chance; the same seed and number give the same picture.

How a photo comes about, one module a step:
    hand.py      what a hand does: strokes with tremor and pressure; stroke letters
    outlines.py  window outlines of many shapes
    layout.py    what is pencilled where on the card
    graphite.py  strokes on paper tooth; the painted face of the card
    tables.py    what lies under it;  things.py  what lies about
    camera.py    pose, lens, a bent sheet;  light.py  lamps, shadows, glare
    render.py    all of that together;  sensor.py  blur, noise, tone, JPEG
    scene.py     the dice: which card, table, lamp, phone, and what is wrong in a photo to refuse
"""
