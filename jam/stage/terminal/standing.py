"""What is shown of a session and does not change while it lasts."""

from __future__ import annotations

from dataclasses import dataclass, field

from jam.core.setup import Setup, Turns
from jam.harmony.keys import Key
from jam.transport.metre import Metre


@dataclass(frozen=True)
class Standing:
    """``title`` is the tune's, empty without a chart; ``turns`` and ``to_start`` are words: how
    turns are taken, and what to press. ``tapped`` says that the clock takes its tempo from taps.
    """

    title: str = ""
    key: Key | None = None
    metre: Metre = field(default_factory=Metre)
    tempo_bpm: float = 120.0
    turns: str = ""
    tapped: bool = False
    to_start: str = "Press space to start."


def standing_of(setup: Setup, to_start: str = "") -> Standing:
    """Return what stands for the session of ``setup``; ``to_start`` says how to start it where
    that is not by the space bar."""
    chart = setup.chart
    tapped = setup.clock == "taps"
    usual = "Tap the tempo with the space bar." if tapped else "Press space to start."
    if setup.clock == "midi":
        usual = "It starts with the MIDI clock; space joins one that is running."
    return Standing(
        title="" if chart is None else chart.title,
        key=setup.key,
        metre=setup.metre if chart is None else chart.metre,
        tempo_bpm=setup.tempo_bpm,
        turns=turns_in_words(setup.turns),
        tapped=tapped,
        to_start=to_start or usual,
    )


def turns_in_words(turns: Turns) -> str:
    """Return how turns are taken."""
    if turns.kind == "trade":
        return f"trading {turns.bars} bar{'s' * (turns.bars > 1)} each"
    return {
        "chorus": "a chorus each",
        "free": "free",
        "solo": "the companion solos",
        "lay out": "the companion lays out",
        "on cue": "the companion plays on cue",
    }[turns.kind]
