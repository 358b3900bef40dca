"""Rhythm transcription (working text)."""
