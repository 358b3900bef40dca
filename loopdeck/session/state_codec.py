"""The state of a session as JSON and back, exactly: for the state file beside a journal.

Task
    ``dump_state`` walks over an object and everything it holds, ``load_state`` builds the same
    again: shared objects stay shared, floats and arrays come back bit for bit.

Conventions
    The result is ``{"root": VALUE, "objects": [OBJECT, …]}``. A VALUE is a JSON scalar or a list
    that begins with a letter for its kind (see ``_DECODED``); what can change or be shared is an
    OBJECT and is pointed at by ``["r", INDEX]``. Only classes of loopdeck's own pure rooms are
    built, and none is called: an instance is made empty and its attributes are set. So nothing that
    a file says is ever run. Raises StateError for what cannot be written or makes no sense.
"""

import array
import importlib
import itertools
import types
from collections import OrderedDict, deque
from collections.abc import Iterable
from enum import Enum
from fractions import Fraction
from functools import cache
from typing import Any

import numpy as np

#: The rooms whose classes may be part of a state.
ROOMS = ("looper", "rhythm", "theory", "brief", "capture", "session", "protocol", "audio", "synth", "analysis", "bass")

#: What JSON says by itself. Most of a state is made of these, and asking costs a call.
_SCALARS = frozenset((type(None), bool, int, float, str))
#: Stands for a slot that was never set.
_UNSET = object()


class StateError(Exception):
    """A state that cannot be written down or built again."""


def dump_state(root: object) -> dict[str, Any]:
    """An object and everything it holds, as something ``json.dumps`` takes."""
    writer = _Writer()
    return {"root": writer.value(root), "objects": writer.objects}


def load_state(data: dict[str, Any]) -> Any:
    """The object that was dumped."""
    try:
        return _Reader(data["objects"]).value(data["root"])
    except StateError:
        raise
    except Exception as error:
        raise StateError(f"The state makes no sense ({type(error).__name__}).") from error


@cache
def _name_of(one: Any) -> str:
    name = f"{one.__module__}:{one.__qualname__}"
    if name.split(".")[0] != "loopdeck" or name.split(".")[1] not in ROOMS or "<" in name:
        raise StateError(f"{name} cannot be part of a state.")
    return name


@cache
def _named(name: str) -> Any:
    module, _, path = name.partition(":")
    parts = module.split(".")
    if len(parts) < 2 or parts[0] != "loopdeck" or parts[1] not in ROOMS:
        raise StateError(f"{name} cannot be part of a state.")
    found: Any = importlib.import_module(module)
    for part in path.split("."):
        if part.startswith("__"):
            raise StateError(f"{name} cannot be part of a state.")
        found = getattr(found, part)
    if getattr(found, "__module__", None) != module or not isinstance(found, type | types.FunctionType):
        raise StateError(f"{name} cannot be part of a state.")
    return found


def _class(name: str) -> type:
    found = _named(name)
    if not isinstance(found, type):
        raise StateError(f"{name} is not a class.")
    return found


@cache
def _slots_of(kind: type) -> tuple[str, ...]:
    """The names of an instance's slots."""
    found: list[str] = []
    for one in kind.__mro__:
        slots = one.__dict__.get("__slots__", ())
        found += (slots,) if isinstance(slots, str) else slots
    return tuple(name for name in dict.fromkeys(found) if name not in ("__dict__", "__weakref__"))


def _attributes(one: object) -> dict[str, Any]:
    """The attributes of an instance, with those in slots."""
    found = dict(getattr(one, "__dict__", {}))
    kind: Any = type(one)
    for name in _slots_of(kind):
        item = getattr(one, name, _UNSET)
        if item is not _UNSET:
            found[name] = item
    return found


class _Writer:
    def __init__(self) -> None:
        self.objects: list[Any] = []
        self._places: dict[int, int] = {}
        # What is pointed at must live as long as its address is remembered.
        self._held: list[object] = []

    def value(self, one: Any) -> Any:
        kind: Any = type(one)
        if kind in _SCALARS:
            return one
        if kind is tuple:
            return ["t", self._all(one)]
        if kind is bytes:
            return ["b", one.hex()]
        if kind is Fraction:
            return ["f", str(one)]
        if kind is frozenset:
            return ["z", self._all(one)]
        if isinstance(one, Enum):
            return ["e", _name_of(kind), one.name]
        if isinstance(one, tuple):
            return ["n", _name_of(kind), self._all(one)]
        if isinstance(one, type | types.FunctionType):
            return ["k", _name_of(one)]
        if isinstance(one, np.generic):
            return ["g", self._array(np.asarray(one))]
        return ["r", self._place(one)]

    def _all(self, items: Iterable[Any]) -> list[Any]:
        """The value of each of them."""
        value = self.value
        return [item if type(item) in _SCALARS else value(item) for item in items]

    def _place(self, one: Any) -> int:
        place = self._places.get(id(one))
        if place is None:
            place = self._places[id(one)] = len(self.objects)
            self._held.append(one)
            self.objects.append(None)
            self.objects[place] = self._object(one)
        return place

    def _object(self, one: Any) -> list[Any]:
        kind: Any = type(one)
        if kind is list:
            return ["l", self._all(one)]
        if kind in (dict, OrderedDict):
            pairs = [[self.value(key), self.value(item)] for key, item in one.items()]
            return ["d" if kind is dict else "o", pairs]
        if kind is set:
            return ["s", self._all(one)]
        if kind is deque:
            return ["q", one.maxlen, self._all(one)]
        if kind is array.array:
            return ["a", one.typecode, one.tobytes().hex()]
        if kind is np.ndarray:
            return ["y", self._array(one), bool(one.flags.writeable)]
        if kind is itertools.count:
            # Its text is the only place where it says how far it has got.
            return ["c", int(repr(one)[len("count(") : -1])]
        if isinstance(one, types.MethodType | types.BuiltinMethodType) and one.__self__ is not None:
            return ["m", self.value(one.__self__), one.__name__]
        name = _name_of(kind)
        attributes = _attributes(one)
        return ["i", name, list(map(list, zip(attributes, self._all(attributes.values()), strict=True)))]

    @staticmethod
    def _array(one: np.ndarray[Any, Any]) -> list[Any]:
        if one.dtype.hasobject:
            raise StateError("An array of objects cannot be part of a state.")
        dtype = one.dtype.descr if one.dtype.names else one.dtype.str
        return [dtype, list(one.shape), one.tobytes().hex()]


