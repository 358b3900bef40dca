"""A cache of things made by key, of which the least recently used are dropped. Pure."""

from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

Made = TypeVar("Made")


class RecentCache(Generic[Made]):
    """Keeps the ``most`` things that were asked for last."""

    def __init__(self, most: int) -> None:
        self._most = most
        self._made: OrderedDict[Hashable, Made] = OrderedDict()

    def get(self, key: Hashable, make: Callable[[], Made]) -> Made:
        """The one of this key, made now if it is not there."""
        found = self._made.get(key)
        if found is None:
            found = self._made[key] = make()
            if len(self._made) > self._most:
                self._made.popitem(last=False)
        else:
            self._made.move_to_end(key)
        return found

    def clear(self) -> None:
        """Drop everything."""
        self._made.clear()
