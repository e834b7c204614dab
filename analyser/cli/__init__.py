"""The ``crabline`` command: parse, call, print, exit code; no arithmetic."""

from analyser.cli.app import app, main

__all__ = ["app", "main"]
