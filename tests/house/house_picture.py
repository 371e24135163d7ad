"""Draws docs/house.svg for `make house`: who imports whom.

A room is a package, or a folder or file of `monitor`. A room stands above all that it imports;
rooms that import each other stand side by side, in one frame. An import that follows from
others is left out of the picture.
"""

from collections.abc import Mapping
from html import escape
from pathlib import Path

import grimp

ROOT = Path(__file__).parents[2]
PICTURE = ROOT / "docs" / "house.svg"
PACKAGES = ("bathvigil", "drivers", "monitor", "tui", "simulators")
BOX, GAP_X, GAP_Y, EDGE = (104, 34), 14, 46, 18

Graph = dict[str, set[str]]
Group = tuple[str, ...]


def room_of(module: str) -> str:
    """The room that a module stands in."""
    parts = module.split(".")
    return parts[1] if parts[0] == "monitor" and len(parts) > 1 else parts[0]


def rooms() -> Graph:
    """Each room, and those that it imports."""
    graph = grimp.build_graph(*PACKAGES)
    found: Graph = {}
    for module in graph.modules - {"monitor"}:
        imported = graph.find_modules_directly_imported_by(module)
        here = room_of(module)
        found.setdefault(here, set()).update(map(room_of, imported))
    return {room: others - {room, "monitor"} for room, others in found.items()}


def reached(graph: Graph, start: str) -> set[str]:
    """All that a room needs, its own imports and theirs."""
    seen: set[str] = set()
    waiting = list(graph[start])
    while waiting:
        room = waiting.pop()
        if room not in seen:
            seen.add(room)
            waiting += graph[room]
    return seen


def together(graph: Graph) -> dict[str, Group]:
    """Each room with those that import each other with it, itself among them."""
    needs = {room: reached(graph, room) for room in graph}

    def is_with(one: str, room: str) -> bool:
        return one == room or (one in needs[room] and room in needs[one])

    return {room: tuple(sorted(o for o in graph if is_with(o, room))) for room in graph}


def between(graph: Graph, groups: Mapping[str, Group]) -> dict[Group, set[Group]]:
    """What each group imports, without what follows from the rest."""
    direct = {
        group: {groups[one] for room in group for one in graph[room]} - {group}
        for group in groups.values()
    }

    def all_below(group: Group) -> set[Group]:
        return direct[group].union(*(all_below(one) for one in direct[group]))

    return {
        group: {one for one in below if not any(one in all_below(other) for other in below - {one})}
        for group, below in direct.items()
    }


def drawn(graph: Graph) -> str:
    """The picture."""
    groups = together(graph)
    arrows = between(graph, groups)

    def floor(group: Group) -> int:
        return 1 + max((floor(one) for one in arrows[group]), default=-1)

    floors: dict[int, list[Group]] = {}
    for group in sorted(arrows, key=lambda one: (-len(one), one)):
        floors.setdefault(floor(group), []).append(group)
    width = max(map(_wide, floors.values())) + 2.0 * EDGE
    height = len(floors) * (BOX[1] + GAP_Y) + 2.0 * EDGE
    places: dict[Group, tuple[float, float, float]] = {}
    for level, row in floors.items():
        left = (width - _wide(row)) / 2
        y = height - EDGE - BOX[1] - level * (BOX[1] + GAP_Y)
        for group in row:
            places[group] = (left, y, _wide([group]))
            left += _wide([group]) + GAP_X
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}" '
        'font-family="sans-serif" font-size="12" fill="#1c2126">',
        f'<rect width="{width:.0f}" height="{height:.0f}" fill="#fff"/>',
    ]
    for group, below in arrows.items():
        x, y, wide = places[group]
        for other in sorted(below):
            to_x, to_y, to_wide = places[other]
            parts.append(
                f'<path d="M{x + wide / 2:.0f} {y + BOX[1]:.0f}L{to_x + to_wide / 2:.0f} '
                f'{to_y:.0f}" stroke="#9aa3ad" stroke-width="1.2"/>'
            )
    for group, (x, y, wide) in places.items():
        if len(group) > 1:
            parts.append(
                f'<rect x="{x - 5:.0f}" y="{y - 5:.0f}" width="{wide + 10:.0f}" '
                f'height="{BOX[1] + 10}" fill="#fff" stroke="#9aa3ad" stroke-dasharray="4 3"/>'
            )
        parts += [_box(room, x + at * (BOX[0] + 6), y) for at, room in enumerate(group)]
    return "\n".join([*parts, "</svg>"]) + "\n"


def _wide(row: list[Group]) -> float:
    boxes = sum(len(group) * (BOX[0] + 6) - 6 for group in row)
    return boxes + GAP_X * (len(row) - 1)


def _box(room: str, x: float, y: float) -> str:
    fill = "#dbe7f3" if room in PACKAGES else "#f4f1e6"
    where = ROOT / room if room in PACKAGES else ROOT / "monitor" / room
    files = list(where.rglob("*.py")) if where.is_dir() else [where.with_suffix(".py")]
    lines = sum(len(file.read_text(encoding="utf-8").splitlines()) for file in files)
    middle = x + BOX[0] / 2
    return (
        f'<rect x="{x:.0f}" y="{y:.0f}" width="{BOX[0]}" height="{BOX[1]}" fill="{fill}" '
        'stroke="#5b6570"/>'
        f'<text x="{middle:.0f}" y="{y + 14:.0f}" text-anchor="middle">{escape(room)}</text>'
        f'<text x="{middle:.0f}" y="{y + 28:.0f}" text-anchor="middle" font-size="9">'
        f"{len(files)} files, {lines:,} lines</text>"
    )


if __name__ == "__main__":
    PICTURE.write_text(drawn(rooms()), encoding="utf-8")
    pairs = {group for group in together(rooms()).values() if len(group) > 1}
    for pair in sorted(pairs):
        print("import each other:", ", ".join(pair))
