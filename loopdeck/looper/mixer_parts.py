"""What players call the parts one hears: the click, the drums, what is played, every layer, and
everything together.

Conventions: parts are those of ``synth.events`` and ``master``; a layer is ``layer:N`` by its
channel slot (``layers.slot_of``).
"""

from loopdeck.errors import UserError
from loopdeck.looper.layers import LAYER_CHANNELS, slot_of
from loopdeck.synth.events import CLICK, DRUMS, LIVE, MASTER, layer_number, layer_part

#: The parts of the mixer, as they are told to the window.
MIXER_PARTS = (MASTER, CLICK, DRUMS, LIVE, *(layer_part(1 + seat) for seat in range(len(LAYER_CHANNELS))))


def part_of_words(words: object) -> str:
    """The mixer's part for what a player calls it: ``click``, ``layer 2``, ``layer:2``, ``2``;
    layer 15 shares that of layer 1, and so on.

    Raises UserError.
    """
    part = " ".join(str(words).lower().replace(":", " ").split())
    if part.isdecimal():
        part = f"layer {part}"
    part = part.replace(" ", ":")
    if part == MASTER:
        return part
    try:
        number = layer_number(part)
    except UserError as error:
        raise UserError(
            f"There is no part {str(words)[:40]!r} to be heard; there are click, drums, live, layer 1, layer 2 "
            "and so on, and master."
        ) from error
    return part if number is None else layer_part(slot_of(number))


def check_part(words: object) -> None:
    """Raises UserError if it is not a part."""
    part_of_words(words)


def words_of_part(part: str) -> str:
    """The same the other way round, to begin a sentence with."""
    number = layer_number(part) if part != MASTER else None
    if number is not None:
        return f"Layer {number}"
    return {CLICK: "The click", DRUMS: "The drums", LIVE: "What is played", MASTER: "Everything together"}[part]
