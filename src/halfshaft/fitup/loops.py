"""The counted loops of fit-up, compiled: plain arrays in and out. Only door to numba."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

import numba
import numpy as np
from numpy.typing import NDArray

from halfshaft.fitup.model import Array


def compiled(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compiled at the first call, kept on disk; runs free of the interpreter's lock."""
    return cast(Callable[..., Any], numba.njit(cache=True, nogil=True)(function))


@compiled
def length(x, y, z):  # type: ignore[no-untyped-def]
    return np.sqrt(x * x + y * y + z * z)


@compiled
def beyond(g, last):  # type: ignore[no-untyped-def]
    """How far a place on an axis, in steps, lies off the nodes from 0 to last."""
    return -g if g < 0.0 else (g - last if g > last else 0.0)


@compiled
def kept(g, last):  # type: ignore[no-untyped-def]
    return 0.0 if g < 0.0 else (last if g > last else g)


@compiled
def triangle_distance(p, a, b, c):  # type: ignore[no-untyped-def]
    """Distance of a point from a triangle. Source: Ericson, Real-Time Collision Detection (2005), 5.1.5."""
    abx, aby, abz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
    acx, acy, acz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
    apx, apy, apz = p[0] - a[0], p[1] - a[1], p[2] - a[2]
    d1 = abx * apx + aby * apy + abz * apz
    d2 = acx * apx + acy * apy + acz * apz
    if d1 <= 0.0 and d2 <= 0.0:
        return length(apx, apy, apz)
    bpx, bpy, bpz = p[0] - b[0], p[1] - b[1], p[2] - b[2]
    d3 = abx * bpx + aby * bpy + abz * bpz
    d4 = acx * bpx + acy * bpy + acz * bpz
    if d3 >= 0.0 and d4 <= d3:
        return length(bpx, bpy, bpz)
    vc = d1 * d4 - d3 * d2
    if vc <= 0.0 and d1 >= 0.0 and d3 <= 0.0:
        v = d1 / (d1 - d3) if d1 != d3 else 0.0
        x, y, z = apx - v * abx, apy - v * aby, apz - v * abz
        return length(x, y, z)
    cpx, cpy, cpz = p[0] - c[0], p[1] - c[1], p[2] - c[2]
    d5 = abx * cpx + aby * cpy + abz * cpz
    d6 = acx * cpx + acy * cpy + acz * cpz
    if d6 >= 0.0 and d5 <= d6:
        return length(cpx, cpy, cpz)
    vb = d5 * d2 - d1 * d6
    if vb <= 0.0 and d2 >= 0.0 and d6 <= 0.0:
        w = d2 / (d2 - d6) if d2 != d6 else 0.0
        x, y, z = apx - w * acx, apy - w * acy, apz - w * acz
        return length(x, y, z)
    va = d3 * d6 - d5 * d4
    if va <= 0.0 and (d4 - d3) >= 0.0 and (d5 - d6) >= 0.0:
        s = (d4 - d3) + (d5 - d6)
        w = (d4 - d3) / s if s != 0.0 else 0.0
        x = bpx - w * (c[0] - b[0])
        y = bpy - w * (c[1] - b[1])
        z = bpz - w * (c[2] - b[2])
        return length(x, y, z)
    s = va + vb + vc
    v, w = vb / s, vc / s
    x = apx - v * abx - w * acx
    y = apy - v * aby - w * acy
    z = apz - v * abz - w * acz
    return length(x, y, z)


@compiled
def band(faces, origin, step, reach, out):  # type: ignore[no-untyped-def]
    """Least distance to triangles (t, 3, 3) at the nodes within `reach` of them, into `out` (nx, ny, nz)."""
    shape = out.shape
    p = np.empty(3)
    low = np.empty(3, np.int64)
    high = np.empty(3, np.int64)
    for t in range(len(faces)):
        a, b, c = faces[t, 0], faces[t, 1], faces[t, 2]
        ux, uy, uz = b[0] - a[0], b[1] - a[1], b[2] - a[2]
        vx, vy, vz = c[0] - a[0], c[1] - a[1], c[2] - a[2]
        nx, ny, nz = uy * vz - uz * vy, uz * vx - ux * vz, ux * vy - uy * vx
        size = length(nx, ny, nz)
        if size > 0.0:
            nx, ny, nz = nx / size, ny / size, nz / size
        for k in range(3):
            lo = min(a[k], b[k], c[k]) - reach
            hi = max(a[k], b[k], c[k]) + reach
            low[k] = max(int(np.ceil((lo - origin[k]) / step)), 0)
            high[k] = min(int(np.floor((hi - origin[k]) / step)), shape[k] - 1)
        for i in range(low[0], high[0] + 1):
            p[0] = origin[0] + i * step
            for j in range(low[1], high[1] + 1):
                p[1] = origin[1] + j * step
                for k in range(low[2], high[2] + 1):
                    p[2] = origin[2] + k * step
                    off = abs((p[0] - a[0]) * nx + (p[1] - a[1]) * ny + (p[2] - a[2]) * nz)
                    if off > reach or off >= out[i, j, k]:
                        continue
                    d = triangle_distance(p, a, b, c)
                    if d < out[i, j, k]:
                        out[i, j, k] = d


