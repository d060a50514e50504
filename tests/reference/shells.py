"""Shells, parts and edges of meshes with random cuts, counted by scipy and by networkx, which must agree.

    pip install numpy==2.4.6 scipy==1.17.1 networkx==3.6.1
    python shells.py > shells.json

The meshes are made by the formulas below, which tests/reference.rs repeats; nothing of the project's own code is used. A grid
of nx by ny cells, each one quad or two triangles; some faces are missing; every face has one of a few labels, and uv of
another label lies elsewhere; now and then a single corner is moved, so that an edge agrees at one end only.
"""
import json
import sys

import networkx
import numpy
import scipy
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components


def noise(a, b, seed):
    x = (a * 73856093 ^ b * 19349663 ^ seed * 83492791) & 0xFFFFFFFF
    x ^= x >> 16
    x = x * 0x45D9F3B & 0xFFFFFFFF
    return x ^ x >> 16


def faces_of(nx, ny, triangles, labels, missing, seed):
    """Corners as (position, uv), uv as whole numbers (quarters of a cell)."""
    faces = []
    for y in range(ny):
        for x in range(nx):
            a = y * (nx + 1) + x
            quad = [a, a + 1, a + nx + 2, a + nx + 1]
            cuts = [quad[:3], [quad[0], quad[2], quad[3]]] if triangles else [quad]
            for cut, corners in enumerate(cuts):
                number = 2 * (y * nx + x) + cut
                if noise(number, 1, seed) % missing == 0:
                    continue
                label = noise(number, 2, seed) % labels
                face = []
                for p in corners:
                    moved = 1 if noise(number, 100 + p, seed) % 40 == 0 else 0
                    u = 4 * (p % (nx + 1)) + label * 4 * (nx + 2) + moved
                    face.append((p, (u, 4 * (p // (nx + 1)))))
                faces.append(face)
    return faces


def count(faces):
    edges = {}
    for f, face in enumerate(faces):
        for i, (p, q) in enumerate(face):
            r, s = face[(i + 1) % len(face)]
            ends = ((p, q), (r, s)) if p < r else ((r, s), (p, q))
            edges.setdefault((ends[0][0], ends[1][0]), []).append((f, ends[0][1], ends[1][1]))
    joined, seams, opened = [], 0, 0
    for sides in edges.values():
        assert len(sides) <= 2
        if len(sides) == 1:
            opened += 1
        elif sides[0][1:] == sides[1][1:]:
            joined.append((sides[0][0], sides[1][0]))
        else:
            seams += 1
    by_position = {}
    touching = []
    for f, face in enumerate(faces):
        for p, _ in face:
            touching.append((by_position.setdefault(p, f), f))
    shell_faces = sizes(len(faces), joined)
    return {
        "faces": len(faces),
        "shells": len(shell_faces),
        "parts": len(sizes(len(faces), touching)),
        "seam_edges": seams,
        "open_edges": opened,
        "shell_faces": shell_faces,
    }


def sizes(count, pairs):
    """Members of each class, in order of its first member; by two libraries."""
    rows, columns = zip(*pairs)
    graph = coo_matrix((numpy.ones(len(pairs)), (rows, columns)), shape=(count, count))
    classes, of = connected_components(graph, directed=False)
    by_scipy = [int((of == label).sum()) for label in dict.fromkeys(of.tolist())]
    other = networkx.Graph()
    other.add_nodes_from(range(count))
    other.add_edges_from(pairs)
    by_networkx = [len(c) for c in sorted(networkx.connected_components(other), key=min)]
    assert by_scipy == by_networkx and len(by_scipy) == classes
    return by_scipy


cases = []
for nx, ny, triangles, labels, missing, seed in [
    (8, 6, False, 2, 12, 1),
    (8, 6, True, 2, 12, 2),
    (30, 20, False, 2, 12, 3),
    (30, 20, True, 2, 12, 4),
    (30, 20, True, 5, 2, 5),
    (61, 47, False, 3, 12, 6),
    (61, 47, True, 1, 12, 7),
    (3, 90, True, 2, 2, 8),
]:
    case = {"nx": nx, "ny": ny, "triangles": triangles, "labels": labels, "missing": missing, "seed": seed}
    cases.append(case | count(faces_of(nx, ny, triangles, labels, missing, seed)))
made = {"numpy": numpy.__version__, "scipy": scipy.__version__, "networkx": networkx.__version__}
json.dump({"made_with": made, "cases": cases}, sys.stdout, separators=(",", ":"))
print()
