"""A score to samples, faster than it is played: the strings, strokes and limiter of the mixer,
without a device to wait for.

Task
    The sound that ``synth.mixer.Mixer`` makes of the same events with levels that do not change,
    within 1e-6. The strings come from ``lanes``, in jobs that several processes share; what they
    add up to is limited in order.

Conventions
    Samples are float32, shape (frames, 2), at ``RATE`` a second. Levels are those of the mixer, in
    dB; the master is at 0 dB unless set, for a file is made to be worked with, not to be put on
    headphones at once.
"""

import os
import threading
import warnings
from collections import deque
from collections.abc import Callable, Iterator, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from loopdeck.errors import UserError
from loopdeck.export.driven import added_up, split_guitars, through_amplifier
from loopdeck.export.lanes import LANES, RATE, Job, PartGains, Sound, jobs_of, most_at_once, perform, strings_of
from loopdeck.export.score import Score
from loopdeck.synth.click import click_sounds
from loopdeck.synth.delay_line import CELL
from loopdeck.synth.drums import HAT_GROUP, drum_sounds
from loopdeck.synth.events import CLICK, DRUMS, SoundEvent
from loopdeck.synth.limiter import Limiter
from loopdeck.synth.one_shots import OneShots

#: Room for so many strings at a time in a file; beyond that, the one heard least makes way for a
#: new one.
MOST = 160


def render(
    score: Score,
    levels: Mapping[str, float] | None = None,
    tail: int = 0,
    processes: int | None = None,
    lanes: int = LANES,
) -> Iterator[NDArray[np.float32]]:
    """The samples from ``score.first`` to ``tail`` samples after ``score.end``, in order, in pieces
    of any length.

    What was struck before ``score.first`` and rings on is heard: it is rendered from the beginning
    and left away. ``processes`` is how many may work at it, by default as many as there are
    processors; with one lane it is rendered in one go. Raises UserError for a level out of range.
    """
    end = score.end + tail
    events = [event for event in score.events if event.sample < end]
    struck = tuple(event for event in events if event.part not in (CLICK, DRUMS))
    shots = [event for event in events if event.part in (CLICK, DRUMS)]
    parts, levels = sorted({event.part for event in events}), dict(levels or {})
    workers = processes if processes is not None else _processors()
    plain, guitars = split_guitars(struck)
    gains = PartGains(parts, levels, min(most_at_once(plain), MOST))
    strings = [_strings(plain, end, (parts, levels), workers, lanes)]
    for (part, _), own in guitars.items():
        pan = gains.pan[:, gains.numbers[part]]
        strings.append(through_amplifier(_strings(own, end, (parts, levels), 1, lanes), gains.gain[part], pan))
    return _finished(added_up(strings), shots, gains, score.first, end)


def _strings(
    events: tuple[SoundEvent, ...], end: int, mix: tuple[Sequence[str], Mapping[str, float]], workers: int, lanes: int
) -> Iterator[Sound]:
    """The sound of these strings from sample 0 to ``end`` or later; ``mix``: parts and levels."""
    sounding = most_at_once(events)
    gains = PartGains(*mix, min(sounding, MOST))
    jobs = jobs_of(end, lanes, workers)
    if sounding > MOST or lanes == 1 or (len(jobs) == 1 and len(jobs[0].begins()) == 1):
        return perform(Job(0, end, end + CELL), events, end, gains)
    if len(jobs) == 1 or workers == 1:
        return _added(jobs, (strings_of(job, events, end, gains) for job in jobs))
    return _shared(jobs, events, end, (*mix, gains.sounding), workers)


