"""A disk that is full at the beginning of a tune is told, and the tune is played all the same."""

from __future__ import annotations

from pathlib import Path
from time import perf_counter
from typing import Any

import pytest
from twin_process import TwinProcess

from jam.errors import InputError
from jam.ports.wishes import Wishes
from jam.session import take as takes
from jam.session.io_client import IoClient
from jam.session.live import Live
from jam.session.live_options import LiveOptions
from jam.session.live_plan import plan_live
from jam.session.waiter import Waiter


def test_a_take_whose_folder_cannot_be_written_is_kept_elsewhere(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The first try fails as a full disk does; the take begins in another folder."""
    written = takes.write_copies
    tries: list[Path] = []

    def full_at_first(folder: Path, *more: Any) -> None:
        tries.append(folder)
        if len(tries) == 1:
            raise OSError(28, "No space left on device")
        written(folder, *more)

    monkeypatch.setattr(takes, "write_copies", full_at_first)
    asked = LiveOptions(
        anew=True, home=tmp_path / "own", out_folder=tmp_path / "wished", view="lines", seed=1
    )
    client = IoClient(Wishes(), lambda _: TwinProcess(perf_counter), perf_counter)
    waiter = Waiter()
    live = Live(plan_live(asked), client, waiter)
    take = live._new_take()
    assert [folder == tmp_path / "wished" for folder in tries] == [True, False]
    assert take.folder == tries[1]
    take.finish()
    assert take.leave().folder is None
    waiter.close()


def test_a_folder_asked_for_that_will_not_do_is_refused_before_anything_is_shown(
    tmp_path: Path,
) -> None:
    """It holds somebody's practice already: one plain error, and no screen is taken."""
    wished = tmp_path / "wished"
    wished.mkdir()
    (wished / "session.jsonl").write_text("")
    asked = LiveOptions(anew=True, home=tmp_path / "own", out_folder=wished, view="lines", seed=1)
    client = IoClient(Wishes(), lambda _: TwinProcess(perf_counter), perf_counter)
    waiter = Waiter()
    live = Live(plan_live(asked), client, waiter)
    shown: list[str] = []
    live._view.start = lambda: shown.append("start")  # type: ignore[method-assign]
    with pytest.raises(InputError, match="earlier session"):
        live.run()
    assert not shown
    waiter.close()
