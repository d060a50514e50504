"""Singular values of the map surface -> map (px) of random triangles, by numpy's QR and SVD.

    pip install numpy==2.4.6
    python svd.py > svd.json

The triangles are made by the formula below, which tests/reference.rs repeats. The frame is any orthonormal one in the
triangle's plane (QR of its sides), since singular values do not depend on it. A map is 2048 x 1024 px.
"""
import json
import sys

import numpy

COUNT = 400


def noise(a, b, seed):
    x = (a * 73856093 ^ b * 19349663 ^ seed * 83492791) & 0xFFFFFFFF
    x ^= x >> 16
    x = x * 0x45D9F3B & 0xFFFFFFFF
    return x ^ x >> 16


def triangle(number):
    unit = lambda i: noise(number, i, 9) / 4294967296.0
    p = numpy.array([[unit(3 * k + i) * 2.0 - 1.0 for i in range(3)] for k in range(3)])
    q = numpy.array([[unit(20 + 2 * k + i) for i in range(2)] for k in range(3)])
    # Every fourth is flattened towards a sliver, on the surface and on the sheet in turn.
    thin = 2.0 ** -(number % 13)
    if number % 4 == 1:
        p[2] = p[0] + (p[1] - p[0]) * 0.5 + (p[2] - p[0]) * thin
    if number % 4 == 3:
        q[2] = q[0] + (q[1] - q[0]) * 0.5 + (q[2] - q[0]) * thin
    return p, q


values = []
for number in range(COUNT):
    p, q = triangle(number)
    sides = numpy.array([p[1] - p[0], p[2] - p[0]]).T
    flat = numpy.linalg.qr(sides)[1]
    sheet = numpy.array([q[1] - q[0], q[2] - q[0]]).T * numpy.array([[2048.0], [1024.0]])
    s = numpy.linalg.svd(sheet @ numpy.linalg.inv(flat), compute_uv=False)
    values.append([float(s[0]), float(s[1])])
json.dump({"made_with": {"numpy": numpy.__version__}, "map_px": [2048, 1024], "values": values}, sys.stdout, separators=(",", ":"))
print()
