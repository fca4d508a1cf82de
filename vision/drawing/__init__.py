"""A plan in, a picture or a vector page out. Knows plans, never a photo's marks being found."""
