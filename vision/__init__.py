"""All that the eye does, in two rooms.

`reading` takes a photo to marks in card millimetres; `drawing` takes a plan to pictures and vector pages.
Neither imports the other.
"""
