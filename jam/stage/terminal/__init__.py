"""The terminal: keys in, a screen or plain lines out."""