@compiled
def winding(faces, origin, step, out):  # type: ignore[no-untyped-def]
    """How often closed triangles (t, 3, 3) wind round each node, into `out` (nx, ny, nz) of nought.

    Columns stand off their nodes by under a thousandth of a step, so that they miss the edges.
    """
    nx, ny, nz = out.shape
    x0 = origin[0] + step * 0.00061803
    y0 = origin[1] + step * 0.00041421
    for t in range(len(faces)):
        a, b, c = faces[t, 0], faces[t, 1], faces[t, 2]
        area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])
        if area == 0.0:
            continue
        sign = -1 if area > 0.0 else 1
        i0 = max(int(np.ceil((min(a[0], b[0], c[0]) - x0) / step)), 0)
        i1 = min(int(np.floor((max(a[0], b[0], c[0]) - x0) / step)), nx - 1)
        j0 = max(int(np.ceil((min(a[1], b[1], c[1]) - y0) / step)), 0)
        j1 = min(int(np.floor((max(a[1], b[1], c[1]) - y0) / step)), ny - 1)
        for i in range(i0, i1 + 1):
            x = x0 + i * step
            for j in range(j0, j1 + 1):
                y = y0 + j * step
                wa = ((b[0] - x) * (c[1] - y) - (b[1] - y) * (c[0] - x)) / area
                wb = ((c[0] - x) * (a[1] - y) - (c[1] - y) * (a[0] - x)) / area
                wc = 1.0 - wa - wb
                if wa < 0.0 or wb < 0.0 or wc < 0.0:
                    continue
                k = max(int(np.ceil((wa * a[2] + wb * b[2] + wc * c[2] - origin[2]) / step)), 0)
                if k < nz:
                    out[i, j, k] += sign
    for i in range(nx):
        for j in range(ny):
            for k in range(1, nz):
                out[i, j, k] += out[i, j, k - 1]


@compiled
def nearest_node(grid, inverse, gx, gy, gz):  # type: ignore[no-untyped-def]
    """The value at the node nearest to a spot in grid steps, less the way to the grid's edge where it lies outside."""
    lx, ly, lz = grid.shape[0] - 1.0, grid.shape[1] - 1.0, grid.shape[2] - 1.0
    value = float(grid[int(kept(gx, lx) + 0.5), int(kept(gy, ly) + 0.5), int(kept(gz, lz) + 0.5)])
    return value - length(beyond(gx, lx), beyond(gy, ly), beyond(gz, lz)) / inverse


@compiled
def between_nodes(grid, inverse, gx, gy, gz):  # type: ignore[no-untyped-def]
    """The value between the eight nodes about a spot in grid steps, linear along each axis."""
    lx, ly, lz = grid.shape[0] - 1.0, grid.shape[1] - 1.0, grid.shape[2] - 1.0
    away = length(beyond(gx, lx), beyond(gy, ly), beyond(gz, lz))
    gx, gy, gz = kept(gx, lx), kept(gy, ly), kept(gz, lz)
    i = min(int(gx), grid.shape[0] - 2)
    j = min(int(gy), grid.shape[1] - 2)
    k = min(int(gz), grid.shape[2] - 2)
    x, y, z = gx - i, gy - j, gz - k
    low = (grid[i, j, k] * (1.0 - z) + grid[i, j, k + 1] * z) * (1.0 - y)
    low += (grid[i, j + 1, k] * (1.0 - z) + grid[i, j + 1, k + 1] * z) * y
    high = (grid[i + 1, j, k] * (1.0 - z) + grid[i + 1, j, k + 1] * z) * (1.0 - y)
    high += (grid[i + 1, j + 1, k] * (1.0 - z) + grid[i + 1, j + 1, k + 1] * z) * y
    return low * (1.0 - x) + high * x - away / inverse


