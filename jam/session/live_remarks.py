"""What a player should be told before the first note: doubled sound, ports that look alike,
cues that nothing asks for."""

from __future__ import annotations

from collections.abc import Iterator

from jam.core.setup import Setup
from jam.ports.wishes import AUTO, VIRTUAL
from jam.session.config import Config

DOUBLED = (
    "Your keys are passed on: switch the keyboard's own sound off (local_off under `thru`, or"
    " Local Control on the keyboard), or each note is heard twice."
)


def remarks_of(config: Config, setup: Setup) -> Iterator[str]:
    """Yield the remarks, a line each."""
    if config.thru.to != "off" and not config.thru.local_off:
        yield DOUBLED
    ports = config.ports
    if ports.band == AUTO and ports.player == AUTO:
        yield (
            "Player and band both take the first port there is: name them with --in and --band-in"
            " (`jam ports` lists them)."
        )
    if VIRTUAL in (ports.player, ports.band, ports.clock, ports.cues):
        yield "Ports of our own wait for other programs to be connected: `jam ports` names them."
    if setup.clock == "taps" and "tap" not in config.cues:
        yield "Tap with the space bar, or let a pedal do it: `jam cue tap`."
    if setup.clock == "taps" and setup.chart is None and not setup.with_band:
        yield "Without a chart the changes must be heard: name one with --chart."
