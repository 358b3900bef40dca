"""The error of this room, under its old name."""

from loopdeck.errors import UserError

SoundError = UserError