@compiled
def lookup(grid, origin, step, spots, out):  # type: ignore[no-untyped-def]
    """Values (n,) at spots (n, 3)."""
    inverse = 1.0 / step
    for n in range(len(spots)):
        gx = (spots[n, 0] - origin[0]) * inverse
        gy = (spots[n, 1] - origin[1]) * inverse
        gz = (spots[n, 2] - origin[2]) * inverse
        out[n] = between_nodes(grid, inverse, gx, gy, gz)


@compiled
def sweep(turns, shifts, centre, radius, grow, skip, balls, fine, coarse, origin, step, ratio, floor, cap, out):  # type: ignore[no-untyped-def]
    """Least value over the unit's points at each pose, into `out` (n,); told no finer than `floor` and `cap`.

    turns (n, 3, 3), shifts (n, 3); the tree's balls in the order they are worked: centre (m, 3), radius (m,), grow (m,)
    the sway, skip (m,) where to go on when a ball needs no closer look; leaves have no radius. balls (b, 4): balls
    inside the unit, their radius and sway last.
    """
    inverse = 1.0 / step
    wide = inverse / ratio
    slack = 0.8661 * step
    slack_wide = slack * ratio
    many = len(centre)
    big = 2.0 * slack_wide
    for n in range(len(turns)):
        r = turns[n]
        r00, r01, r02 = r[0, 0] * inverse, r[0, 1] * inverse, r[0, 2] * inverse
        r10, r11, r12 = r[1, 0] * inverse, r[1, 1] * inverse, r[1, 2] * inverse
        r20, r21, r22 = r[2, 0] * inverse, r[2, 1] * inverse, r[2, 2] * inverse
        tx = (shifts[n, 0] - origin[0]) * inverse
        ty = (shifts[n, 1] - origin[1]) * inverse
        tz = (shifts[n, 2] - origin[2]) * inverse
        best = cap
        for m in range(len(balls)):
            x, y, z = balls[m, 0], balls[m, 1], balls[m, 2]
            gx = r00 * x + r01 * y + r02 * z + tx
            gy = r10 * x + r11 * y + r12 * z + ty
            gz = r20 * x + r21 * y + r22 * z + tz
            value = nearest_node(coarse, wide, gx / ratio, gy / ratio, gz / ratio) + slack_wide
            # the ball reaches the skin of what is nearest, how far beyond is not known from its middle
            reached = value - balls[m, 3]
            if floor >= 0.0 and reached < floor:
                best = reached
                break
            best = min(best, value, max(reached, 0.0))
        i = 0
        while i < many and best >= floor:
            x, y, z = centre[i, 0], centre[i, 1], centre[i, 2]
            gx = r00 * x + r01 * y + r02 * z + tx
            gy = r10 * x + r11 * y + r12 * z + ty
            gz = r20 * x + r21 * y + r22 * z + tz
            size = radius[i]
            if size > 0.0:
                if size > big:
                    value = nearest_node(coarse, wide, gx / ratio, gy / ratio, gz / ratio) - slack_wide
                else:
                    value = nearest_node(fine, inverse, gx, gy, gz) - slack
                if value - size - grow[i] >= best:
                    i = skip[i]
                    continue
            else:
                value = between_nodes(fine, inverse, gx, gy, gz) - grow[i]
                if value < best:
                    best = value
            i += 1
        out[n] = best


