"""Where the card lies in a photo: long straight edges, and the four of them that bound paper."""
