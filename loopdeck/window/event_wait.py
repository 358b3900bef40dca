"""Sleeping until an event comes, or until the next frame is due.

Method
    ``pygame.event.wait`` looks once a millisecond whether something has come: for a window that
    waits most of the time that is the greater part of its work, and each look may come between the
    engine and its moment. Under X11 every event arrives on one socket, so the window sleeps until
    the socket has something. The display says which one it is: ``ConnectionNumber`` of Xlib reads
    the third field of the structure that ``Xlib.h`` declares for that. What SDL or Xlib has read
    already shows on the socket no longer, so it is asked for before. Elsewhere pygame's own way has
    to do.
"""

import ctypes
import os
import select
import stat

import pygame

#: ``select`` cannot watch files from this number on (POSIX, FD_SETSIZE).
_MOST_FILES = 1024


class _Display(ctypes.Structure):
    """A display of Xlib begins like this (Xlib.h, ``_XPrivDisplay``)."""

    _fields_ = (("extensions", ctypes.c_void_p), ("private", ctypes.c_void_p), ("connection", ctypes.c_int))


def wait_for_events(sec: float) -> list[pygame.event.Event]:
    """Sleep for at most ``sec``; returns the events that have come, possibly none."""
    number = x11_socket()
    if number is None:
        event = pygame.event.wait(max(1, int(sec * 1000)))
        return [] if event.type == pygame.NOEVENT else [event]
    if not (events := pygame.event.get()):
        select.select((number,), (), (), max(sec, 0.0))
        events = pygame.event.get()
    return events


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
    return number if is_socket and number < _MOST_FILES else None


def _pointer_of(capsule: object) -> int:
    get_pointer = ctypes.pythonapi.PyCapsule_GetPointer
    get_pointer.restype, get_pointer.argtypes = ctypes.c_void_p, (ctypes.py_object, ctypes.c_char_p)
    pointer = get_pointer(capsule, b"display")
    if not pointer:
        raise ValueError("there is no display")
    return int(pointer)
