"""Reference values of models that open packages carry, for tests/numbers/open_models.rs: numpy, scipy and shapely (GEOS).

    python3 -m venv V && V/bin/pip install numpy scipy shapely
    V/bin/python tests/reference/open_models.py sponza.obj > tests/reference/open_models.json

sponza.obj is media/sponza.obj of the crate bvh 0.13.0 (crates.io, licence MIT as the package states it).

Conventions: all numbers as doubles; a face has uv only if every corner has. An n-gon that is convex in the plane of its
Newell normal is fanned from its first corner, any other is cut into ears in that plane. Of zero area: |cross| <= 1e-10 *
(longest edge)^2. Weights are areas in 3D, over the triangles that are of zero area neither in 3D nor in uv; a median is the
smallest value at which the cumulative weight reaches half. Shells: faces joined across edges both ends of which agree in
position value and uv value. Density for a map of 2048 px. Union by unary_union of all triangles; what is covered twice or
more from 8192 lines on which lengths are exact. diagonal_variant: the same with every corner list turned by one.
"""

import json
import os
import sys

import numpy as np
import scipy
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

MAP_PX = 2048
LINES = 8192


def read(path):
    out = {"v": [], "vt": [], "vn": 0, "faces": [], "o": set(), "g": set(), "usemtl": set()}
    group, object_, material = None, None, None
    for line in open(path, encoding="latin-1"):
        words = line.split()
        if not words:
            continue
        key, rest = words[0], words[1:]
        if key == "v":
            out["v"].append([float(x) for x in rest[:3]])
        elif key == "vt":
            out["vt"].append([float(x) for x in rest[:2]])
        elif key == "vn":
            out["vn"] += 1
        elif key == "f":
            corners = []
            for word in rest:
                slots = word.split("/")
                v, vt = int(slots[0]), int(slots[1]) if len(slots) > 1 and slots[1] else 0
                corners.append((v - 1 if v > 0 else len(out["v"]) + v, vt - 1 if vt > 0 else len(out["vt"]) + vt if vt else -1))
            out["faces"].append(corners)
    out["v"], out["vt"] = np.array(out["v"]), np.array(out["vt"])
    return out


def cross2(a, b):
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def cut(points):
    """Corner numbers of the triangles of one polygon in space."""
    n = len(points)
    if n == 3:
        return [(0, 1, 2)], True
    after = np.roll(points, -1, axis=0)
    normal = np.cross(points, after).sum(axis=0)
    drop = int(np.argmax(np.abs(normal)))
    plane = np.delete(points, drop, axis=1)
    sign = normal[drop] * (-1 if drop == 1 else 1)
    plane = plane if sign > 0 else plane[:, ::-1]
    turns = cross2(np.roll(plane, -1, axis=0) - plane, np.roll(plane, -2, axis=0) - np.roll(plane, -1, axis=0))
    size = np.ptp(plane, axis=0).max() ** 2
    if (turns >= -1e-12 * size).all():
        return [(0, i, i + 1) for i in range(1, n - 1)], True
    left, triangles = list(range(n)), []
    while len(left) > 3:
        for k in range(len(left)):
            a, b, c = left[k - 1], left[k], left[(k + 1) % len(left)]
            p, q, r = plane[a], plane[b], plane[c]
            if cross2(q - p, r - q) <= 0:
                continue
            others = plane[[i for i in left if i not in (a, b, c)]]
            inside = (cross2(q - p, others - p) >= 0) & (cross2(r - q, others - q) >= 0) & (cross2(p - r, others - r) >= 0)
            if not inside.any():
                triangles.append((a, b, c))
                left.pop(k)
                break
        else:
            k = 1
            triangles.append((left[0], left[1], left[2]))
            left.pop(1)
    triangles.append(tuple(left))
    return triangles, False


def triangulated(model, turn):
    triangles, owner, nonconvex = [], [], 0
    for f, face in enumerate(model["faces"]):
        face = face[turn:] + face[:turn]
        points = model["v"][[v for v, _ in face]]
        cuts, convex = cut(points)
        nonconvex += not convex
        for a, b, c in cuts:
            triangles.append((face[a], face[b], face[c]))
            owner.append(f)
    return np.array(triangles), np.array(owner), nonconvex


