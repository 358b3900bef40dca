"""A short slice is taken by systems that know it, and nothing else of the thread changes."""

import ctypes
import os
import platform
import struct
import sys
import threading

import pytest

from loopdeck.process import time_slice

#: ``sched_getattr`` (Linux, tools/scripts/syscall.tbl).
GET_ATTRIBUTES = {"x86_64": 315, "aarch64": 275, "riscv64": 275}


def kernel() -> tuple[int, int]:
    major, minor = platform.release().split(".")[:2]
    return int(major), int(minor)


def attributes_after(slice_sec: float) -> tuple[bool, int, int]:
    """In a thread of its own: whether it was taken, the nice value, and the slice in
    nanoseconds.
    """
    found: list[tuple[bool, int, int]] = []

    def ask() -> None:
        taken = time_slice.shorten_slice(slice_sec)
        buffer = ctypes.create_string_buffer(struct.calcsize(time_slice._ATTRIBUTES))
        ctypes.CDLL(None).syscall(GET_ATTRIBUTES[platform.machine()], 0, buffer, len(buffer), 0)
        told = struct.unpack(time_slice._ATTRIBUTES, buffer.raw)
        found.append((taken, told[3], told[5]))

    thread = threading.Thread(target=ask)
    thread.start()
    thread.join()
    return found[0]


@pytest.mark.skipif(
    not sys.platform.startswith("linux") or kernel() < (6, 12) or platform.machine() not in GET_ATTRIBUTES,
    reason="the scheduler of Linux takes slices since 6.12",
)
@pytest.mark.parametrize("slice_sec", [0.0001, 0.002])
def test_the_slice_is_taken_and_the_nice_value_stays(slice_sec: float) -> None:
    nice = os.getpriority(os.PRIO_PROCESS, 0)
    assert attributes_after(slice_sec) == (True, nice, round(slice_sec * 1e9))


def test_a_system_without_it_says_so(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(time_slice.sys, "platform", "win32")
    assert not time_slice.shorten_slice()


def test_a_refusal_is_no_error(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(time_slice, "_set_attributes", lambda attributes: False)
    assert not time_slice.shorten_slice()
