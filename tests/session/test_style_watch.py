"""Styles whose files change while music is played: read again, or told what is wrong with them."""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from time import perf_counter

import pytest
from test_take import BEAT_SEC, Stage, line
from twin_process import TwinProcess

from jam.charts.model import RoadMap
from jam.core.setup import Turns
from jam.core.style_rack import NEW_STYLE, new_style_value
from jam.events import Input, Intent
from jam.ports.wishes import Wishes
from jam.session.io_client import IoClient
from jam.session.live import Live
from jam.session.live_options import LiveOptions
from jam.session.live_plan import LivePlan, plan_live
from jam.session.replay import replay
from jam.session.style_watch import StyleNews, StyleWatch
from jam.session.waiter import Waiter
from jam.stage.terminal.keys import open_keys
from jam.styles.loader import load_style

BASE = "name: {}\nabout: made for a test\nrhythm:\n  density: {}\n"


class Files:
    """Style files in a folder of their own, watched by hand."""

    def __init__(self, folder: Path, home: Path | None = None) -> None:
        self.paths = [folder / "mine.yaml", folder / "other.yaml"]
        self._written = 0
        for path in self.paths:
            self.write(path, BASE.format(path.stem, 1.5))
        styles = [load_style(path.read_text(), str(path)) for path in self.paths]
        self.watch = StyleWatch(styles, self.paths, home=home or folder)

    def write(self, path: Path, text: str) -> None:
        """Write a file, a second later than the last one by its stamp."""
        path.write_text(text)
        self._written += 1
        os.utime(path, (self._written, self._written))

    def look(self) -> list[StyleNews]:
        """Look as often as it takes, and return the news."""
        self.watch.look()
        self.watch.look()
        return self.watch.news()


@pytest.fixture
def files(tmp_path: Path) -> Files:
    """Return two styles in two files."""
    return Files(tmp_path)


def test_nothing_changed_is_no_news(files: Files) -> None:
    """A file that is written again with what it said before is none either."""
    assert files.look() == []
    files.write(files.paths[0], BASE.format("mine", 1.5))
    assert files.look() == []


def test_a_changed_style_is_read_again(files: Files) -> None:
    """Its news say which style it takes the place of, by the name that one had."""
    files.write(files.paths[1], BASE.format("another", 2.5))
    (news,) = files.look()
    assert (news.replaces, news.style.name, news.trouble) == ("other", "another", "")
    assert news.style.rhythm.density == 2.5
    assert files.look() == []


def test_another_name_than_its_file_has_is_told(tmp_path: Path) -> None:
    """Among the styles that are found by name: it could not be asked for by the name it shows."""
    (tmp_path / "styles").mkdir()
    files = Files(tmp_path / "styles", tmp_path)
    files.write(files.paths[1], BASE.format("another", 2.5))
    (news,) = files.look()
    assert "Write `name: other`" in news.trouble
    assert news.style.name == "other"


def test_a_file_is_not_read_while_it_is_written(files: Files) -> None:
    """What has changed between two looks is left for the next one."""
    files.write(files.paths[0], "na")
    files.watch.look()
    files.write(files.paths[0], BASE.format("mine", 2.0))
    files.watch.look()
    assert files.watch.news() == []
    (news,) = files.look()
    assert news.trouble == ""
    assert news.style.rhythm.density == 2.0


def test_a_broken_style_keeps_the_last_good_one(files: Files) -> None:
    """And says file, line, field, value and mend, once; when it is mended, that is news too."""
    files.write(files.paths[0], BASE.format("mine", 9))
    (news,) = files.look()
    assert news.style.rhythm.density == 1.5
    assert f"{files.paths[0]}:4: rhythm.density:" in news.trouble
    assert "9" in news.trouble
    files.write(files.paths[0], BASE.format("mine", 9) + "\n")
    assert files.look() == []
    files.write(files.paths[0], BASE.format("mine", 1.5))
    (news,) = files.look()
    assert (news.trouble, news.style.rhythm.density) == ("", 1.5)


def test_a_file_that_goes_away_is_told(files: Files) -> None:
    """An editor that moves files about is no reason to stop."""
    files.paths[0].unlink()
    (news,) = files.look()
    assert "no such file" in news.trouble
    files.write(files.paths[0], BASE.format("mine", 2.0))
    assert files.look()[0].style.rhythm.density == 2.0


