"""A photo in, pencil marks in card millimetres out; a plan in, an annotated picture out."""