def quantile(values, weights, share):
    order = np.argsort(values, kind="stable")
    sums = np.cumsum(weights[order])
    return float(values[order][np.searchsorted(sums, share * sums[-1])])


def figures(model, turn):
    triangles, owner, nonconvex = triangulated(model, turn)
    p = model["v"][triangles[:, :, 0]]
    mapped = (triangles[:, :, 1] >= 0).all(axis=1)
    q = model["vt"][np.where(triangles[:, :, 1] >= 0, triangles[:, :, 1], 0)]
    e1, e2 = p[:, 1] - p[:, 0], p[:, 2] - p[:, 0]
    area2 = np.linalg.norm(np.cross(e1, e2), axis=1)
    longest = np.max([(np.roll(p, -1, axis=1) - p)[:, i] ** 2 @ np.ones(3) for i in range(3)], axis=0)
    zero_3d = area2 <= 1e-10 * longest
    d1, d2 = q[:, 1] - q[:, 0], q[:, 2] - q[:, 0]
    signed2 = cross2(d1, d2)
    longest_uv = np.max([(np.roll(q, -1, axis=1) - q)[:, i] ** 2 @ np.ones(2) for i in range(3)], axis=0)
    zero_uv = mapped & (np.abs(signed2) <= 1e-10 * longest_uv)
    regular = mapped & ~zero_3d & ~zero_uv
    a3 = area2 / 2
    auv = np.abs(signed2) / 2
    x1 = np.sqrt((e1[regular] ** 2).sum(axis=1))
    x2 = (e1[regular] * e2[regular]).sum(axis=1) / x1
    y2 = area2[regular] / x1
    local = np.zeros((regular.sum(), 2, 2))
    local[:, 0, 0], local[:, 0, 1], local[:, 1, 1] = x1, x2, y2
    jacobian = np.stack([d1[regular], d2[regular]], axis=2) @ np.linalg.inv(local)
    s = np.linalg.svd(jacobian, compute_uv=False)
    s1, s2 = s[:, 0], s[:, 1]
    w = a3[regular]
    aniso = s1 / s2
    scale = np.sqrt(auv[regular].sum() / w.sum())
    total = a3[mapped].sum()
    return {
        "triangles": len(triangles),
        "faces_nonconvex": nonconvex,
        "tri_3d_zero": int(zero_3d.sum()),
        "tri_uv_zero": int(zero_uv.sum()),
        "tri_uv_negative": int((mapped & ~zero_uv & (signed2 < 0)).sum()),
        "frac3d_uv_negative": float(a3[mapped & ~zero_uv & (signed2 < 0)].sum() / total),
        "area3d_total": float(a3.sum()),
        "area3d_uv": float(total),
        "area_uv_abs": float(auv[mapped].sum()),
        "aniso_median": quantile(aniso, w, 0.5),
        "aniso_frac_gt_1_25": float(w[aniso > 1.25].sum() / w.sum()),
        "aniso_frac_gt_2": float(w[aniso > 2].sum() / w.sum()),
        "stretch_L2_norm": float(np.sqrt((w * (1 / s2**2 + 1 / s1**2) / 2).sum() / w.sum()) * scale),
        "stretch_Linf_norm": float((1 / s2).max() * scale),
        "td_mean_tri": float((a3[mapped] * np.sqrt(auv[mapped] / np.where(a3[mapped] > 0, a3[mapped], 1))).sum() / total * MAP_PX),
        "td_global": float(MAP_PX * np.sqrt(auv[mapped].sum() / total)),
    }, (triangles, owner, mapped & ~zero_uv, q, a3, auv, regular)


