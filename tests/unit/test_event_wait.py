"""Waiting for events of the window, with a socket on which nothing comes."""

import socket
import time

import pygame
import pytest

from loopdeck.window import event_wait


def test_an_event_that_was_read_already_is_not_slept_over(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    here, there = socket.socketpair()
    monkeypatch.setattr(event_wait, "x11_socket", here.fileno)
    pygame.display.init()
    try:
        pygame.event.get()
        pygame.event.post(pygame.event.Event(pygame.USEREVENT))
        began = time.monotonic()
        assert [event.type for event in event_wait.wait_for_events(5.0)] == [pygame.USEREVENT]
        assert time.monotonic() - began < 4.0
        assert event_wait.wait_for_events(0.01) == []
    finally:
        pygame.display.quit()
        here.close()
        there.close()


def test_without_x11_there_is_no_socket(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SDL_VIDEODRIVER", "dummy")
    pygame.display.init()
    try:
        assert event_wait.x11_socket() is None
    finally:
        pygame.display.quit()
