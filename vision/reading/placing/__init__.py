"""Which outline, which square, which size and which bend explain a photo, and how surely."""
