"""Sleeping until an event comes, or until the next frame is due.

Method
    ``pygame.event.wait`` looks once a millisecond whether something has come: for a window that
    waits most of the time that is the greater part of its work, and each look may come between the
    engine and its moment. Under X11 every event arrives on one socket, so the window sleeps until
    the socket has something. The display says which one it is: ``ConnectionNumber`` of Xlib reads
    the third field of the structure that ``Xlib.h`` declares for that. Elsewhere pygame's own way
    has to do.
"""

import ctypes
import os
import select
import stat

import pygame

#: A display of Xlib begins like this (Xlib.h, ``_XPrivDisplay``).
_DISPLAY_FIELDS = (("extensions", ctypes.c_void_p), ("private", ctypes.c_void_p), ("connection", ctypes.c_int))


class _Display(ctypes.Structure):
    _fields_ = _DISPLAY_FIELDS


class EventWait:
    """Waits for events of the window that is open now; make another one with another window."""

    def __init__(self) -> None:
        self._socket = x11_socket()

    def until_event(self, sec: float) -> list[pygame.event.Event]:
        """Sleep for so many seconds at most; the events that have come, which may be none."""
        if self._socket is None:
            event = pygame.event.wait(max(1, int(sec * 1000)))
            return [] if event.type == pygame.NOEVENT else [event]
        try:
            select.select((self._socket,), (), (), max(sec, 0.0))
        except (OSError, ValueError):
            # The connection has gone; what that means is for the next frame to find out.
            self._socket = None
        return pygame.event.get()


def x11_socket() -> int | None:
    """The socket on which the events of the open window come; None where there is no such thing."""
    if pygame.display.get_driver() != "x11":
        return None
    capsule = pygame.display.get_wm_info().get("display")
    try:
        pointer = _pointer_of(capsule)
        number = _Display.from_address(pointer).connection
        is_socket = stat.S_ISSOCK(os.fstat(number).st_mode)
    except (TypeError, ValueError, OSError, AttributeError):
        return None
    return number if is_socket and number < 1024 else None


def _pointer_of(capsule: object) -> int:
    get_pointer = ctypes.pythonapi.PyCapsule_GetPointer
    get_pointer.restype, get_pointer.argtypes = ctypes.c_void_p, (ctypes.py_object, ctypes.c_char_p)
    pointer = get_pointer(capsule, b"display")
    if not pointer:
        raise ValueError("there is no display")
    return int(pointer)
