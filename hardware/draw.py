#!/usr/bin/env python3
"""Draws the wiring diagrams: every wiring/NAME.txt becomes wiring/NAME.svg.

    hardware/draw.py            write them
    hardware/draw.py --check    fail if one is not what its source gives

A source has a line for each thing:

    title TEXT
    block NAME COLUMN TEXT            columns from the left, blocks of a column from the top
    pin BLOCK SIDE NAME [TEXT]        left or right, from the top; of NAME~2 only NAME is drawn
    wire FROM.PIN TO.PIN [TEXT]       between neighbouring columns, from a right side to a left side
    note TEXT                         below the drawing

Needs nothing but Python's standard library.
"""

import sys
from html import escape
from pathlib import Path

FOLDER = Path(__file__).resolve().parent / "wiring"
BLOCK_WIDTH, PIN_STEP, HEAD, GAP, FIRST_X, FIRST_Y = 262, 26, 34, 34, 24, 64
LANE, CHANNEL_PAD = 13, 16
COLOURS = ["#0b5394", "#9c2f10", "#38761d", "#6a3d9a", "#7f6000", "#134f5c"]


class Fault(Exception):
    """Says which line of which source is wrong."""


def read(path):
    """Blocks, wires, notes and title of a source."""
    blocks, wires, notes, title = {}, [], [], path.stem
    for number, line in enumerate(path.read_text().splitlines(), 1):
        words = line.split()
        if not words or words[0].startswith("#"):
            continue
        kind, rest = words[0], words[1:]
        try:
            if kind == "title":
                title = " ".join(rest)
            elif kind == "note":
                notes.append(" ".join(rest))
            elif kind == "block":
                blocks[rest[0]] = {"column": int(rest[1]), "text": " ".join(rest[2:]), "left": [], "right": []}
            elif kind == "pin":
                blocks[rest[0]][rest[1]].append((rest[2], " ".join(rest[3:])))
            elif kind == "wire":
                wires.append((rest[0].split("."), rest[1].split("."), " ".join(rest[2:])))
            else:
                raise KeyError(kind)
        except (KeyError, IndexError, ValueError) as fault:
            raise Fault(f"{path.name}, line {number}: {line.strip()!r} is not understood ({fault})") from None
    return title, blocks, wires, notes


def place(blocks, wires):
    """Gives each block its place and each pin its end; channel widths follow from the wires in them."""
    columns = sorted({block["column"] for block in blocks.values()})
    in_channel = {column: [] for column in columns}
    for index, (start, _, text) in enumerate(wires):
        in_channel[blocks[start[0]]["column"]].append((index, text))
    x, lefts = FIRST_X, {}
    for column in columns:
        lefts[column] = x
        longest = max((len(text) for _, text in in_channel[column]), default=0)
        lanes = len(in_channel[column])
        x += BLOCK_WIDTH + (CHANNEL_PAD * 2 + min(longest * 6.1, 100) + lanes * LANE if lanes else 0)
    height = {name: HEAD + PIN_STEP * max(len(block["left"]), len(block["right"]), 1) for name, block in blocks.items()}
    ends, bottoms = {}, {}
    for name, block in blocks.items():
        top = bottoms.get(block["column"], FIRST_Y)
        block.update(x=lefts[block["column"]], y=top, height=height[name])
        bottoms[block["column"]] = top + height[name] + GAP
        for side in ("left", "right"):
            for row, (pin, _) in enumerate(block[side]):
                at = block["x"] + (BLOCK_WIDTH if side == "right" else 0)
                ends[name, pin] = (at, top + HEAD + PIN_STEP * row + 8, side)
    return x, max(bottoms.values()), ends


def lanes_of(blocks, wires, ends):
    """A vertical lane for each wire, so that none runs over another: those that go down take lanes from the right."""
    lanes = {}
    for column in {block["column"] for block in blocks.values()}:
        inside = [i for i, (start, _, _) in enumerate(wires) if blocks[start[0]]["column"] == column]

        def order(index):
            (_, y_from, _), (_, y_to, _) = ends[tuple(wires[index][0])], ends[tuple(wires[index][1])]
            return (y_to > y_from, -y_from if y_to > y_from else y_from)

        for lane, index in enumerate(sorted(inside, key=order)):
            lanes[index] = lane - len(inside)
    return lanes


def draw(path):
    """The SVG text of a source."""
    title, blocks, wires, notes = read(path)
    width, bottom, ends = place(blocks, wires)
    for start, stop, _ in wires:
        for end in (start, stop):
            if tuple(end) not in ends:
                raise Fault(f"{path.name}: no pin {'.'.join(end)}")
    lanes = lanes_of(blocks, wires, ends)
    width += FIRST_X
    width = max(width, max((len(note) for note in notes), default=0) * 6.4 + 2 * FIRST_X)
    full = bottom + 18 * len(notes) + 10
    out = [f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:.0f} {full}" width="{width:.0f}" height="{full}" '
           'font-family="sans-serif" font-size="12">',
           f"<title>{escape(title)}</title>",
           f'<rect width="{width:.0f}" height="{full}" fill="#ffffff"/>',
           f'<text x="{FIRST_X}" y="32" font-size="18" font-weight="bold">{escape(title)}</text>']
    for index, (start, stop, text) in enumerate(wires):
        (x0, y0, _), (x1, y1, _) = ends[tuple(start)], ends[tuple(stop)]
        lane = x1 - CHANNEL_PAD + LANE * (lanes[index] + 1)
        colour = COLOURS[index % len(COLOURS)]
        out.append(f'<path d="M{x0} {y0}H{lane:.1f}V{y1}H{x1:.1f}" fill="none" stroke="{colour}" stroke-width="1.6"/>')
        if text:
            out.append(f'<text x="{x0 + 6}" y="{y0 - 4}" font-size="11" fill="{colour}">{escape(text)}</text>')
    for name, block in blocks.items():
        x, y = block["x"], block["y"]
        out.append(f'<rect x="{x:.1f}" y="{y}" width="{BLOCK_WIDTH}" height="{block["height"]}" rx="5" fill="#f6f6f2" stroke="#333333"/>')
        out.append(f'<text x="{x + 8:.1f}" y="{y + 18}" font-weight="bold">{escape(block["text"])}</text>')
        for side in ("left", "right"):
            for pin, text in block[side]:
                at, y_pin, _ = ends[name, pin]
                label = f"{pin.split('~')[0]} {text}".strip()
                anchor, shift = ("start", 8) if side == "left" else ("end", -8)
                out.append(f'<circle cx="{at:.1f}" cy="{y_pin}" r="3" fill="#333333"/>')
                out.append(f'<text x="{at + shift:.1f}" y="{y_pin + 4}" text-anchor="{anchor}">{escape(label)}</text>')
    for row, note in enumerate(notes):
        out.append(f'<text x="{FIRST_X}" y="{bottom + 18 * row}">{escape(note)}</text>')
    return "\n".join(out) + "\n</svg>\n"


def main():
    for source in sorted(FOLDER.glob("*.txt")):
        target = source.with_suffix(".svg")
        try:
            text = draw(source)
        except Fault as fault:
            sys.exit(str(fault))
        if "--check" not in sys.argv:
            target.write_text(text)
        elif not target.exists() or target.read_text() != text:
            sys.exit(f"{target.name} is not what {source.name} gives; run hardware/draw.py")


if __name__ == "__main__":
    main()