def _processors() -> int:
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def _finished(
    strings: Iterator[Sound], events: Sequence[SoundEvent], gains: PartGains, first: int, end: int
) -> Iterator[NDArray[np.float32]]:
    """Strokes added, limited, and cut to what is wanted.

    ``strings`` come from sample 0 on, in pieces of whole cells.
    """
    kits: dict[str, Callable[[], OneShots]] = {
        CLICK: lambda: OneShots(click_sounds(RATE)),
        DRUMS: lambda: OneShots(drum_sounds(RATE), HAT_GROUP),
    }
    shots = {part: make() for part, make in kits.items() if part in gains.numbers}
    limiter = Limiter(RATE, CELL)
    now, at = 0, 0
    for sound in strings:
        for begin in range(0, sound.shape[1], 8 * CELL) if shots else ():
            piece = sound[:, begin : begin + 8 * CELL]
            until = now + begin + piece.shape[1]
            while at < len(events) and events[at].sample < until:
                shots[events[at].part].play(events[at].sample, events[at].data)
                at += 1
            for part, kit in shots.items():
                if kit.sounding:
                    piece += kit.render(now + begin, piece.shape[1]) * gains.gain[part]
        limiter.limit_cells(sound)
        wanted = sound[:, max(first - now, 0) : max(end - now, 0)]
        if wanted.shape[1]:
            yield np.ascontiguousarray(wanted.T, np.float32)
        now += sound.shape[1]


def _added(jobs: Sequence[Job], sounds: Iterator[Sound]) -> Iterator[Sound]:
    """The sounds of the jobs in order, each with what rings on of those before; the last one up to
    the end.
    """
    rings = np.zeros((2, 0))
    for job, sound in zip(jobs, sounds, strict=True):
        count = -(-(job.end - job.begin) // CELL) * CELL
        longest = max(rings.shape[1], sound.shape[1], count)
        whole = np.zeros((2, longest))
        whole[:, : sound.shape[1]] = sound
        whole[:, : rings.shape[1]] += rings
        rings = whole[:, count:].copy()
        yield whole[:, :count]


# ---- several processes ---------------------------------------------------------------------------

#: What a worker keeps between jobs.
_kept: dict[str, Any] = {}


def _begin(events: tuple[SoundEvent, ...], end: int, gains: tuple[Sequence[str], Mapping[str, float], int]) -> None:
    import signal

    threading.Thread(target=_end_with_parent, daemon=True).start()
    # Whoever interrupts means the whole; the first process ends the others.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    for name in ("SIGTERM", "SIGHUP"):
        if hasattr(signal, name):
            signal.signal(getattr(signal, name), signal.SIG_DFL)
    _kept.update(events=events, end=end, gains=PartGains(*gains))


def _end_with_parent() -> None:
    """End this worker when the process that it works for is gone, however that ended. Python may
    start workers through a process of its own, so that ``getppid`` names another one.
    """
    from multiprocessing import parent_process

    parent = parent_process()
    assert parent is not None
    parent.join()
    os._exit(1)


def _work(job: Job) -> Sound:
    return strings_of(job, _kept["events"], _kept["end"], _kept["gains"])


def _shared(
    jobs: Sequence[Job],
    events: tuple[SoundEvent, ...],
    end: int,
    gains: tuple[Sequence[str], Mapping[str, float], int],
    workers: int,
) -> Iterator[Sound]:
    """The jobs done by several processes."""
    from concurrent.futures import BrokenExecutor, Future, ProcessPoolExecutor

    pool = ProcessPoolExecutor(min(workers, len(jobs)), initializer=_begin, initargs=(events, end, gains))

    def done() -> Iterator[Sound]:
        waiting, coming = deque(jobs), deque[Future[Sound]]()
        while waiting or coming:
            # A few ahead, not all: an hour of sound does not fit everywhere.
            while waiting and len(coming) < 2 * workers:
                with warnings.catch_warnings():
                    # Python warns of threads where processes are forked; those of numpy's libraries
                    # provide for it.
                    warnings.simplefilter("ignore", DeprecationWarning)
                    coming.append(pool.submit(_work, waiting.popleft()))
            try:
                yield coming.popleft().result()
            except BrokenExecutor as error:
                raise UserError(
                    "A process that rendered was ended from outside (too little memory?), so there is no file."
                ) from error

    try:
        yield from _added(jobs, done())
    finally:
        pool.shutdown(cancel_futures=True)