class _Reader:
    def __init__(self, objects: list[Any]) -> None:
        self._written = objects
        self._objects: list[Any] = [None] * len(objects)
        self._built = [False] * len(objects)

    def value(self, one: Any) -> Any:
        if not isinstance(one, list):
            return one
        kind, *rest = one
        return getattr(self, f"_{_DECODED[kind]}")(*rest)

    def _reference(self, place: int) -> Any:
        if self._built[place]:
            return self._objects[place]
        self._built[place] = True
        kind, *rest = self._written[place]
        return getattr(self, f"_{_BUILT[kind]}")(place, *rest)

    # ---- values ----------------------------------------------------------------------------------

    def _tuple(self, items: list[Any]) -> tuple[Any, ...]:
        return tuple(map(self.value, items))

    @staticmethod
    def _bytes(text: str) -> bytes:
        return bytes.fromhex(text)

    @staticmethod
    def _fraction(text: str) -> Fraction:
        return Fraction(text)

    def _frozenset(self, items: list[Any]) -> frozenset[Any]:
        return frozenset(map(self.value, items))

    @staticmethod
    def _enum(name: str, member: str) -> Any:
        kind = _class(name)
        if not issubclass(kind, Enum):
            raise StateError(f"{name} is not an enumeration.")
        return kind[member]

    def _named_tuple(self, name: str, items: list[Any]) -> Any:
        kind = _class(name)
        if not issubclass(kind, tuple):
            raise StateError(f"{name} is not a tuple.")
        return tuple.__new__(kind, map(self.value, items))

    @staticmethod
    def _named_thing(name: str) -> Any:
        return _named(name)

    def _scalar(self, parts: list[Any]) -> Any:
        return self._array_of(parts)[()]

    # ---- objects ---------------------------------------------------------------------------------

    def _list(self, place: int, items: list[Any]) -> Any:
        found: list[Any] = []
        self._objects[place] = found
        found.extend(map(self.value, items))
        return found

    def _dict(self, place: int, pairs: list[Any], kind: Any = dict) -> Any:
        self._objects[place] = found = kind()
        for key, item in pairs:
            found[self.value(key)] = self.value(item)
        return found

    def _ordered_dict(self, place: int, pairs: list[Any]) -> Any:
        return self._dict(place, pairs, OrderedDict)

    def _set(self, place: int, items: list[Any]) -> Any:
        found: set[Any] = set()
        self._objects[place] = found
        found.update(map(self.value, items))
        return found

    def _deque(self, place: int, most: int | None, items: list[Any]) -> Any:
        found: deque[Any] = deque(maxlen=most)
        self._objects[place] = found
        found.extend(map(self.value, items))
        return found

    def _array(self, place: int, code: str, text: str) -> Any:
        found: Any = array.array(code, bytes.fromhex(text))
        self._objects[place] = found
        return found

    def _numpy(self, place: int, parts: list[Any], writeable: bool) -> Any:
        self._objects[place] = found = self._array_of(parts)
        found.flags.writeable = writeable
        return found

    def _count(self, place: int, number: int) -> Any:
        self._objects[place] = found = itertools.count(int(number))
        return found

    def _method(self, place: int, owner: Any, name: str) -> Any:
        if name.startswith("__"):
            raise StateError(f"{name} cannot be part of a state.")
        self._objects[place] = found = getattr(self.value(owner), name)
        return found

    def _instance(self, place: int, name: str, pairs: list[Any]) -> Any:
        kind = _class(name)
        found: Any = object.__new__(kind)
        self._objects[place] = found
        for key, item in pairs:
            object.__setattr__(found, key, self.value(item))
        return found

    @staticmethod
    def _array_of(parts: list[Any]) -> Any:
        dtype, shape, text = parts
        kind = np.dtype([tuple(field) for field in dtype] if isinstance(dtype, list) else dtype)
        if kind.hasobject:
            raise StateError("An array of objects cannot be part of a state.")
        return np.frombuffer(bytes.fromhex(text), kind).reshape(shape).copy()


_DECODED = {
    "t": "tuple", "b": "bytes", "f": "fraction", "z": "frozenset", "e": "enum", "n": "named_tuple", "k": "named_thing",
    "g": "scalar", "r": "reference",
}  # fmt: skip
_BUILT = {
    "l": "list", "d": "dict", "o": "ordered_dict", "s": "set", "q": "deque", "a": "array", "y": "numpy", "c": "count",
    "m": "method", "i": "instance",
}  # fmt: skip
