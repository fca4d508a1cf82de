"""Phone photos of pencilled back cards, drawn from a seed, each with the exact truth beside it.

In:    a seed and a number (`python -m tests.benchmarks.photo_simulator OUT --count N --seed S`).
Out:   NAME.jpg and NAME.json; the fields are those of `truth.py`.
Fails: never by chance; the same seed and number give the same picture.

How a photo comes about, one module a step:
    scene.py     the dice: which card, square, table, lamp; framing.py: phone and things about
    layout.py    what is pencilled where;  outlines.py, letters.py  shapes of windows and letters
    hand.py      what a hand makes of it: strokes with tremor and pressure
    graphite.py  strokes on paper tooth: the face of the card
    camera.py    pose, lens, a bent sheet;  tables.py  what lies under the card
    layers.py    table, card and square in the picture;  things.py  what lies about
    light.py     lamps, shadows;  sensor.py  blur, noise, tone, JPEG
    render.py    all of that in order;  truth.py  what was so
"""
