"""Draw the house: rooms as floors, imports between them as arrows, from the code as it stands.
Writes docs/pictures/house.svg and prints figures.

python docs/make_house.py            # the picture, and a table of rooms
python docs/make_house.py --json     # the figures only
python docs/make_house.py --root OTHER/loopdeck -o OTHER.svg    # another checkout, to compare
"""

import argparse
import ast
import json
from collections import Counter
from html import escape
from pathlib import Path

HERE = Path(__file__).resolve().parent
INK, QUIET, GROUND, SHADE, NOW = "#1b1814", "#635c50", "#f4efe3", "#e4dcc9", "#b03a1c"


def modules(root: Path) -> dict[str, Path]:
    """Every module of a package by its dotted name below it."""
    return {".".join(path.relative_to(root).with_suffix("").parts): path for path in sorted(root.rglob("*.py"))}


def imports(path: Path) -> set[str]:
    """What a file imports of the package, as dotted names below it."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names = [alias.name for alias in node.names] if isinstance(node, ast.Import) else []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [node.module]
        found |= {name.removeprefix("loopdeck.") for name in names if name.startswith("loopdeck.")}
    return found


def room_of(module: str) -> str:
    return module.split(".")[0]


def house(root: Path) -> tuple[dict[str, int], Counter[tuple[str, str]]]:
    """Lines of each room, and how many modules of one import another."""
    files = modules(root)
    rooms = {room_of(name) for name, path in files.items() if path.parent != root}
    lines = {room: 0 for room in rooms}
    arrows: Counter[tuple[str, str]] = Counter()
    for name, path in files.items():
        room = room_of(name)
        if room not in rooms:
            continue
        lines[room] += len(path.read_text(encoding="utf-8").splitlines())
        for target in {room_of(other) for other in imports(path)} & rooms - {room}:
            arrows[room, target] += 1
    return lines, arrows


def floors(rooms: set[str], arrows: Counter[tuple[str, str]]) -> list[list[str]]:
    """The rooms from the top down: each above all that it imports; a circle shares a floor."""
    below = {room: {target for source, target in arrows if source == room} for room in rooms}
    height: dict[str, int] = {}

    def measure(room: str, on_the_way: frozenset[str]) -> int:
        if room not in height:
            heights = [measure(one, on_the_way | {room}) for one in below[room] - on_the_way]
            height[room] = 1 + max(heights, default=-1)
        return height[room]

    for room in sorted(rooms):
        measure(room, frozenset())
    top = max(height.values(), default=0)
    return [sorted(room for room in rooms if height[room] == level) for level in range(top, -1, -1)]


def largest_class(root: Path) -> dict[str, object]:
    """The class with the most lines: where, its lines, methods and fields (what its methods assign
    to self, or its annotations).
    """
    best: dict[str, object] = {"lines": 0}
    for name, path in modules(root).items():
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.ClassDef) and (lines := (node.end_lineno or 0) - node.lineno + 1) > int(
                str(best["lines"])
            ):
                methods = [one for one in node.body if isinstance(one, ast.FunctionDef)]
                fields = {
                    target.attr
                    for one in ast.walk(node)
                    if isinstance(one, ast.Assign | ast.AnnAssign)
                    for target in (one.targets if isinstance(one, ast.Assign) else [one.target])
                    if isinstance(target, ast.Attribute)
                    and isinstance(target.value, ast.Name)
                    and target.value.id == "self"
                }
                best = {"class": f"{name}.{node.name}", "lines": lines, "methods": len(methods), "fields": len(fields)}
    return best


def picture(lines: dict[str, int], arrows: Counter[tuple[str, str]]) -> str:
    """The house as SVG."""
    rows = floors(set(lines), arrows)
    width, row_height = 1180, 84
    places: dict[str, tuple[float, float, float]] = {}
    for level, row in enumerate(rows):
        sizes = [max(92.0, 56.0 + lines[room] ** 0.5 * 1.6) for room in row]
        gap = (width - sum(sizes)) / (len(row) + 1)
        left = gap
        for room, size in zip(row, sizes, strict=True):
            places[room] = (left, 24.0 + level * row_height, size)
            left += size + gap
    height = 48 + len(rows) * row_height
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" font-family="sans-serif">',
        f'<rect width="{width}" height="{height}" fill="{GROUND}"/>',
    ]
    for (source, target), count in sorted(arrows.items()):
        (x0, y0, w0), (x1, y1, w1) = places[source], places[target]
        upward = y1 <= y0
        colour = NOW if upward else QUIET
        out.append(
            f'<line x1="{x0 + w0 / 2:.0f}" y1="{y0 + 42:.0f}" x2="{x1 + w1 / 2:.0f}" y2="{y1:.0f}" stroke="{colour}" '
            f'stroke-width="{0.6 + min(count, 12) * 0.12:.2f}" stroke-opacity="{1 if upward else 0.45}"><title>{escape(source)} imports {escape(target)}: {count}</title></line>'
        )
    for room, (x, y, w) in places.items():
        out.append(
            f'<rect x="{x:.0f}" y="{y:.0f}" width="{w:.0f}" height="42" rx="4" fill="{SHADE}" stroke="{INK}" stroke-width="1.4"/>'
        )
        out.append(
            f'<text x="{x + w / 2:.0f}" y="{y + 19:.0f}" text-anchor="middle" font-size="16" fill="{INK}">{escape(room)}</text>'
        )
        out.append(
            f'<text x="{x + w / 2:.0f}" y="{y + 35:.0f}" text-anchor="middle" font-size="11" fill="{QUIET}">{lines[room]:,} lines</text>'
        )
    return "\n".join([*out, "</svg>"]) + "\n"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--root", type=Path, default=HERE.parent / "loopdeck")
    parser.add_argument("-o", "--output", type=Path, default=HERE / "pictures" / "house.svg")
    parser.add_argument("--json", action="store_true")
    args = parser.parse_args()
    lines, arrows = house(args.root)
    rows = floors(set(lines), arrows)
    level = {room: number for number, row in enumerate(rows) for room in row}
    upward = sorted(f"{source} -> {target}" for source, target in arrows if level[source] >= level[target])
    figures = {
        "rooms": dict(sorted(lines.items(), key=lambda one: -one[1])),
        "floors": rows,
        "arrows": len(arrows),
        "arrows_not_downward": upward,
        "largest_class": largest_class(args.root),
    }
    if args.json:
        print(json.dumps(figures, indent=1))
        return
    args.output.write_text(picture(lines, arrows), encoding="utf-8")
    total = sum(lines.values())
    for row in rows:
        print("   ".join(f"{room} {lines[room]:,} ({lines[room] / total:.0%})" for room in row))
    print(
        f"{len(arrows)} arrows, {len(upward)} not downward. Largest class: {figures['largest_class']}. Drawn "
        f"into {args.output}."
    )


if __name__ == "__main__":
    main()
