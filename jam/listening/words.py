"""What was heard, in one plain line: for the log and the screen.

"eleven notes, rises, then falls, triplets, ends open on the 9th of Dm7; a figure of five notes
twice, a third lower"
"""

from __future__ import annotations

from jam.listening.cells import FEWEST
from jam.listening.phrase import Cell, PhraseDescription

_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
)  # fmt: skip
_TIMES = {2: "twice"}
_SIZES = (
    "", "a half step", "a step", "a minor third", "a third", "a fourth", "a tritone", "a fifth",
    "a minor sixth", "a sixth", "a minor seventh", "a seventh", "an octave",
)  # fmt: skip
_DEGREES = {
    "1": "root", "b3": "minor third", "3": "third", "5": "fifth", "6": "sixth",
    "b7": "minor seventh", "7": "seventh", "9": "9th", "11": "11th", "13": "13th",
}  # fmt: skip
_ORNAMENTS = {
    "grace": "grace note", "slide": "slide", "mordent": "mordent", "turn": "turn", "trill": "trill",
}  # fmt: skip
MANY = 0.25
"""Share of beats or notes from which a manner is worth a word."""
SPARSE, DENSE = 0.9, 2.6
"""Notes a beat below and above which a phrase is sparse or dense."""


def words(description: PhraseDescription) -> str:
    """Return one line of plain words about a phrase."""
    told = [
        _notes(len(description.notes)),
        description.shape_words,
        *_rhythm(description),
        *_manner(description),
        _ending(description),
    ]
    line = ", ".join(word for word in told if word)
    again = next((cell for cell in description.cells[:2] if _is_told(cell)), None)
    return line if again is None else f"{line}; {_said_again(again)}"


def _number(count: int) -> str:
    return _NUMBERS[count] if count < len(_NUMBERS) else str(count)


def _notes(count: int) -> str:
    return "one note" if count == 1 else f"{_number(count)} notes"


def _rhythm(told: PhraseDescription) -> list[str]:
    found = []
    if told.triplets >= MANY:
        found.append("triplets")
    if told.sixteenths >= MANY:
        found.append("sixteenths")
    if len(told.notes) > 2 and told.density <= SPARSE:
        found.append("sparse")
    elif told.density >= DENSE and not found:
        found.append("dense")
    plain = told.triplets + told.sixteenths < MANY
    if len(told.notes) > 2 and plain and told.off_beats >= 1.0 - MANY:
        found.append("mostly off the beat")
    return found


def _manner(told: PhraseDescription) -> list[str]:
    found = []
    kinds = [note.ornament for note in told.notes if note.ornament]
    for kind in dict.fromkeys(kinds):
        count = kinds.count(kind)
        name = _ORNAMENTS[kind]
        found.append(f"a {name}" if count == 1 else f"{_number(count)} {name}s")
    if len(told.notes) > 2 and told.sounding <= 0.5:
        found.append("clipped")
    if told.swell:
        found.append("growing louder" if told.swell > 0 else "growing softer")
    return found


def _ending(told: PhraseDescription) -> str:
    last = told.notes[-1]
    if not last.degree:
        return ""
    name = _DEGREES.get(last.degree, last.degree)
    manner = "open" if told.open_ending else "closed"
    return f"ends {manner} on the {name} of {last.chord}"


def _is_told(cell: Cell) -> bool:
    """Tell whether a cell is said again by more than chance: three even notes often are."""
    return cell.times > 1 and (len(cell) > FEWEST or cell.times > 2)


def _said_again(cell: Cell) -> str:
    often = _TIMES.get(cell.times, f"{_number(cell.times)} times")
    line = f"a figure of {_notes(len(cell))} {often}"
    moved = cell.moved[0]
    if not 0 < abs(moved) < len(_SIZES):
        return line
    return f"{line}, {_SIZES[abs(moved)]} {'higher' if moved > 0 else 'lower'}"
