"""Which MIDI system is opened, and that whatever is missing is told with the one mend."""

from __future__ import annotations

import os
import sys
from pathlib import Path
from types import SimpleNamespace

import pytest

from jam.errors import PortError
from jam.ports import bindings, systems
from jam.ports.bindings import Binding
from jam.ports.systems import open_system

MODULE = "rtmidi" if sys.version_info < (3, 13) else "supriya_midi"


class Opened:
    """Stands for a system that opens."""

    def __init__(self, name: str) -> None:
        self.name = name


def on(monkeypatch: pytest.MonkeyPatch, platform: str, **failures: str) -> list[str]:
    """Pretend a platform on which the systems named fail so; return the list of those tried."""
    tried: list[str] = []

    def make(_: Binding, name: str, client: str) -> Opened:
        tried.append(name)
        if name in failures:
            raise PortError(f"{name}: {failures[name]}")
        return Opened(name)

    monkeypatch.setattr(sys, "platform", platform)
    monkeypatch.setattr(systems, "RtMidiSystem", make)
    monkeypatch.setattr(systems, "load", lambda: SimpleNamespace(has=lambda name: True))
    return tried


NO_ALSA = "MidiInAlsa::initialize: error creating ALSA sequencer client object"
NO_JACK = "MidiInJack::initialize: JACK server not running?"


@pytest.mark.parametrize(
    ("platform", "name"), [("darwin", "CoreMIDI"), ("win32", "Windows MM"), ("linux", "ALSA")]
)
def test_auto_takes_the_system_of_the_platform(
    monkeypatch: pytest.MonkeyPatch, platform: str, name: str
) -> None:
    """One is tried and nothing else."""
    tried = on(monkeypatch, platform)
    assert open_system("auto", "us").name == name
    assert tried == [name]


def test_jack_is_tried_only_after_alsa_and_no_server_is_started(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """JACK's own switch against starting a server is set before anything is tried."""
    monkeypatch.delenv("JACK_NO_START_SERVER", raising=False)
    tried = on(monkeypatch, "linux", ALSA=NO_ALSA)
    assert open_system().name == "JACK"
    assert tried == ["ALSA", "JACK"]
    assert os.environ["JACK_NO_START_SERVER"] == "1"


def test_nothing_on_linux_is_told_in_plain_words(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """Both reasons in our words, and the one command."""
    on(monkeypatch, "linux", ALSA=NO_ALSA, JACK=NO_JACK)
    monkeypatch.setattr(systems, "SEQUENCER", tmp_path / "seq")
    with pytest.raises(PortError) as caught:
        open_system()
    assert "sequencer is not there" in caught.value.problem
    assert "no JACK server is running" in caught.value.problem
    assert "initialize" not in caught.value.problem
    assert caught.value.mend == "sudo modprobe snd-seq"


def test_a_sequencer_that_may_not_be_opened_is_a_matter_of_groups(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """It is there, so no module is missing."""
    on(monkeypatch, "linux", ALSA=NO_ALSA)
    sequencer = tmp_path / "seq"
    sequencer.touch()
    monkeypatch.setattr(systems, "SEQUENCER", sequencer)
    with pytest.raises(PortError) as caught:
        open_system("alsa")
    assert "may not be opened" in caught.value.problem
    assert "audio" in caught.value.mend


def test_jack_alone_is_mended_by_its_server(monkeypatch: pytest.MonkeyPatch) -> None:
    """Who wishes for JACK gets JACK or its mend, not ALSA."""
    tried = on(monkeypatch, "linux", JACK=NO_JACK)
    with pytest.raises(PortError) as caught:
        open_system("JACK")
    assert tried == ["JACK"]
    assert "jackd" in caught.value.mend


def test_an_unknown_system_is_told_with_those_there_are(monkeypatch: pytest.MonkeyPatch) -> None:
    """Those of this platform only."""
    on(monkeypatch, "darwin")
    with pytest.raises(PortError) as caught:
        open_system("ALSA")
    assert "CoreMIDI" in caught.value.mend
    assert "JACK" not in caught.value.mend


def test_memory_and_none_need_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """No binding is loaded for them; ``none`` has no ports at all."""
    monkeypatch.setitem(sys.modules, MODULE, None)
    assert open_system("memory").virtual_output("companion").name == "phrase-turns:companion"
    nothing = open_system("none")
    assert (nothing.name, nothing.has_virtual) == ("none", False)
    assert nothing.inputs() == nothing.outputs() == []
    with pytest.raises(PortError):
        nothing.virtual_input("player")


def test_a_binding_that_does_not_load_is_mended_by_one_command(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """Not installed: by pip; a library of the system missing, on Linux: by apt."""
    monkeypatch.setitem(sys.modules, MODULE, None)
    with pytest.raises(PortError) as caught:
        bindings.load()
    assert caught.value.mend.startswith("pip install ")

    def fail(name: str) -> None:
        raise ImportError("libasound.so.2: cannot open shared object file")

    monkeypatch.setattr(bindings.importlib, "import_module", fail)
    monkeypatch.setattr(sys, "platform", "linux")
    with pytest.raises(PortError) as caught:
        bindings.load()
    assert "libasound.so.2" in caught.value.problem
    assert caught.value.mend == bindings.APT_MEND


def test_another_package_of_that_name_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """There are others on the package index, which break whatever imports them."""
    monkeypatch.setitem(sys.modules, MODULE, SimpleNamespace())  # type: ignore[arg-type]
    with pytest.raises(PortError) as caught:
        bindings.load()
    assert "another package" in caught.value.problem
    assert caught.value.mend.startswith("pip uninstall ")
