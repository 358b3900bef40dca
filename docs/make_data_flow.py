"""Draw docs/pictures/data-flow.svg: where what was played goes. Run it with the interpreter of the
venv; nothing is needed beside Python.
"""

import argparse
from html import escape
from pathlib import Path

INK, QUIET, GROUND, SHADE, NOW = "#1b1814", "#635c50", "#f4efe3", "#e4dcc9", "#b03a1c"
OUT = Path(__file__).resolve().parent / "pictures" / "data-flow.svg"

#: name: (left, top, width, first line, second line)
BOXES = {
    "ports": (20, 90, 150, "MIDI in", "midi: ports, stamps"),
    "journal": (220, 20, 170, "session journal", "capture: every event"),
    "session": (220, 150, 170, "session", "records, passes on"),
    "looper": (440, 150, 180, "looper", "pure: events in, out"),
    "scheduler": (670, 90, 150, "scheduler", "engine: in time"),
    "out": (870, 30, 150, "MIDI out", "midi: clock, notes"),
    "sound": (870, 130, 150, "sound", "audio, synth: samples"),
    "protocol": (440, 270, 180, "messages", "protocol: typed"),
    "window": (670, 270, 150, "window", "the other process"),
    "shelf": (220, 270, 170, "shelf", "takes on SQLite"),
    "reports": (20, 390, 180, "reports", "analysis, bass"),
    "page": (250, 390, 180, "page", "tab, MusicXML, PDF"),
    "export": (480, 390, 180, "files", "export: SMF, WAV"),
    "listener": (730, 390, 200, "listener", "a process: analysis of passes"),
}
#: from, to, words
ARROWS = [
    ("ports", "session", ""),
    ("session", "journal", "first to the disk"),
    ("session", "looper", ""),
    ("looper", "scheduler", ""),
    ("scheduler", "out", ""),
    ("scheduler", "sound", ""),
    ("looper", "protocol", "state, notes"),
    ("protocol", "window", ""),
    ("window", "protocol", ""),
    ("protocol", "listener", ""),
    ("listener", "protocol", ""),
    ("protocol", "session", "commands"),
    ("session", "shelf", "keeps"),
    ("shelf", "reports", ""),
    ("shelf", "page", ""),
    ("shelf", "export", ""),
]


def middle(name: str) -> tuple[float, float]:
    left, top, width, _, _ = BOXES[name]
    return left + width / 2, top + 28


def edge(name: str, towards: tuple[float, float]) -> tuple[float, float]:
    """Where a line from the middle of a box leaves it."""
    x, y = middle(name)
    dx, dy = towards[0] - x, towards[1] - y
    reach = min(abs(BOXES[name][2] / 2 / dx) if dx else 9e9, abs(28 / dy) if dy else 9e9)
    return x + dx * reach, y + dy * reach


def main() -> None:
    argparse.ArgumentParser(description=__doc__).parse_args()
    out = [
        '<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1040 470" font-family="sans-serif">',
        f'<rect width="1040" height="470" fill="{GROUND}"/>',
        f'<defs><marker id="tip" viewBox="0 0 8 8" refX="7" refY="4" markerWidth="7" markerHeight="7" orient="auto"><path d="M0,0 L8,4 L0,8 z" fill="{INK}"/></marker></defs>',
        f'<rect x="205" y="8" width="630" height="212" rx="8" fill="none" stroke="{QUIET}" stroke-dasharray="5 4"/>',
        f'<text x="825" y="212" text-anchor="end" font-size="13" fill="{QUIET}">the engine process</text>',
    ]
    for source, target, words in ARROWS:
        (x0, y0), (x1, y1) = edge(source, middle(target)), edge(target, middle(source))
        out.append(
            f'<line x1="{x0:.0f}" y1="{y0:.0f}" x2="{x1:.0f}" y2="{y1:.0f}" stroke="{INK}" stroke-width="1.5" marker-end="url(#tip)"/>'
        )
        if words:
            out.append(
                f'<text x="{(x0 + x1) / 2 + 6:.0f}" y="{(y0 + y1) / 2 - 5:.0f}" font-size="12" fill="{NOW}">{escape(words)}</text>'
            )
    for left, top, width, first, second in BOXES.values():
        out.append(
            f'<rect x="{left}" y="{top}" width="{width}" height="56" rx="5" fill="{SHADE}" stroke="{INK}" stroke-width="1.4"/>'
        )
        out.append(
            f'<text x="{left + width / 2}" y="{top + 24}" text-anchor="middle" font-size="17" fill="{INK}">{escape(first)}</text>'
        )
        out.append(
            f'<text x="{left + width / 2}" y="{top + 44}" text-anchor="middle" font-size="12" fill="{QUIET}">{escape(second)}</text>'
        )
    OUT.write_text("\n".join([*out, "</svg>"]) + "\n", encoding="utf-8")
    print(f"Drawn into {OUT}.")


if __name__ == "__main__":
    main()