@compiled
def lost(  # type: ignore[no-untyped-def]
    turns, shifts, centre, radius, skip, weight, dear, bin_of, start, grow, soft, total, grid, origin, step,
    volume, share, crowded,
):  # fmt: skip
    """Metal within the grown unit at each pose: volume (n, members), the share of the worst bin (n, members), and the
    volume with each point counted by how dear it is, 0 to 1 (n, members).

    The members' points stand in trees laid end to end, member k from start[k] to start[k + 1]; the grid is the unit's
    own. A point counts in part where it lies within half of `soft` of the grown skin.
    """
    inverse = 1.0 / step
    slack = 0.8661 * step
    gone = np.zeros(len(total))
    for n in range(len(turns)):
        r = turns[n]
        for k in range(len(start) - 1):
            i = start[k]
            low, high = len(total), -1
            sum_, dear_sum = 0.0, 0.0
            while i < start[k + 1]:
                dx = centre[i, 0] - shifts[n, 0]
                dy = centre[i, 1] - shifts[n, 1]
                dz = centre[i, 2] - shifts[n, 2]
                gx = (r[0, 0] * dx + r[1, 0] * dy + r[2, 0] * dz - origin[0]) * inverse
                gy = (r[0, 1] * dx + r[1, 1] * dy + r[2, 1] * dz - origin[1]) * inverse
                gz = (r[0, 2] * dx + r[1, 2] * dy + r[2, 2] * dz - origin[2]) * inverse
                # beyond the unit's own grid there is nothing of it: the grid's edge is farther off than any growth
                off = length(
                    beyond(gx, grid.shape[0] - 1.0), beyond(gy, grid.shape[1] - 1.0), beyond(gz, grid.shape[2] - 1.0)
                )
                if radius[i] > 0.0:
                    value = nearest_node(grid, inverse, gx, gy, gz)
                    if off > 0.0:
                        value = off * step + grow[k] + soft
                    if value - slack - radius[i] > grow[k] + 0.5 * soft:
                        i = skip[i]
                        continue
                elif off == 0.0:
                    value = between_nodes(grid, inverse, gx, gy, gz)
                    part = 0.5 + (grow[k] - value) / soft
                    if part > 0.0:
                        amount = weight[i] * min(part, 1.0)
                        sum_ += amount
                        dear_sum += amount * dear[i]
                        b = bin_of[i]
                        gone[b] += amount
                        low, high = min(low, b), max(high, b)
                i += 1
            worst = 0.0
            for b in range(low, high + 1):
                if total[b] > 0.0:
                    worst = max(worst, gone[b] / total[b])
                gone[b] = 0.0
            volume[n, k] = sum_
            share[n, k] = worst
            crowded[n, k] = dear_sum


@compiled
def pressed(turn, shift, centre, radius, grow, skip, grid, origin, step, ratio, coarse, below, which, value, slope):  # type: ignore[no-untyped-def]
    """Points whose value is under `below` at one pose: how many, with which, value and slope (k, 3) filled so far."""
    inverse = 1.0 / step
    wide = inverse / ratio
    slack = 0.8661 * step
    slack_wide = slack * ratio
    big = 2.0 * slack_wide
    found = 0
    i = 0
    while i < len(centre):
        x, y, z = centre[i, 0], centre[i, 1], centre[i, 2]
        gx = (turn[0, 0] * x + turn[0, 1] * y + turn[0, 2] * z + shift[0] - origin[0]) * inverse
        gy = (turn[1, 0] * x + turn[1, 1] * y + turn[1, 2] * z + shift[1] - origin[1]) * inverse
        gz = (turn[2, 0] * x + turn[2, 1] * y + turn[2, 2] * z + shift[2] - origin[2]) * inverse
        if radius[i] > 0.0:
            if radius[i] > big:
                v = nearest_node(coarse, wide, gx / ratio, gy / ratio, gz / ratio) - slack_wide
            else:
                v = nearest_node(grid, inverse, gx, gy, gz) - slack
            if v - radius[i] - grow[i] >= below:
                i = skip[i]
                continue
        else:
            v = between_nodes(grid, inverse, gx, gy, gz) - grow[i]
            if v < below and found < len(which):
                which[found] = i
                value[found] = v
                e = 0.5
                slope[found, 0] = between_nodes(grid, inverse, gx + e, gy, gz) - between_nodes(
                    grid, inverse, gx - e, gy, gz
                )
                slope[found, 1] = between_nodes(grid, inverse, gx, gy + e, gz) - between_nodes(
                    grid, inverse, gx, gy - e, gz
                )
                slope[found, 2] = between_nodes(grid, inverse, gx, gy, gz + e) - between_nodes(
                    grid, inverse, gx, gy, gz - e
                )
                for q in range(3):
                    slope[found, q] *= inverse
                found += 1
        i += 1
    return found


def values_at(grid: NDArray[np.float32], origin_mm: Array, step_mm: float, spots_mm: Array) -> Array:
    """Values (n,) of a grid at spots (n, 3)."""
    out = np.empty(len(spots_mm))
    lookup(grid, origin_mm, step_mm, np.ascontiguousarray(spots_mm, dtype=float), out)
    return out
