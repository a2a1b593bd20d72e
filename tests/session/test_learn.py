"""Learning a cue by pressing it: what counts as a press, and who listens."""

from __future__ import annotations

from pathlib import Path

import pytest

from jam.errors import InputError, PortError
from jam.ports.memory_midi import MemoryMidi, PatchBay
from jam.session.learn import NO_DAMPER, PATIENCE_SEC, assign, forget, list_cues, wait_for_press
from jam.session.press import SETTLE_SEC, PressEar
from jam.session.resources import CONFIG, CUES, find_config
from jam.session.triggers import Trigger, trigger_of

LATER = 2 * SETTLE_SEC

# Status bytes, and controllers 0, 32 (bank select), 64 (damper), 66 (sostenuto), 122 (local
# control): MIDI 1.0 Detailed Specification.
PRESSES = [
    ((0x90, 21, 80), Trigger(note=21)),
    ((0x9F, 36, 1), Trigger(note=36)),
    ((0xB0, 66, 127), Trigger(control=66)),
    ((0xB3, 66, 64), Trigger(control=66)),
    ((0xC0, 0), Trigger(program=1)),
    ((0xC5, 127), Trigger(program=128)),
    ((0x90, 21, 0), None),
    ((0x80, 21, 64), None),
    ((0xB0, 66, 63), None),
    ((0xB0, 64, 127), None),
    ((0xB0, 0, 120), None),
    ((0xB0, 32, 120), None),
    ((0xB0, 122, 127), None),
    ((0xE0, 0, 64), None),
    ((0xD0, 100), None),
    ((0xF8,), None),
    ((0xFE,), None),
    ((), None),
]


@pytest.mark.parametrize(("data", "trigger"), PRESSES)
def test_what_counts_as_a_press(data: tuple[int, ...], trigger: Trigger | None) -> None:
    """Keys, pads, program buttons and switches going down do; all else is passed over."""
    assert PressEar(0.0).hear(LATER, data) == trigger


def test_what_was_under_way_is_no_press() -> None:
    """A pedal that is held, or a key struck just before, does not answer the question."""
    ear = PressEar(10.0)
    assert ear.hear(10.1, (0xB0, 66, 127)) is None
    assert ear.hear(11.0, (0xB0, 66, 120)) is None
    assert ear.hear(11.1, (0xB0, 66, 0)) is None
    assert ear.hear(11.2, (0xB0, 66, 127)) == Trigger(control=66)
    assert PressEar(10.0).hear(10.1, (0x90, 60, 80)) is None


class Stage:
    """A patch bay whose time goes on when somebody rests, and a script of what is played."""

    def __init__(self, *script: tuple[float, tuple[int, ...]]) -> None:
        self.now = 0.0
        self.bay = PatchBay(lambda: self.now)
        self.keys = self.bay.plug_source("Keys")
        self.script = list(script)
        self.told: list[str] = []

    def rest(self, sec: float) -> None:
        """Let time go on, and play what is due."""
        self.now += max(sec, 0.05)
        while self.script and self.script[0][0] <= self.now:
            self.keys.send(self.script.pop(0)[1])

    def learn(self) -> Trigger:
        """Wait for a press as the command does."""
        system = MemoryMidi(self.bay, "phrase-turns")
        return wait_for_press(system, self.told.append, clock=lambda: self.now, rest=self.rest)


def test_the_damper_is_refused_and_another_is_waited_for() -> None:
    """The damper pedal stays a damper: that is said once, and the next press counts."""
    stage = Stage((1.0, (0xB0, 64, 127)), (1.5, (0xB0, 64, 0)), (2.0, (0xB0, 66, 127)))
    assert stage.learn() == Trigger(control=66)
    assert stage.told.count(NO_DAMPER) == 1
    assert "Keys" in stage.told[0]


def test_a_program_button_that_names_its_bank_is_a_program() -> None:
    """Bank select goes before a program change and means nothing by itself (MIDI 1.0)."""
    stage = Stage((1.0, (0xB0, 0, 121)), (1.0, (0xB0, 32, 0)), (1.0, (0xC0, 4)))
    assert stage.learn() == Trigger(program=5)


def test_patience_ends() -> None:
    """Nothing pressed: told with what else can be done."""
    stage = Stage()
    with pytest.raises(PortError, match="nothing was pressed") as caught:
        stage.learn()
    assert stage.now >= PATIENCE_SEC
    assert "--from" in caught.value.mend


def test_without_an_input_another_way_is_told() -> None:
    """No port, and none of our own can be made."""
    bay = PatchBay(lambda: 0.0)
    system = MemoryMidi(bay, "phrase-turns", name="none", has_virtual=False)
    with pytest.raises(PortError, match="--from"):
        wait_for_press(system, lambda line: None)


@pytest.mark.parametrize(
    ("text", "trigger"),
    [
        ("control:66", Trigger(control=66)),
        ("note:A0", Trigger(note=21)),
        ("note 21", Trigger(note=21)),
        ("Program:128", Trigger(program=128)),
    ],
)
def test_a_trigger_can_be_typed(text: str, trigger: Trigger) -> None:
    """The kind and the number, or the note's name."""
    assert trigger_of(text) == trigger


@pytest.mark.parametrize("text", ["control", "control:64", "control:120", "note:128", "66", "x:1"])
def test_what_is_no_trigger_is_told(text: str) -> None:
    """The word for the user shows what would do."""
    with pytest.raises(ValueError, match=r"write|take|choose"):
        trigger_of(text)


def test_a_learnt_cue_holds(tmp_path: Path) -> None:
    """It goes before the configuration's, beside those learnt before."""
    assign("take it", Trigger(note=21), tmp_path)
    assign("panic", Trigger(program=3), tmp_path)
    assert find_config(home=tmp_path).value.cue_map() == {
        ("note", 21): "take it",
        ("program", 2): "panic",
        ("control", 67): "lay out",
    }
    sources = {line.name: Path(line.source).name for line in list_cues(tmp_path) if line.source}
    assert sources == {"take it": CUES.name, "panic": CUES.name, "lay out": CONFIG.name}


def test_forgetting_holds(tmp_path: Path) -> None:
    """Nothing asks for the cue any more, though the configuration would have something."""
    forget("take it", tmp_path)
    assert ("control", 66) not in find_config(home=tmp_path).value.cue_map()
    assert "Nothing asks" in forget("take it", tmp_path)
    assign("take it", Trigger(control=66), tmp_path)
    assert find_config(home=tmp_path).value.cue_map()[("control", 66)] == "take it"


def test_clashes_are_told_before_anything_is_kept(tmp_path: Path) -> None:
    """With another cue, or with a level: the word names both, and no file is made."""
    config = tmp_path / CONFIG
    config.parent.mkdir()
    config.write_text("level_controls: {click: 20}\n")
    with pytest.raises(InputError, match=r"control 66 asks for `take it` already.*--instead"):
        assign("stop", Trigger(control=66), tmp_path)
    with pytest.raises(InputError, match="control 20 sets the level of `click`"):
        assign("stop", Trigger(control=20), tmp_path, instead=True)
    assert not (tmp_path / CUES).exists()


def test_a_damaged_file_is_told_and_kept(tmp_path: Path) -> None:
    """What the user wrote is not overwritten."""
    path = tmp_path / CUES
    path.parent.mkdir()
    path.write_text("cues: [1]\n")
    with pytest.raises(InputError, match=CUES.name):
        assign("stop", Trigger(control=20), tmp_path)
    assert path.read_text() == "cues: [1]\n"
