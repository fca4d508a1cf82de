"""Where exactly edges run in a photo, and what lies beside them."""
