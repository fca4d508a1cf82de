"""Texts as a terminal may show them: what would steer it, or hide in it, becomes a sign that is seen, and what is
too long to be read is cut in the middle."""

from __future__ import annotations

_PICTURES = 0x2400  # Unicode's block of pictures for control characters, in their order
_DELETE, _PICTURE_OF_DELETE = 0x7F, 0x2421  # the one control character beyond them, and its picture
_UNKNOWN = "\N{REPLACEMENT CHARACTER}"
# Unicode 16, section 23.2: marks that turn the direction of writing, and ends of lines that only some know.
_HIDDEN = (*range(0x200E, 0x2010), *range(0x2028, 0x202F), *range(0x2066, 0x206A), 0xFEFF)
_SIGNS = {
    **{code: chr(_PICTURES + code) for code in range(0x20)},
    _DELETE: chr(_PICTURE_OF_DELETE),
    **dict.fromkeys(range(0x80, 0xA0), _UNKNOWN),
    **dict.fromkeys(
        range(0xD800, 0xE000), _UNKNOWN
    ),  # halves of characters, from names that are no valid text
    **dict.fromkeys(_HIDDEN, _UNKNOWN),
}
# Chosen: a dozen lines of a terminal; the program's own sentences with two long paths stay well below.
LONGEST_SENTENCE = 1_000
_CUT = " [...] "
_KEPT_AT_END = 400  # chosen: what to do stands at a sentence's end, the file's name at its beginning
_SIGNS_IN_LINES = {code: sign for code, sign in _SIGNS.items() if chr(code) not in "\n\t"}


def visible(text: str, *, lines: bool = False) -> str:
    """The text in one line, and no longer than a sentence is; with `lines` line ends, tabs and its length stay."""
    if lines:
        return text.translate(_SIGNS_IN_LINES)
    if len(text) > LONGEST_SENTENCE:
        text = text[: LONGEST_SENTENCE - len(_CUT) - _KEPT_AT_END] + _CUT + text[-_KEPT_AT_END:]
    return text.translate(_SIGNS)
