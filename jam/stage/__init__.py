"""Stage: what a player sees and presses while a session goes on."""
