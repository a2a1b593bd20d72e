"""Signs of the screen: shapes that tell what a note does, marks of bars, and large letters.

The shape tells a note's role, its colour only says so again. The colours are of middling
lightness, so that each keeps a contrast of 4.5 to 1 both on black and on white (formula of WCAG
2.1, success criterion 1.4.3): nobody can ask a terminal what its ground is. Where a terminal cannot
write the shapes, plain ASCII stands for them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

BLUE, BROWN, PURPLE = "#0079c2", "#b06000", "#b0549f"

COLOURS = {"chord tone": BLUE, "anticipation": BLUE, "tension": BROWN, "approach": PURPLE}
"""The colour of a role's mark; the other roles have the colour of the text."""


@dataclass(frozen=True)
class Glyphs:
    """A set of signs. ``up`` and ``down`` are an approach, pointing to the note it leads to."""

    tone: str
    tension: str
    up: str
    down: str
    anticipation: str
    leaning: str
    blue: str
    free: str
    bar_gone: str
    bar_now: str
    bar_to_come: str
    left: str
    right: str
    dot: str
    more: str
    halves: bool

    def mark(self, role: str, *, upwards: bool) -> str:
        """Return the sign of a role, empty where a note has none."""
        if role == "approach":
            return self.up if upwards else self.down
        return {
            "chord tone": self.tone,
            "tension": self.tension,
            "anticipation": self.anticipation,
            "leaning": self.leaning,
            "blue": self.blue,
            "free": self.free,
        }.get(role, "")


SHAPES = Glyphs(
    *("●", "◇", "↱", "↳", "◖", "⊖", "∿", "×"), *("■", "▶", "□", "◀", "▶", "·", "…"), True
)
ASCII = Glyphs(
    *("*", "o", "/", "\\", "(", "-", "~", "x"), *("#", ">", ".", "<", ">", "-"), "..", False
)


def glyphs_for(encoding: str | None) -> Glyphs:
    """Return the shapes where ``encoding`` can write them all, else ASCII."""
    signs = "".join(str(sign) for sign in vars(SHAPES).values() if sign is not True) + "▀▄█"
    try:
        signs.encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return ASCII
    return SHAPES


# Letters five pixels high, rows from above, as they are needed for chord symbols.
_FONT = {
    "A": ".##. #..# #### #..# #..#",
    "B": "###. #..# ###. #..# ###.",
    "C": ".### #... #... #... .###",
    "D": "###. #..# #..# #..# ###.",
    "E": "#### #... ###. #... ####",
    "F": "#### #... ###. #... #...",
    "G": ".### #... #.## #..# .###",
    "M": "#...# ##.## #.#.# #...# #...#",
    "N": "#..# ##.# #.## #..# #..#",
    "a": "... .## #.# #.# .##",
    "b": "#.. #.. ##. #.# ##.",
    "d": "..# ..# .## #.# .##",
    "c": "... .## #.. #.. .##",
    "e": "... .#. #.# ##. .##",
    "g": ".## #.# .## ..# ##.",
    "h": "#.. #.. ##. #.# #.#",
    "i": "# . # # #",
    "j": ".# .. .# .# #.",
    "l": "# # # # #",
    "m": "..... ##.#. #.#.# #.#.# #.#.#",
    "n": "... ... ##. #.# #.#",
    "o": "... .#. #.# #.# .#.",
    "p": "... ##. #.# ##. #..",
    "r": "... ... #.# ##. #..",
    "s": "... .## #.. .## ##.",
    "t": ".#. ### .#. .#. .##",
    "u": "... #.# #.# #.# .##",
    "x": "... ... #.# .#. #.#",
    "y": "... #.# #.# .#. #..",
    "#": ".#.#. ##### .#.#. ##### .#.#.",
    "1": ".# ## .# .# .#",
    "2": "##. ..# .#. #.. ###",
    "3": "##. ..# .#. ..# ##.",
    "4": "#.# #.# ### ..# ..#",
    "5": "### #.. ##. ..# ##.",
    "6": ".## #.. ### #.# ###",
    "7": "### ..# .#. .#. .#.",
    "8": "### #.# ### #.# ###",
    "9": "### #.# ### ..# ##.",
    "0": "### #.# #.# #.# ###",
    "(": ".# #. #. #. .#",
    ")": "#. .# .# .# #.",
    "/": "..# ..# .#. #.. #..",
    "+": "... .#. ### .#. ...",
    "-": "... ... ### ... ...",
    ",": ".. .. .. .# #.",
    ".": ". . . . #",
}  # fmt: skip
_ROWS = 5
_HALVES = {"..": " ", "#.": "▀", ".#": "▄", "##": "█"}


def large(text: str, glyphs: Glyphs, width: int, rows: int) -> list[str]:
    """Return ``text`` in letters as large as ``width`` columns and ``rows`` lines allow.

    One line of common letters where no large ones fit, or one of them is not known.
    """
    if not all(char in _FONT for char in text):
        return [text[:width]]
    glyph_rows = [_FONT[char].split() for char in text]
    pixels = [".".join(glyph[row] for glyph in glyph_rows) for row in range(_ROWS)]
    sizes = [_wide(pixels), _square(pixels)] if glyphs.halves else [_ascii(pixels)]
    for lines in sizes:
        if len(lines) <= rows and len(lines[0]) <= width:
            return lines
    return [text[:width]]


def _wide(pixels: Sequence[str]) -> list[str]:
    return [row.replace(".", "  ").replace("#", "██") for row in pixels]


def _square(pixels: Sequence[str]) -> list[str]:
    """Two pixels in one place, one above the other: they come out square."""
    padded = [*pixels, "." * len(pixels[0])]
    pairs = zip(padded[::2], padded[1::2], strict=True)
    return ["".join(_HALVES[a + b] for a, b in zip(*pair, strict=True)) for pair in pairs]


def _ascii(pixels: Sequence[str]) -> list[str]:
    return [row.replace(".", " ") for row in pixels]
