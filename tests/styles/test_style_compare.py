"""Two styles over the same calls: the table says what was played."""

from __future__ import annotations

from pathlib import Path

import pytest

from jam.cli.main import main
from jam.errors import InputError
from jam.log import Log
from jam.session.compare import WIDTH, CompareOptions, compare, table, turns_of
from jam.session.demo import demo, unkept
from jam.session.folder import LOG, WAV
from jam.session.options import DemoOptions
from jam.session.resources import find_style


def marked(text: str) -> dict[str, str]:
    """Return the marks of a table by the names of their rows."""
    ends = ("more", "higher", "louder")
    return {row[:30].strip(): row[58:].strip() for row in text.splitlines() if row.endswith(ends)}


def played(folder: Path, style: str) -> Log:
    return demo(DemoOptions(folder / style, style=style, choruses=2, wav=False)).log


@pytest.mark.slow
def test_both_hear_the_same_calls(tmp_path: Path) -> None:
    """What is compared are answers to one and the same player."""
    one, other = (
        [call["notes"] for call in played(tmp_path, style).of("call")]
        for style in ("bop", "sparse")
    )
    assert len(one) >= 3
    assert [[n["pitch"] for n in call] for call in one] == [
        [n["pitch"] for n in call] for call in other
    ]


@pytest.mark.slow
def test_the_turns_are_those_of_the_log(tmp_path: Path) -> None:
    """Each reply lies in a turn of the companion's, its chords known from the start on."""
    log = played(tmp_path, "lyrical")
    taken = {turn["beat"] for turn in log.of("turn") if turn["who"] == "companion"}
    turns = turns_of(log)
    assert turns
    assert {turn.start for turn in turns} <= taken
    assert all(turn.changes[0][0] <= turn.start for turn in turns)


@pytest.mark.slow
def test_a_style_against_itself_is_not_marked() -> None:
    """The same style, tune and seed: the same notes, so no row says more."""
    text = compare(CompareOptions(("bop", "bop"), choruses=2))
    assert len(text.splitlines()) > 30
    assert not marked(text)


@pytest.mark.slow
@pytest.mark.parametrize("style", ["bop", "sparse"])
def test_another_seed_alone_is_marked_in_one_row_of_twenty(style: str, tmp_path: Path) -> None:
    """One style, seeds in pairs: the marks are those of chance (up to 3 of its own spread)."""
    found = find_style(style).value
    logs = [unkept(DemoOptions(tmp_path, style=style, seed=n, choruses=8)) for n in range(1, 13)]
    texts = [table((found, found), pair) for pair in zip(logs[::2], logs[1::2], strict=True)]
    rows = sum(len(text.splitlines()) - 9 for text in texts)
    assert sum(len(marked(text)) for text in texts) <= 0.05 * rows + 3 * (0.05 * rows) ** 0.5


@pytest.mark.slow
def test_styles_that_differ_are_told_apart() -> None:
    """`sparse` says less than `bop`, leaves more room and takes fragments of the call."""
    rows = marked(compare(CompareOptions(("bop", "sparse"))))
    assert rows["notes a beat"] == "first more"
    assert rows["silent"] == "second more"
    assert rows["fragment"] == "second more"


@pytest.mark.slow
def test_it_fits_a_terminal_and_tells_what_is_known_of_the_styles(
    capsys: pytest.CaptureFixture[str],
) -> None:
    """`river` is a clarinet, `stubborn` a louder trombone, and no line is too wide."""
    assert main(["compare", "river", "stubborn", "--seed", "3"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert max(len(line) for line in lines) <= WIDTH
    rows = {line[:30].strip(): line for line in lines}
    assert rows["lowest note of a reply"].endswith("first higher")
    assert rows["loudness"].endswith("second louder")


@pytest.mark.slow
def test_both_sessions_are_kept_where_asked(tmp_path: Path) -> None:
    """With --wav there is a whole session folder for each, to listen to."""
    compare(CompareOptions(("bop", "blues"), choruses=1, wav=tmp_path / "kept"))
    for name in ("1-bop", "2-blues"):
        assert (tmp_path / "kept" / name / LOG).is_file()
        assert (tmp_path / "kept" / name / WAV).stat().st_size > 100_000


def test_what_is_not_there_is_one_error(capsys: pytest.CaptureFixture[str]) -> None:
    """A style or a chart that is not known, told before anything is played."""
    with pytest.raises(InputError, match="`bop`"):
        compare(CompareOptions(("bopp", "bop")))
    assert main(["compare", "bop", "blues", "--chart", "no-such-tune"]) == 2
    assert "no-such-tune" in capsys.readouterr().err
