"""What a player should be told before the first note: how to start, where things are played and
heard, doubled sound, ports that look alike, cues that nothing asks for."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from jam.core.setup import Setup
from jam.ports.wishes import AUTO, VIRTUAL
from jam.session.config import Config
from jam.session.triggers import Message, described

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


PEDALS: Mapping[Message, str] = {
    ("control", 66): "the middle pedal",
    ("control", 67): "the left pedal",
}
"""Pedals of a digital piano (MIDI 1.0: sostenuto, soft pedal)."""


def to_start(config: Config, setup: Setup) -> str:
    """Return what to press to start, in words; empty where the clock comes from outside."""
    if setup.clock != "internal":
        return ""
    triggers = [config.cues.get(cue) for cue in ("take it", "start")]
    messages = [trigger.message for trigger in triggers if trigger is not None]
    ways = [f"{PEDALS[m]} ({described(m)})" if m in PEDALS else described(m) for m in messages]
    ways += ["the damper pedal with no key down"] if config.damper_starts else []
    return f"Press {', '.join([*ways, ''])}or space to start."


def connected(ports: Mapping[str, str], sound: str) -> str:
    """Return a line on where the player is heard and the companion is played; ``ports`` are names
    by role and part, ``sound`` is the sound device, empty without one."""
    player = ports.get("player")
    heard = f"You are heard on {player}." if player else "No keyboard is heard yet."
    companion = ports.get("companion") or sound
    played = f" The companion plays on {companion}." if companion else ""
    return heard + played
