"""What was chosen last night, in ``last-night.yaml`` of the user's own folder.

Only what was said is kept, not what follows from a set-up or the configuration, so that a change
there takes hold. A file that cannot be read is moved aside and told, never overwritten.
"""

from __future__ import annotations

import os
from contextlib import suppress
from pathlib import Path
from typing import Annotated, Final, Literal, Protocol

import yaml
from pydantic import Field

from jam.errors import InputError
from jam.session.config import HIGHEST_BPM, LOWEST_BPM
from jam.session.options import LiveTurnChoice
from jam.session.piece import AsWord, Piece
from jam.session.resources import home_folder, read_text
from jam.yaml_text import validate

FILE: Final = "last-night.yaml"
ASIDE: Final = "last-night.damaged.yaml"
_HEAD = "# What was chosen last. `jam play --anew` leaves it out; you may delete this file.\n"


class SaidPorts(Piece):
    """The ports that were named; None was not said."""

    player: str | None = None
    band: str | None = None
    clock: str | None = None
    cues: str | None = None
    out: str | None = None


class Choices(Piece):
    """What was said; None was not. ``tempo`` is in quarter notes a minute."""

    setup: str | None = None
    chart: str | None = None
    style: str | None = None
    tempo: Annotated[float, Field(ge=LOWEST_BPM, le=HIGHEST_BPM)] | None = None
    turns: Annotated[LiveTurnChoice, AsWord] | None = None
    clock: Literal["internal", "midi", "taps"] | None = None
    ports: SaidPorts = SaidPorts()

    def over(self, before: Choices) -> Choices:
        """Return these choices, with those of ``before`` that still belong to them.

        A tempo belongs to its chart; turns, clock and ports belong to their set-up.
        """
        mine = self.model_dump(exclude_none=True)
        theirs = before.model_dump(exclude_none=True)
        if self.setup is not None and self.setup != before.setup:
            theirs = {key: theirs[key] for key in ("chart", "style", "tempo") if key in theirs}
        if self.chart is not None and self.chart != before.chart:
            theirs.pop("tempo", None)
        ports = {**theirs.get("ports", {}), **mine.get("ports", {})}
        return Choices.model_validate({**theirs, **mine, "ports": ports})


class Kept(Protocol):
    """What a plan tells of itself to be kept."""

    @property
    def choices(self) -> Choices:
        """What was said."""

    @property
    def home(self) -> Path | None:
        """The user's own folder, if another than the usual one."""


def remembered(home: Path | None = None) -> tuple[Choices, str]:
    """Return last night's choices, and a line for the user if they could not be read."""
    path = home_folder(home) / FILE
    try:
        if not path.exists():
            return Choices(), ""
        return validate(Choices, read_text(path), str(path))[0], ""
    except (InputError, OSError) as error:
        aside = path.with_name(ASIDE)
        with suppress(OSError):
            os.replace(path, aside)
            return (
                Choices(),
                f"Last night's choices cannot be read ({error}) Moved to {aside.name}.",
            )
        return Choices(), f"Last night's choices cannot be read ({error})"


def keep(plan: Kept) -> str:
    """Keep the choices of a plan; return a line for the user if that is not possible."""
    folder = home_folder(plan.home)
    values = plan.choices.model_dump(mode="json", exclude_none=True, exclude_defaults=True)
    fresh = folder / f"{FILE}.{os.getpid()}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        body = yaml.safe_dump(values, sort_keys=False, allow_unicode=True) if values else "{}\n"
        fresh.write_text(_HEAD + body, encoding="utf-8", newline="\n")
        os.replace(fresh, folder / FILE)
    except OSError as error:
        with suppress(OSError):
            fresh.unlink()
        return f"What you chose could not be kept for next time: {error.strerror or error}."
    return ""
