"""Which part sounds where: built in, by MIDI, or both.

Conventions: a route is written ``click=sound,layers=both,live=midi``; one word alone is for every
part. The parts of a route are ``click``, ``drums``, ``layers`` and ``live``, the ways ``sound``,
``midi``, ``both``. The parts of the mixer are those of ``sound.events`` and ``master``.
"""

from loopdeck.errors import UserError
from loopdeck.looper.layers import LAYER_CHANNELS
from loopdeck.synth.events import LIVE, MASTER, layer_number, layer_part

PARTS = ("click", "drums", "layers", "live")
WAYS = {"sound": (True, False), "midi": (False, True), "both": (True, True)}
#: The looper's own name of a part (of an ``Out``) to the route's.
_OF_OUT = {"layer": "layers"}


class Routes:
    """The ways of all parts.

    ``text`` as above; ``rest`` is the way of the parts it does not name. Raises UserError.
    """

    def __init__(self, text: str, rest: str = "sound") -> None:
        self._ways = dict.fromkeys(PARTS, WAYS[rest])
        self._named: set[str] = set()
        for piece in (one.strip() for one in text.split(",") if one.strip()):
            name, equals, way = (one.strip().lower() for one in piece.partition("="))
            names = (name,) if equals else PARTS
            way = way if equals else name
            if way not in WAYS or not set(names) <= set(PARTS):
                raise UserError(
                    f"{piece!r} is not a route; name a part ({', '.join(PARTS)}) and where it sounds "
                    f"({', '.join(WAYS)}), as in click=sound,layers=both."
                )
            self._ways |= dict.fromkeys(names, WAYS[way])
            self._named |= set(names)

    def sound(self, part: str) -> bool:
        """True when the part of an ``Out`` sounds built in."""
        return self._way(part)[0]

    def midi(self, part: str) -> bool:
        """True when it goes out by MIDI."""
        return self._way(part)[1]

    def way_of(self, part: str) -> str:
        """The word for the way of a part of the mixer; "" for ``master``, which has none."""
        if part == MASTER:
            return ""
        ways = self._ways["layers" if layer_number(part) is not None else part]
        return next(word for word, pair in WAYS.items() if pair == ways)

    def set_rest(self, rest: str) -> None:
        """From now on this is the way of the parts that the text did not name."""
        self._ways |= dict.fromkeys((part for part in PARTS if part not in self._named), WAYS[rest])

    def any_sound(self) -> bool:
        """True when anything sounds built in."""
        return any(sound for sound, _ in self._ways.values())

    def _way(self, part: str) -> tuple[bool, bool]:
        # What is new to us is heard rather than lost.
        return self._ways.get(_OF_OUT.get(part, part), (True, True))


def mixer_part(part: str, channel: int) -> str:
    """The mixer's part for an ``Out``: layers send on channels 2 to 9 and 11 to 16 in turn
    (``channel`` counts from 0).
    """
    if part == "layer":
        return layer_part(1 + LAYER_CHANNELS.index(channel) if channel in LAYER_CHANNELS else 1)
    return part if part in ("click", "drums") else LIVE


def check_route(text: str) -> None:
    """Raises UserError for a route that cannot be read."""
    Routes(text)


def check_delay(milliseconds: float) -> None:
    """Raises UserError for a delay no device has."""
    if not 0.0 <= milliseconds <= 1000.0:
        raise UserError(f"A sound delay of {milliseconds:g} ms is out of range; 0 to 1000 would be right.")
