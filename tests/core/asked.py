"""Listens in on what the core asks the soloist."""

from __future__ import annotations

import pytest

from jam.core import conversation
from jam.players.soloist.request import Reply, Request


def listen_in(monkeypatch: pytest.MonkeyPatch) -> list[Request]:
    """Return the list into which every question of a new reply goes."""
    asked: list[Request] = []
    answer = conversation.answer

    def answers(request: Request) -> Reply:
        asked.append(request)
        return answer(request)

    monkeypatch.setattr(conversation, "answer", answers)
    return asked