def shells(model):
    _, v = np.unique(model["v"], axis=0, return_inverse=True)
    _, vt = np.unique(model["vt"], axis=0, return_inverse=True)
    sides, joined, has_uv = {}, [], []
    for f, face in enumerate(model["faces"]):
        has_uv.append(all(t >= 0 for _, t in face))
        if not has_uv[-1]:
            continue
        ends = [(int(v.ravel()[p]), int(vt.ravel()[t])) for p, t in face]
        for a, b in zip(ends, ends[1:] + ends[:1]):
            first = sides.setdefault((min(a, b), max(a, b)), f)
            joined.append((first, f))
    rows, columns = zip(*joined)
    n = len(model["faces"])
    _, label = connected_components(coo_matrix((np.ones(len(rows)), (rows, columns)), shape=(n, n)), directed=False)
    return label, np.array(has_uv)


def twice(q):
    """Area covered twice or more, from lines at heights that no corner has."""
    low, high = q[:, :, 1].min(), q[:, :, 1].max()
    step = (high - low) / LINES
    lows, highs = q[:, :, 1].min(axis=1), q[:, :, 1].max(axis=1)
    sums = 0.0
    for line in range(LINES):
        y = low + (line + 0.5 + 0.2 * np.sin(line * 1.618)) * step
        cut = q[(lows < y) & (y < highs)]
        if len(cut) == 0:
            continue
        a, b = cut, np.roll(cut, -1, axis=1)
        over = (a[:, :, 1] > y) != (b[:, :, 1] > y)
        rise = np.where(over, b[:, :, 1] - a[:, :, 1], 1.0)
        x = np.where(over, a[:, :, 0] + (b[:, :, 0] - a[:, :, 0]) * (y - a[:, :, 1]) / rise, np.nan)
        starts, ends = np.nanmin(x, axis=1), np.nanmax(x, axis=1)
        places = np.concatenate([starts, ends])
        steps = np.concatenate([np.ones(len(starts)), -np.ones(len(ends))])
        order = np.argsort(places, kind="stable")
        depth = np.cumsum(steps[order])
        sums += np.diff(places[order])[depth[:-1] >= 2].sum() * step
    return float(sums)


def measure(path):
    model = read(path)
    figs, (triangles, owner, used, q, a3, auv, regular) = figures(model, 0)
    variant, _ = figures(model, 1)
    label, has_uv = shells(model)
    count = len(np.unique(label[has_uv]))
    of = label[owner]
    surface, uv = np.bincount(of, a3), np.bincount(of, auv)
    some = np.bincount(of[regular], minlength=len(surface)) > 0
    density = MAP_PX * np.sqrt(uv[some] / surface[some])
    polygons = shapely.polygons(np.unique(q[used], axis=0))
    union = shapely.unary_union(polygons)
    pieces = shapely.intersection(polygons, shapely.box(0, 0, 1, 1))
    inside = shapely.intersection(shapely.polygons(q[used]), shapely.box(0, 0, 1, 1))
    corners = q.reshape(-1, 2)[np.repeat(has_uv[owner], 3)]
    figs |= {
        "v": len(model["v"]),
        "vt": len(model["vt"]),
        "vn": model["vn"],
        "faces": len(model["faces"]),
        "faces_no_vt": int((~has_uv).sum()),
        "shells_welded_edge": count,
        "td_shell_min": float(density.min()),
        "td_shell_max": float(density.max()),
        "td_mean_shell": float((density * surface[some]).sum() / surface[some].sum()),
        "td_shell_p05": quantile(density, surface[some], 0.05),
        "td_shell_median": quantile(density, surface[some], 0.5),
        "td_shell_p95": quantile(density, surface[some], 0.95),
        "union_area": float(union.area),
        "coverage01": float(shapely.unary_union(pieces).area),
        "overlap_frac": float((auv[used].sum() - union.area) / union.area),
        "overlap2_frac": twice(q[used]) / float(union.area),
        "uv_outside_frac": float(1 - shapely.area(inside).sum() / auv[used].sum()),
        "uv_min": corners.min(axis=0).tolist(),
        "uv_max": corners.max(axis=0).tolist(),
        "diagonal_variant": variant,
    }
    return figs


made = {"numpy": np.__version__, "scipy": scipy.__version__, "shapely": shapely.__version__}
made["geos"] = ".".join(map(str, shapely.geos_version))
models = {os.path.basename(path): measure(path) for path in sys.argv[1:]}
json.dump({"made_with": made, "models": models}, sys.stdout, indent=1)
print()
