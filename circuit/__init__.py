"""Millimetres in, millimetres out: traces, problems, moves, electrics, glow, stack height.

Knows nothing of pictures, files, printing or the command line.
"""
