"""Bytes of one track format in, a :class:`~analyser.importers.recording.Recording` out."""
