"""One least-squares fit of square, card edges and camera; see `vision.reading.fit.solve`."""