def test_what_a_style_is_based_on_counts(files: Files) -> None:
    """A style changes with the one it is based on."""
    files.write(files.paths[0], "name: mine\nabout: as the other\nbased_on: other\n")
    assert files.look()[0].style.rhythm.density == 1.5
    files.write(files.paths[1], BASE.format("other", 3.0))
    told = {news.replaces: news.style.rhythm.density for news in files.look()}
    assert told == {"mine": 3.0, "other": 3.0}


def test_an_idiom_that_nobody_has_read_waits_for_the_next_session(files: Files) -> None:
    """It is named, with its line; the built-in one is always at hand."""
    files.write(files.paths[0], BASE.format("mine", 1.5) + "idiom:\n  name: elsewhere\n")
    (news,) = files.look()
    assert f"{files.paths[0]}:6: idiom.name: found 'elsewhere'" in news.trouble
    assert "plain" in news.trouble
    files.write(files.paths[0], BASE.format("mine", 1.5) + "idiom:\n  name: plain\n")
    assert files.look()[0].trouble == ""


@pytest.fixture
def plan(tmp_path: Path) -> LivePlan:
    """Return a plan with a style of the user's own."""
    own = tmp_path / "own" / "styles"
    own.mkdir(parents=True)
    (own / "mine.yaml").write_text(BASE.format("mine", 1.5))
    asked = LiveOptions(
        chart="lamplight-blues", tempo_bpm=240.0, seed=7, anew=True, style="mine",
        home=tmp_path / "own", view="lines",
    )  # fmt: skip
    return plan_live(asked)


def test_the_plan_names_a_file_for_every_style(plan: LivePlan) -> None:
    """In the order of the styles."""
    assert len(plan.style_files) == len(plan.setup.styles) > 2
    assert plan.style_files[0].name == "mine.yaml"


def test_live_hands_on_what_was_read_and_shows_what_was_not(plan: LivePlan) -> None:
    """The next take begins with the style as it is now."""
    client = IoClient(Wishes(), lambda _: TwinProcess(perf_counter), perf_counter)
    waiter = Waiter()
    live = Live(plan, client, waiter)
    told: list[tuple[str, str]] = []
    live._view.tell = lambda topic, text: told.append((topic, text))  # type: ignore[method-assign]
    good = plan.setup.style.model_copy(update={"landing": ["5"]})
    assert live._changed(StyleNews("mine", plan.setup.style, "mine.yaml:4: wrong"), 1.0) == []
    assert told == [("style mine", "Played on as it was: mine.yaml:4: wrong")]
    assert live._changed(StyleNews("mine", good), 2.0) == [
        Intent(2.0, NEW_STYLE, new_style_value("mine", good))
    ]
    assert ("style mine", "") in told
    assert live._plan.setup.style == live._plan.setup.styles[0] == good
    waiter.close()


def test_the_loop_picks_up_what_was_found(plan: LivePlan, tmp_path: Path) -> None:
    """A file that was written while the loop waits is in force after one more look round it."""
    plan = replace(plan, out_folder=tmp_path / "out")
    client = IoClient(Wishes(), lambda _: TwinProcess(perf_counter), perf_counter)
    waiter = Waiter()
    live = Live(plan, client, waiter)
    live._keys = open_keys()
    take = live._new_take()
    plan.style_files[0].write_text(BASE.format("mine", 2.0))
    live._styles.look()
    live._styles.look()
    live._once(take)
    live._keys.close()
    assert take.snapshot.style == "mine"
    assert live._plan.setup.style.rhythm.density == 2.0
    take.finish()
    waiter.close()


def test_a_take_with_a_changed_style_is_the_same_again(plan: LivePlan, tmp_path: Path) -> None:
    """The folder holds the style as it became, and a replay gives the same notes."""
    plan = replace(
        plan,
        setup=replace(
            plan.setup, turns=Turns("trade", 2), road_map=RoadMap(1, "none", None, "none")
        ),
    )
    stage = Stage(plan, tmp_path / "take")
    busy = plan.setup.style.model_copy(
        update={"rhythm": plan.setup.style.rhythm.model_copy(update={"density": 1 / 0.3})}
    )
    inputs: list[Input] = [Intent(0.1, "start"), *line(1.1, 2)]
    inputs.append(Intent(4.0, NEW_STYLE, new_style_value("mine", busy)))
    stage.run(3.0 + 48 * BEAT_SEC, inputs)
    stage.take.finish()
    left = stage.take.leave()
    assert left.folder is not None
    assert left.replies >= 2
    copy = left.folder / "style-changed-1.yaml"
    kept = load_style(copy.read_text(), str(copy))
    assert kept.rhythm.density == pytest.approx(1 / 0.3, abs=1e-6)
    result = replay(left.folder)
    assert result.same, result.text
