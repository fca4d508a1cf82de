"""The one family of errors that reaches a person: one sentence, what was seen and what to do."""

from circuit.visible import visible


class PencilampError(Exception):
    """Base of every error that is shown to a person as one sentence, never as a traceback.

    `exit_code` is what the command ends with: 2 wrong use, 3 the photo could not be read,
    4 an input or output file is the trouble.
    """

    exit_code = 4

    def sentence(self, units: str) -> str:
        """The sentence with its lengths in the maker's units, "mm" or "in", where it has any."""
        return str(self)

    def __str__(self) -> str:
        # Names of files and texts from strangers are in it.
        return visible(super().__str__())


class UsageError(PencilampError):
    """The command was asked for something that makes no sense (a card of no width, an unknown cell)."""

    exit_code = 2


class LayoutFileError(PencilampError):
    """A layout, plan or parts file that can't be understood; the message names the file's field."""
