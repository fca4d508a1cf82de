"""What every drawn card is made of: paper's outlines, the reference square, pencil, tone, camera.

Three drawers stand on it, each for another job; what is drawn with is here and nowhere else.

    tests.vision.draw                        a whole photo whose truth is exact, where only the geometry counts
    tests.vision.reading.marks.straight_cards  a straightened card with pencil as it looks on paper
    tests.benchmarks.photo_simulator         thousands of photos with all that can happen on a table

Lengths are millimetres on the card, x right and y down; pixel centres are at integers.
"""
