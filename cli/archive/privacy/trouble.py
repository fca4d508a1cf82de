"""Why a photo can't be taken out without what the camera wrote."""


class CantStripError(ValueError):
    """The message goes on after "because": `it is damaged`."""
