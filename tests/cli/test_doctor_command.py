"""``jam doctor``: always an answer, whatever a machine lacks."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from jam.cli.main import main
from jam.session import health

Captured = pytest.CaptureFixture[str]
BINDING = "rtmidi" if sys.version_info < (3, 13) else "supriya_midi"


class Listing:
    """A MIDI client with one port."""

    def __init__(self, api: int) -> None:
        self.api = api

    def get_ports(self) -> list[str]:
        """Return the port's name."""
        return ["Keys 20:0"]


class NoAlsa(Listing):
    """A MIDI client as on a machine without the ALSA sequencer."""

    def __init__(self, api: int) -> None:
        class SystemError(Exception):
            """A class of the driver's own, as rtmidi's is."""

        if api == 2:
            raise SystemError("error creating ALSA sequencer client object")
        super().__init__(api)


def binding(client: type[Listing]) -> SimpleNamespace:
    """Return a module that looks like the binding, on Linux with ALSA (2) and JACK (3)."""
    return SimpleNamespace(
        MidiIn=client,
        MidiOut=client,
        API_LINUX_ALSA=2,
        API_UNIX_JACK=3,
        get_compiled_api=lambda: [2, 3],
    )


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
    ):
        assert f" {what}: " in told


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
    if sys.platform.startswith("linux"):
        assert done.stdout.count("mend: sudo apt install libportaudio2") == 2


@pytest.mark.skipif(not sys.platform.startswith("linux"), reason="ALSA and JACK are of Linux")
def test_jack_is_tried_after_alsa(monkeypatch: pytest.MonkeyPatch) -> None:
    """The first system that answers is told with its ports; a failing one is passed over."""
    monkeypatch.setitem(sys.modules, BINDING, binding(Listing))  # type: ignore[arg-type]
    assert health.midi().found == "ALSA; in: Keys 20:0; out: Keys 20:0"
    monkeypatch.setitem(sys.modules, BINDING, binding(NoAlsa))  # type: ignore[arg-type]
    assert health.midi().found == "JACK; in: Keys 20:0; out: Keys 20:0"


def test_a_stranger_of_the_same_name_is_told_apart(monkeypatch: pytest.MonkeyPatch) -> None:
    """Other packages are called like the binding: the mend names both."""
    monkeypatch.setitem(sys.modules, BINDING, SimpleNamespace())  # type: ignore[arg-type]
    finding = health.midi()
    assert not finding.good
    assert "pip uninstall" in finding.mend


def test_sound_devices_are_named(monkeypatch: pytest.MonkeyPatch) -> None:
    """Only devices that can play count; none of them is said as such."""
    devices = [
        {"name": "Line in", "max_output_channels": 0},
        {"name": "Speakers", "max_output_channels": 2},
    ]
    module = SimpleNamespace(query_devices=lambda: devices)
    monkeypatch.setitem(sys.modules, "sounddevice", module)  # type: ignore[arg-type]
    assert health.sound().found == "out: Speakers"
    del devices[1]
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
