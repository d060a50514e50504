"""Padding, borders, coverage and overlap of random layouts, by shapely: reference values for tests/padding.rs.

    python3 -m venv V && V/bin/pip install shapely numpy && V/bin/python tests/reference/padding.py > tests/reference/padding.json

Definitions: distances in px at the map's size (u times width, v times height). Two shells that overlap in more than
0.01 px2 have no gap. On a sheet of UDIM tiles shells of different tiles have none either; a shell across a border has
no border distance and is held against all. Shells are rectangles, L shapes and rings, given by kind, centre, size and
turn; the polygons here come from their outlines, the triangles of the test from its own code.
"""

import json
import math
import sys

import numpy
import shapely
from shapely import Polygon, affinity, box

OVERLAP_PX2 = 0.01
BETWEEN_PX, BORDER_PX = 16.0, 8.0
RING_HOLE = 0.7  # the hole's size over the ring's
L_BAR = 0.4  # width of an L's bars over its size


def shape(kind, width, height):
    """Outline and holes about the origin."""
    w, h = width / 2, height / 2
    corners = [(-w, -h), (w, -h), (w, h), (-w, h)]
    if kind == "rectangle":
        return Polygon(corners)
    if kind == "ring":
        return Polygon(corners, [[(x * RING_HOLE, y * RING_HOLE) for x, y in corners]])
    x, y = -w + L_BAR * width, -h + L_BAR * height
    return Polygon([(-w, -h), (w, -h), (w, y), (x, y), (x, h), (-w, h)])


def polygon(row, size):
    kind, u, v, width, height, turn = row
    turned = affinity.rotate(shape(kind, width, height), turn, origin=(0, 0))
    return affinity.scale(affinity.translate(turned, u, v), *size, origin=(0, 0))


def tile(poly, size, udim):
    """Column and row of the tile a shell lies in, or None."""
    low_x, low_y, high_x, high_y = poly.bounds
    column, row = math.floor((low_x + high_x) / 2 / size[0]), math.floor((low_y + high_y) / 2 / size[1])
    inside = box(column * size[0], row * size[1], (column + 1) * size[0], (row + 1) * size[1]).covers(poly)
    exists = 0 <= column < (10 if udim else 1) and 0 <= row < (900 if udim else 1)
    return (column, row) if inside and exists else None


def layout(random, count, size, udim):
    reach = 2.0 if udim else 1.0
    rows, polygons = [], []
    while len(rows) < count:
        kind = ["rectangle", "l", "ring"][random.integers(3)]
        u, v = random.uniform(0.0, reach, 2)
        scale = 0.6 * reach / math.sqrt(count)
        width, height = random.uniform(0.3, 1.0, 2) * scale
        turn = float(random.integers(360)) if random.random() < 0.7 else 0.0
        new = [[kind, u, v, width, height, turn]]
        if kind == "ring":
            inner = RING_HOLE * random.uniform(0.3, 0.95)
            new.append(["rectangle", u, v, width * inner, height * inner, turn])
        new = [[r[0]] + [round(float(x), 4) for x in r[1:]] for r in new]
        shapes = [polygon(r, size) for r in new]
        # Too near to the limit of what overlaps: another one.
        areas = [shapely.intersection(p, q).area for p in polygons for q in shapes]
        if all(area < 1e-9 or area > 10 * OVERLAP_PX2 for area in areas):
            rows += new
            polygons += shapes
    tiles = [tile(p, size, udim) for p in polygons]
    gaps = []
    for b, q in enumerate(polygons):
        for a, p in enumerate(polygons[:b]):
            other_tile = udim and tiles[a] and tiles[b] and tiles[a] != tiles[b]
            if other_tile or shapely.intersection(p, q).area > OVERLAP_PX2:
                continue
            distance = p.distance(q)
            apart = abs(rows[a][5] - rows[b][5]) % 90
            line = shapely.shortest_line(p, q)
            at = [c / s for point in line.coords for c, s in zip(point, size)]
            # Parallel sides are nearest in many places.
            gaps.append((distance, a, b, at if min(apart, 90 - apart) > 1 else None))
    gaps.sort(key=lambda gap: gap[:3])
    borders = []
    for poly, where in zip(polygons, tiles):
        square = where and box(*(c * s for c, s in zip(where, size)), *((c + 1) * s for c, s in zip(where, size)))
        borders.append(poly.distance(square.boundary) if square else None)
    return {
        "width_px": size[0],
        "height_px": size[1],
        "tiles": "udim" if udim else "single",
        "shells": rows,
        "least": gaps[0] if gaps else None,
        "below": [gap[:3] for gap in gaps if gap[0] < BETWEEN_PX],
        "borders": borders,
    }


def soup(random, count):
    """Triangles strewn over the tile and a little beyond."""
    triangles = []
    while len(triangles) < count:
        middle = random.uniform(-0.1, 1.1, 2)
        t = [[round(float(c), 4) for c in middle + random.normal(0, 0.12, 2)] for _ in range(3)]
        if Polygon(t).area > 1e-4:
            triangles.append(t)
    polygons = [Polygon(t) for t in triangles]
    union = shapely.unary_union(polygons)
    twice = shapely.unary_union([p & q for i, p in enumerate(polygons) for q in polygons[:i]])
    total = sum(p.area for p in polygons)
    tile = box(0, 0, 1, 1)
    return {
        "triangles": triangles,
        "coverage": (union & tile).area,
        "overlap_share": twice.area / union.area,
        "overlap_excess": (total - union.area) / union.area,
        "outside_share": 1 - sum((p & tile).area for p in polygons) / total,
    }


def rounded(value):
    if isinstance(value, float):
        return float(f"{value:.12g}")
    if isinstance(value, dict):
        return {key: rounded(x) for key, x in value.items()}
    return [rounded(x) for x in value] if isinstance(value, (list, tuple)) else value


def main():
    random = numpy.random.default_rng(20261125)
    layouts = [
        layout(random, count, size, udim)
        for count in [2, 3, 5, 8, 13, 25, 50, 100, 200]
        for size, udim in [((2048, 2048), False), ((4096, 1024), False), ((1000, 1000), True)]
    ]
    result = {
        "made_by": {
            "python": sys.version.split()[0],
            "shapely": shapely.__version__,
            "geos": shapely.geos_version_string,
            "numpy": numpy.__version__,
        },
        "between_px": BETWEEN_PX,
        "border_px": BORDER_PX,
        "layouts": rounded(layouts),
        "soups": rounded([soup(random, count) for count in [1, 2, 4, 8, 16, 32, 64]]),
    }
    lines = json.dumps(result, separators=(",", ":"))
    for key in ['"layouts":', '"soups":', '{"width_px"', '{"triangles"']:
        lines = lines.replace(key, "\n" + key)
    print(lines)


main()
