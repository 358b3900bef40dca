"""What there is to say of one field of a brief: how it is read and written, and what a player is
told of it.

A field's spec stands beside the field in ``Brief`` and nowhere else: files, messages, the shelf,
the window's page, the options of commands, their help and the docs all read it.
"""

import re
from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from loopdeck.errors import UserError

#: When a change takes effect while time runs: at once, at the next beat of the click, at the next
#: start of the cycle.
NOW, BEAT, CYCLE = "now", "beat", "cycle"
WHEN_WORDS = {NOW: "at once", BEAT: "at the next beat", CYCLE: "at the next start of the cycle"}
MAX_WORDS = 400


class Whole(NamedTuple):
    """A field that is a whole number: from ``low`` to ``high``, in ``unit``; one step changes it by
    ``step``, a big one by ``big``.
    """

    low: int
    high: int
    unit: str
    step: int
    big: int

    def parse(self, text: str) -> int:
        """The number in a text, with or without a percent sign. Raises UserError."""
        word = text.strip().removesuffix("%").strip()
        unit = f" {self.unit}" if self.unit else ""
        if not re.fullmatch(r"-?[0-9]{1,9}", word, re.ASCII):
            raise UserError(
                f"{text[:40]!r} is not a whole number; it must be one from {self.low} to {self.high}{unit}."
            )
        if not self.low <= int(word) <= self.high:
            raise UserError(f"{word} is out of range; it must lie between {self.low} and {self.high}{unit}.")
        return int(word)

    def limited(self, value: int) -> int:
        """The nearest number in range."""
        return max(self.low, min(self.high, value))


@dataclass(frozen=True)
class Spec:
    """One field. ``name`` is its key in files and messages, ``title`` what a player calls it.

    ``parse`` reads its text and raises UserError; ``text`` writes it so that ``parse`` reads it
    back; ``say`` writes it for a sentence. ``default`` is a text. ``hint`` says what may be typed,
    ``about`` what it is for. ``when``: NOW, BEAT or CYCLE. ``choices`` are texts to step through
    where there are usual ones, ``whole`` a range where the field is a number.
    """

    title: str
    parse: Callable[[str], Any]
    default: str
    hint: str
    about: str
    when: str = NOW
    text: Callable[[Any], str | int] = str
    say: Callable[[Any], str] | None = None
    choices: Callable[[], tuple[str, ...]] | None = None
    whole: Whole | None = None
    #: Whether it stands on the window's page, where it is changed while playing.
    on_page: bool = True
    name: str = ""

    @property
    def kind(self) -> str:
        """What it is in JSON."""
        return "number" if self.whole is not None else "string"

    def read(self, value: Any, where: str = "") -> Any:
        """The field from a text or a number; ``where`` leads the sentence when it comes from a
        file. Raises UserError.
        """
        if isinstance(value, bool) or not isinstance(value, str | int | float):
            raise UserError(f"{where}The {self.name} of a brief must be a text or a number.")
        try:
            return self.parse(str(value))
        except UserError as error:
            raise UserError(f"{where}{self.name}: {error}") from error

    def sentence(self, value: Any) -> str:
        """The field and its value as a player would say it: ``Count-in: 2 bars``."""
        said = self.say(value) if self.say is not None else str(self.text(value))
        return f"{self.title[0].upper()}{self.title[1:]}: {said or 'none'}"


def spec(title: str, parse: Callable[[str], Any], default: str, hint: str, about: str, **more: Any) -> Any:
    """A dataclass field with its spec."""
    return field(metadata={"spec": Spec(title, parse, default, hint, about, **more)})


def whole(title: str, numbers: Whole, default: int, hint: str, about: str, **more: Any) -> Any:
    """A field that is a whole number."""
    say = (lambda value: f"{value} {numbers.unit}") if numbers.unit else str
    return spec(title, numbers.parse, str(default), hint, about, **{"text": int, "say": say, "whole": numbers, **more})


def words(text: str) -> str:
    """One line of free words. Raises UserError."""
    line = text.strip()
    if len(line) > MAX_WORDS or not (line.isprintable() or not line):
        raise UserError(f"Such a text must be one line of at most {MAX_WORDS} letters.")
    return line
