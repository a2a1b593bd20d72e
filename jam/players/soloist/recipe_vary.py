"""Small changes to a recipe: the same exercise, said a little differently.

What may change is the recipe's own business (``varied:``). Landings, the last note, holds and the
way over the chords stay as they are, and every change takes exactly the time of what it replaces.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

import numpy as np

from jam.players.soloist.slots import TICKS
from jam.styles.recipe_meaning import listed, stacked, zigzag
from jam.styles.recipe_text import LineRecipe, Vary
from jam.styles.recipe_words import PACES, Degree, Device, nominal_notes

_CHANCE = 0.6
"""How often a place that may vary does; one always does where there is any."""

_EIGHTH = PACES["eighths"]
_OF_THREE = ("degrees", "arpeggio", "enclose")


def varied(recipe: LineRecipe, rng: np.random.Generator) -> LineRecipe:
    """Return the recipe with small changes, or as it is where nothing may vary."""
    places = _places(recipe)
    if not places:
        return recipe
    chosen = [place for place in places if rng.random() < _CHANCE]
    chosen = chosen or [places[int(rng.integers(len(places)))]]
    line: list[str] = list(recipe.line)
    for index, options in reversed(chosen):
        option = options[int(rng.integers(len(options)))]
        line[index : index + 1] = option
    return LineRecipe(**{**recipe.model_dump(), "line": line})


def _places(recipe: LineRecipe) -> list[tuple[int, list[list[str]]]]:
    """Return the items that may vary, each with the ways to say it instead."""
    devices, where = recipe.devices, recipe.places
    sounding = [i for i, device in enumerate(devices) if not device.is_silent]
    # A landing needs a note to come from.
    lands_next = len(sounding) > 1 and devices[sounding[1]].kind == "land"
    opening = None if lands_next else sounding[0]
    places = []
    for index, device in enumerate(devices):
        if device.is_silent or device.kind == "land" or index == sounding[-1]:
            continue
        if index + 1 < len(devices) and devices[index + 1].kind == "hold":
            continue
        tick, pace = where[index].tick % TICKS, where[index].pace
        options = [
            words
            for name in recipe.varied
            for words in _WAYS[name](device, tick, pace)
            if name != "opening" or index == opening
        ]
        if options:
            places.append((index, options))
    return places


def _approaches(device: Device, tick: int, pace: int) -> list[list[str]]:
    """From the other side, or by the other step."""
    if device.kind in ("step", "chromatic"):
        goal = device.degrees[0]
        said = [
            f"{kind} {way} {goal}" for kind in ("step", "chromatic") for way in ("above", "below")
        ]
        return [[words] for words in said if words != device.words]
    if device.kind == "enclose":
        goal = device.degrees[0]
        return [[f"enclose {goal} from below" if device.up else f"enclose {goal}"]]
    return []


def _order(device: Device, tick: int, pace: int) -> list[list[str]]:
    """An arpeggio in zigzag, a broken one straight."""
    if device.kind not in ("arpeggio", "broken") or nominal_notes(device) < 4:
        return []
    first, last = device.degrees
    word = "broken arpeggio" if device.kind == "arpeggio" else "arpeggio"
    return [[f"{word} {first} {'up' if device.up else 'down'} to {last}"]]


def _rhythm(device: Device, tick: int, pace: int) -> list[list[str]]:
    """Four eighths: a late start caught up in a triplet; off the beat, hurried before a rest.
    Three: a triplet on the beat. A note struck twice: one as long."""
    if pace != _EIGHTH or tick not in (0, _EIGHTH):
        return []
    if device.kind == "repeat" and device.times == 2:
        return [[f"degree {device.degrees[0]}", "hold for 1 beat"]]
    if device.kind in _OF_THREE and nominal_notes(device) == 3:
        triplet, rest = ["in triplets", device.words, "in eighths"], "rest for half a beat"
        return [[*triplet, rest] if tick == 0 else [rest, *triplet]]
    degrees = _four(device)
    if not degrees:
        return []
    first, rest = f"degree {degrees[0]}", f"degrees {listed(degrees[1:])}"
    triplet = ["in triplets", rest, "in eighths"]
    if tick == 0:
        return [["rest for half a beat", first, *triplet]]
    return [[first, *triplet, "rest for half a beat"]]


def _four(device: Device) -> tuple[Degree, ...]:
    if device.kind == "degrees" and len(device.degrees) == 4:
        return device.degrees
    if device.kind in ("arpeggio", "broken") and nominal_notes(device) == 4:
        degrees = stacked(device)
        return zigzag(degrees) if device.kind == "broken" else degrees
    return ()


def _opening(device: Device, tick: int, pace: int) -> list[list[str]]:
    """The first note of the line left out."""
    if device.kind in ("step", "chromatic"):
        return [["rest"]]
    if device.kind == "degrees":
        kept = device.degrees[1:]
    elif device.kind in ("arpeggio", "broken"):
        stack = stacked(device)
        kept = (zigzag(stack) if device.kind == "broken" else stack)[1:]
    else:
        return []
    return [["rest", f"degrees {listed(kept)}"] if kept else ["rest"]]


_WAYS: Mapping[Vary, Callable[[Device, int, int], list[list[str]]]] = {
    "approaches": _approaches,
    "order": _order,
    "rhythm": _rhythm,
    "opening": _opening,
}
