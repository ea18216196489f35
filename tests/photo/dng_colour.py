"""Colour of raw files by their specification (DNG 1.4, chapter 6), computed apart from huewright."""
import math

D50 = (0.9642, 1.0, 0.8249)  # ICC.1:2022, the profile connection space
BRADFORD = [[0.8951, 0.2664, -0.1614], [-0.7502, 1.7135, 0.0367], [0.0389, -0.0685, 1.0296]]
KELVIN = {17: 2856.0, 21: 6504.0}  # CIE 15: illuminants A and D65


def times(a, b):
    return [[sum(a[r][k] * b[k][c] for k in range(3)) for c in range(3)] for r in range(3)]


def on(m, v):
    return [sum(m[r][c] * v[c] for c in range(3)) for r in range(3)]


def inverse(m):
    rows = [list(m[r]) + [1.0 if r == c else 0.0 for c in range(3)] for r in range(3)]
    for i in range(3):
        best = max(range(i, 3), key=lambda r: abs(rows[r][i]))
        rows[i], rows[best] = rows[best], rows[i]
        rows[i] = [v / rows[i][i] for v in rows[i]]
        for r in range(3):
            if r != i:
                rows[r] = [a - rows[r][i] * b for a, b in zip(rows[r], rows[i])]
    return [row[3:] for row in rows]


def square(nine):
    return [list(nine[0:3]), list(nine[3:6]), list(nine[6:9])]


def planck_uv(kelvin):
    """CIE 1960 u, v of Planck's radiator: Krystek 1985, Color Research and Application 10, 38."""
    t = kelvin
    u = (0.860117757 + 1.54118254e-4 * t + 1.28641212e-7 * t * t) / (1 + 8.42420235e-4 * t + 7.08145163e-7 * t * t)
    v = (0.317398726 + 4.22806245e-5 * t + 4.20481691e-8 * t * t) / (1 - 2.89741816e-5 * t + 1.61456053e-7 * t * t)
    return u, v


def temperature(xyz):
    """The radiator nearest in u, v (CIE 15, 9.5), by halving; not the formula that huewright uses."""
    s = xyz[0] + 15 * xyz[1] + 3 * xyz[2]
    u, v = 4 * xyz[0] / s, 6 * xyz[1] / s

    def far(t):
        pu, pv = planck_uv(t)
        return math.hypot(u - pu, v - pv)

    low, high = 1500.0, 15000.0
    for _ in range(200):
        a, b = low + (high - low) * 0.382, low + (high - low) * 0.618
        if far(a) < far(b):
            high = b
        else:
            low = a
    return (low + high) / 2


def camera_to_xyz(matrices, neutral):
    """DNG 1.4, chapter 6, without forward matrices."""
    top = max(neutral)
    neutral = [v / top for v in neutral]
    white = list(D50)
    for _ in range(60):
        mixed = square(matrices[0][1])
        if len(matrices) == 2:
            t, (t1, t2) = temperature(white), (KELVIN[m[0]] for m in matrices)
            g = min(max((1 / t - 1 / t2) / (1 / t1 - 1 / t2), 0.0), 1.0)
            mixed = [[g * a + (1 - g) * b for a, b in zip(r, s)]
                     for r, s in zip(square(matrices[0][1]), square(matrices[1][1]))]
        back = inverse(mixed)
        white = on(back, neutral)
    unit = [v / white[1] for v in white]
    cone, to = on(BRADFORD, unit), on(BRADFORD, D50)
    scale = [[to[r] / cone[r] if r == c else 0.0 for c in range(3)] for r in range(3)]
    adapt = times(inverse(BRADFORD), times(scale, BRADFORD))
    return [[v / white[1] for v in row] for row in times(adapt, back)]


def lab(xyz):
    def f(t):
        return t ** (1 / 3) if t > 216 / 24389 else (24389 / 27 * t + 16) / 116
    x, y, z = (f(v / w) for v, w in zip(xyz, D50))
    return 116 * y - 16, 500 * (x - y), 200 * (y - z)


def srgb_linear(code):
    v = code / 65535
    return v / 12.92 if v <= 0.04045 else ((v + 0.055) / 1.055) ** 2.4
