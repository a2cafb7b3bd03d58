"""The face at the desk: a command parses, calls one function, prints. No rule of the trade lives here."""

from subbase.cli.main import main

__all__ = ["main"]
