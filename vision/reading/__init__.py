"""A photo in, pencil marks in card millimetres out, each with its uncertainty. Draws nothing."""
