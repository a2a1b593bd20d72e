"""``jam doctor``: always an answer, whatever a machine lacks."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from jam.cli.main import main
from jam.errors import PortError
from jam.ports.memory_midi import MemoryMidi, PatchBay
from jam.session import health

Captured = pytest.CaptureFixture[str]


def test_doctor_always_answers(capsys: Captured) -> None:
    """Exit code 0, and a line for each thing looked at."""
    assert main(["doctor"]) == 0
    told = capsys.readouterr().out
    for what in (
        "Python",
        "styles and charts",
        "configuration",
        "your own folder",
        "MIDI",
        "sound",
        "your keys",
        "priority",
    ):
        assert f" {what}: " in told


def test_a_file_of_ones_own_that_is_broken_is_told(tmp_path: Path) -> None:
    """Styles, their idioms and charts: with file, line and mend, and how many more there are."""
    good = health.data(tmp_path)
    assert good.good
    (tmp_path / "styles").mkdir()
    (tmp_path / "styles" / "mine.yaml").write_text("name: mine\nabout: x\n")
    assert health.data(tmp_path).good
    (tmp_path / "styles" / "odd.yaml").write_text("name: odd\nabout: x\nrhytm: {}\n")
    (tmp_path / "config" / "charts").mkdir(parents=True)
    (tmp_path / "config" / "charts" / "half.yaml").write_text("title: half\n")
    found = health.data(tmp_path)
    assert not found.good
    assert "odd.yaml:3: rhytm" in found.found
    assert "and 1 more" in found.found
    assert found.mend


def test_without_the_native_libraries_it_says_what_mends_it() -> None:
    """A machine with no MIDI and no sound library: still 0, with the reason and one command."""
    program = (
        "import sys\n"
        "for name in ('rtmidi', 'supriya_midi', 'sounddevice'): sys.modules[name] = None\n"
        "from jam.cli.main import main\n"
        "sys.exit(main(['doctor']))"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "missing  MIDI: " in done.stdout
    assert "missing  sound: " in done.stdout
    assert "mend: pip install " in done.stdout
    if sys.platform.startswith("linux"):
        assert "mend: sudo apt install libportaudio2" in done.stdout


def test_ports_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """The system that answers is told with its ports, and whether it lets us make our own."""
    bay = PatchBay(lambda: 0.0)
    bay.plug_source("Keys")
    bay.plug_sink("Rack")
    monkeypatch.setattr(health, "open_system", lambda wanted: MemoryMidi(bay, "phrase-turns"))
    found = health.midi().found
    assert found == "memory; in: Keys; out: Rack; ports of our own can be made"


def test_a_system_that_cannot_be_opened_is_told_with_its_mend(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The words and the mend are those of the room that tried."""

    def refuse(wanted: str) -> MemoryMidi:
        raise PortError("no server is running", "start it")

    monkeypatch.setattr(health, "open_system", refuse)
    assert health.midi() == health.Finding("MIDI", False, "no server is running", "start it")


def test_keys_that_would_sound_twice_are_told(tmp_path: Path) -> None:
    """Passed on while the keyboard sounds itself is doubled; told to be silent, it is not
    (controller 122, local control: MIDI 1.0)."""
    put = tmp_path / "config" / "jam.yaml"
    put.parent.mkdir()
    put.write_text("thru: {to: sound}\n")
    finding = health.doubled(tmp_path)
    assert (finding.good, "local_off" in finding.mend) == (False, True)
    put.write_text("thru: {to: sound, local_off: true}\n")
    assert health.doubled(tmp_path).good


@pytest.mark.skipif(sys.platform != "linux", reason="real-time priority is asked for on Linux")
def test_what_grants_priority_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plain user without the limit is told what grants it (limits.conf(5): item rtprio)."""
    import resource  # noqa: PLC0415 (not on every system)

    monkeypatch.setattr(os, "geteuid", lambda: 1000)
    monkeypatch.setattr(resource, "getrlimit", lambda what: (0, 0))
    assert "rtprio" in health.priority().mend
    monkeypatch.setattr(resource, "getrlimit", lambda what: (95, 95))
    assert health.priority().good


def test_sound_devices_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only devices that can play count, the usual one first; none of them is said as such."""
    devices = [
        {"name": "Line in", "max_output_channels": 0, "index": 0},
        {"name": "Screen", "max_output_channels": 2, "index": 1},
        {"name": "Speakers", "max_output_channels": 2, "index": 2},
    ]
    usual = SimpleNamespace(device=(0, 2))
    module = SimpleNamespace(query_devices=lambda: devices, default=usual)
    monkeypatch.setitem(sys.modules, "sounddevice", module)  # type: ignore[arg-type]
    assert health.sound().found == "out: Speakers, Screen"
    del devices[1:]
    assert not health.sound().good


def test_a_look_that_fails_is_a_finding() -> None:
    """Whatever a look raises, the others go on."""

    def look() -> health.Finding:
        raise ValueError("odd\nthings")

    assert health._look("MIDI", look).found == "odd things"


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """A file stands where the folder should be: another one can be named."""
    blocked = tmp_path / "file"
    blocked.write_text("")
    finding = health.own_folder(blocked)
    assert not finding.good
    assert "--home" in finding.mend
    assert health.own_folder(tmp_path / "new" / "folder").good


def test_a_bad_configuration_is_told(tmp_path: Path) -> None:
    """The doctor names the file, the line and the mend as the check does."""
    (tmp_path / "config").mkdir()
    (tmp_path / "config" / "jam.yaml").write_text("styel: bop\n")
    assert "Did you mean `style`?" in health.configuration(tmp_path).found


def test_the_environment_is_left_as_it_was() -> None:
    """Keeping a sound server from starting is over when the look is over."""
    before = dict(os.environ)
    health.midi()
    health.sound()
    assert dict(os.environ) == before
