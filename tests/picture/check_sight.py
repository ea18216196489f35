# check_sight.py: hw_picture_see against numpy and scipy, from the kernels of Zhang and Wandell 1997 (J. SID 5(1) 61).
#
#   check_sight.py SIGHT_DUMP     exit 77 where scipy is missing
#
# Two ways of theirs: in frequencies, where a picture that goes on mirrored is a sum of cosines (DCT-II) and a Gaussian is
# exp(-2 (pi s f)^2), exact but only comparable where samples of the curve are; and scipy's own Gaussian filter.
import subprocess
import sys

try:
    import numpy as np
    from scipy.fft import dctn, idctn
    from scipy.ndimage import gaussian_filter
except ImportError:
    print("numpy or scipy is missing: not checked")
    sys.exit(77)

OPPONENT = np.array([[0.2787336, 0.7218031, -0.1065520], [-0.4487736, 0.2898056, 0.0771569],
                     [0.0859513, -0.5899859, 0.5011089]])
KERNELS = [[(0.05, 1.00327), (0.225, 0.114416), (7.0, -0.117686)], [(0.0685, 0.616725), (0.826, 0.383275)],
           [(0.0920, 0.567885), (0.6451, 0.432115)]]


def by_frequencies(plane, variance):
    down = np.arange(plane.shape[0])[:, None] / (2.0 * plane.shape[0])  # cycles a pixel
    along = np.arange(plane.shape[1])[None, :] / (2.0 * plane.shape[1])
    return idctn(dctn(plane) * np.exp(-2.0 * np.pi**2 * variance * (down**2 + along**2)))


def by_filter(plane, variance):
    return gaussian_filter(plane, np.sqrt(variance), mode="reflect", truncate=6.0)


def see(xyz, spd, gaussian, box):
    opponent = xyz @ OPPONENT.T
    out = np.zeros_like(opponent)
    for channel, kernels in enumerate(KERNELS):
        if min(xyz.shape[:2]) < 7.0 * spd:  # not as much is seen as the widest one needs
            kernels = kernels[:2]
        whole = sum(weight for _, weight in kernels)
        for width, weight in kernels:
            variance = (width * spd / 2.354820045) ** 2 - box
            out[:, :, channel] += weight / whole * gaussian(opponent[:, :, channel], variance)
    return out @ np.linalg.inv(OPPONENT).T


def picture(lines):
    width, height = (int(n) for n in next(lines).split())
    rows = [[float(v) for v in next(lines).split()] for _ in range(width * height)]
    return np.array(rows).reshape(height, width, 3)


failed = False
for width, height, spd, gaussian in [
    (460, 430, 60.0, by_frequencies),  # the widest one counts
    (200, 150, 60.0, by_frequencies),
    (320, 211, 60.0, by_filter),
    (320, 211, 43.6, by_filter),
    (240, 250, 33.0, by_filter),
    (300, 200, 120.0, by_frequencies),  # made half as large first
    (301, 151, 180.0, by_filter),  # a third, with cut squares at both ends
]:
    dump = subprocess.run([sys.argv[1], str(width), str(height), str(spd)], check=True, capture_output=True, text=True)
    lines = iter(dump.stdout.splitlines())
    before, after = picture(lines), picture(lines)
    box = 0.0
    if spd > 60.0:
        each = round(spd / 60.0)
        rows, columns = -(-before.shape[0] // each), -(-before.shape[1] // each)
        before = np.array([[before[y * each:(y + 1) * each, x * each:(x + 1) * each].mean(axis=(0, 1))
                            for x in range(columns)] for y in range(rows)])
        box, spd = 1.0 / 12.0, 60.0
    want = see(before, spd, gaussian, box)
    farthest = np.abs(after - want).max() / (before.max() - before.min())
    good = after.shape == want.shape and farthest < 0.002
    failed = failed or not good
    print(f"{width} x {height}, {spd:g} pixels a degree, {gaussian.__name__}: off by {farthest:.5f} of the range"
          f"{'' if good else ': TOO FAR'}")
sys.exit(1 if failed else 0)
