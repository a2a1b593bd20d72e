from __future__ import annotations
from dataclasses import dataclass
@dataclass(frozen=True)
class Figure:
    name: str
    classes: tuple
    directions: tuple
    why: str
    implied: object = None
    repeats: bool = False
def figures_for(*a, **k):
    return None
