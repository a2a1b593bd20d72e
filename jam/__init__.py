"""A live jam companion: it listens to a phrase and answers it, in time, over the changes."""

__version__ = "0.1.0"
