"""The MIDI files of a render: what the band plays and what the player plays."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from jam.errors import InputError
from jam.events import BAND, PLAYER, MidiIn, Port
from jam.session.midi_file import MidiFileData, read_midi, select
from jam.session.options import RenderOptions


@dataclass(frozen=True)
class Files:
    """``band`` and ``player`` hold the messages chosen; None where no file was given."""

    band: MidiFileData | None
    player: MidiFileData | None

    @property
    def leading(self) -> MidiFileData | None:
        """The file whose tempo map is the clock: the band's, else the player's."""
        return self.band or self.player

    @property
    def end_sec(self) -> float | None:
        """When the last message comes; None without files."""
        ends = [data.messages[-1].t_sec for data in (self.band, self.player) if data is not None]
        return max(ends, default=None)

    def inputs(self) -> list[MidiIn]:
        """Return all messages of both, in seconds of the session."""
        return _inputs(self.band, BAND) + _inputs(self.player, PLAYER)


def read_files(options: RenderOptions) -> Files:
    """Read the files and choose their tracks.

    One file may hold both: then the player's track is named and, unless the band's is named too,
    the band is all the other tracks.
    """
    band_path, player_path = options.band, options.player
    if player_path is None and options.player_track is not None:
        player_path = _needed(band_path, "--player-track", options.player_track)
    if options.band_track is not None:
        _needed(band_path, "--band-track", options.band_track)
    whole = {path: read_midi(path) for path in {band_path, player_path} if path is not None}
    player = band = None
    if player_path is not None:
        player = _chosen(whole[player_path], options.player_track)
    if band_path is not None:
        band = _chosen(whole[band_path], options.band_track)
        if player is not None and band_path == player_path and options.band_track is None:
            band = _without(band, player)
    return Files(band, player)


def _needed(path: Path | None, option: str, track: str) -> Path:
    if path is None:
        raise InputError(
            f"{option} {track}", "there is no file to take it from", "Name one with --band."
        )
    return path


def _chosen(data: MidiFileData, track: str | None) -> MidiFileData:
    return data if track is None else select(data, track=track)


def _without(band: MidiFileData, player: MidiFileData) -> MidiFileData | None:
    """Return the band's messages without the player's tracks; None if nothing is left."""
    tracks = {message.track for message in player.messages}
    rest = tuple(message for message in band.messages if message.track not in tracks)
    return replace(band, messages=rest) if rest else None


def _inputs(data: MidiFileData | None, port: Port) -> list[MidiIn]:
    if data is None:
        return []
    return [MidiIn(message.t_sec, port, message.data) for message in data.messages]
