"""Make docs/pictures/sound-and-time.svg again: ``python docs/make_sound_picture.py [FILE]``.

Above, who hands what to whom. Below, the running code: a simulated device 200 ppm fast whose
callbacks come late by up to a buffer of 512 frames, and how far the estimate lies beside the truth,
while one that believed the device's nominal rate is soon out of the picture.
"""

import sys
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from script_options import file_for

from loopdeck.audio.timebase import SampleClock

RATE, FRAMES, PPM, SECONDS = 48_000, 512, 200.0, 90.0
WIDTH, HEIGHT = 960, 640
LEFT, RIGHT, TOP, BOTTOM = 90, 930, 360, 590
MOST_MS = 28.0


def simulate() -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Seconds; and in ms beside the truth: the callbacks, the nominal rate, the estimate."""
    count = int(SECONDS * RATE / FRAMES)
    x = np.arange(count) * FRAMES / RATE
    true = x / (1 + PPM * 1e-6)
    host = np.maximum.accumulate(true + np.random.default_rng(5).random(count) * FRAMES / RATE)
    clock, said = SampleClock(RATE), np.empty(count)
    for index, sec in enumerate(host.tolist()):
        clock.callback(index * FRAMES, sec)
        said[index] = clock.sec_of(index * FRAMES)
    return x, (host - true) * 1e3, (host[0] + x - true) * 1e3, (said - true) * 1e3


def place(sec: float, ms: float) -> tuple[float, float]:
    return LEFT + (RIGHT - LEFT) * sec / SECONDS, BOTTOM - (BOTTOM - TOP) * (ms + 2.0) / (MOST_MS + 2.0)


def line(x: np.ndarray, ms: np.ndarray, style: str) -> str:
    points = " L".join("{:.1f},{:.1f}".format(*place(a, b)) for a, b in zip(x, ms, strict=True) if b <= MOST_MS)
    return f'<path d="M{points}" fill="none" {style}/>'


def text(x: float, y: float, words: str, more: str = "") -> str:
    return f'<text x="{x}" y="{y}" {more}>{words}</text>'


def box(x: float, y: float, wide: float, title: str, *rows: str) -> str:
    lines = "".join(text(x + 14, y + 48 + 20 * n, row, 'font-size="14"') for n, row in enumerate(rows))
    head = text(x + 14, y + 25, title, 'font-weight="bold"')
    return f'<rect x="{x}" y="{y}" width="{wide}" height="{38 + 20 * len(rows)}" fill="#fffdf6" stroke="#333"/>{head}{lines}'


def arrow(x1: float, y1: float, x2: float, y2: float, words: str, x: float, y: float) -> str:
    return (
        f'<line x1="{x1}" y1="{y1}" x2="{x2}" y2="{y2}" stroke="#333" stroke-width="2" marker-end="url(#tip)"/>'
        + text(x, y, words, 'font-size="14"')
    )


def main() -> None:
    """Draw it."""
    file = file_for(__doc__, "sound-and-time.svg")
    x, late, nominal, said = simulate()
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" font-family="sans-serif" font-size="16">',
        '<defs><marker id="tip" markerWidth="9" markerHeight="8" refX="8" refY="4" orient="auto"><path d="M0,0 L9,4 L0,8 z" fill="#333"/></marker></defs>',
        f'<rect width="{WIDTH}" height="{HEIGHT}" fill="#f6f1e4"/>',
        box(
            20, 30, 270, "The thread that plays", "the looper, a little ahead of time;", "every message has its second"
        ),
        box(375, 30, 240, "The device's thread", "second to sample, exactly;", "mixer, rendering"),
        box(720, 30, 220, "The sound device", "its own clock: the one", "that leads"),
        arrow(290, 60, 369, 60, "messages", 296, 52),
        arrow(615, 60, 714, 60, "samples", 632, 52),
        arrow(720, 92, 621, 92, "asks", 648, 110),
        box(375, 190, 240, "The estimate", "offset and rate of the device", "against the computer's clock"),
        arrow(495, 108, 495, 184, "when it asked, for which sample", 505, 150),
        arrow(375, 230, 205, 114, "what is heard now", 300, 172),
        box(20, 190, 270, "MIDI in and out, keys, window", "in the computer's time, brought", "over by the estimate"),
        arrow(290, 255, 369, 255, "", 0, 0),
        arrow(100, 190, 100, 114, "", 0, 0),
    ]
    for ms in (0, 5, 10, 15, 20, 25):
        y = place(0, ms)[1]
        parts.append(
            f'<line x1="{LEFT}" y1="{y:.1f}" x2="{RIGHT}" y2="{y:.1f}" stroke="#{"333" if ms == 0 else "d8d0bc"}"/>'
        )
        parts.append(text(LEFT - 12, y + 5, f"{ms}", 'text-anchor="end" font-size="14"'))
    for sec in range(0, int(SECONDS) + 1, 15):
        parts.append(text(place(sec, 0)[0], BOTTOM + 20, f"{sec} s", 'text-anchor="middle" font-size="14"'))
    parts += [
        "".join('<circle cx="{:.1f}" cy="{:.1f}" r="0.8" fill="#b9ad91"/>'.format(*place(a, b)) for a, b in zip(x[::8], late[::8], strict=True)),
        line(x[::40], nominal[::40], 'stroke="#a33" stroke-width="2" stroke-dasharray="7 5"'),
        line(x[::8], said[::8], 'stroke="#14506e" stroke-width="3"'),
        text(LEFT, TOP - 14, "ms beside the truth: a device 200 ppm fast, callbacks late by up to a buffer (dots)", 'font-weight="bold"'),
        text(place(55, 0)[0], place(0, 1.0)[1], "the estimate", 'fill="#14506e" stroke="#f6f1e4" stroke-width="5" paint-order="stroke"'),
        text(place(33, 0)[0], place(0, 20.5)[1], "the nominal rate believed", 'fill="#a33"'),
        "</svg>\n",
    ]  # fmt: skip
    file.write_text("\n".join(parts), encoding="utf-8")


if __name__ == "__main__":
    main()
