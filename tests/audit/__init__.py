"""An independent audit of session logs: it imports nothing of the package it judges."""
