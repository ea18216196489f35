#!/usr/bin/python3
"""CIEDE2000 of each pixel from one colour by scikit-image, to measure ours against.

    map_skimage.py FILE RUNS       X Y Z in 32-bit floats, as bench_picture pixels leaves them

In double precision as it comes, and in single; in bands of 64 rows of 4000, which takes less memory and is faster than
all at once.
"""
import resource
import sys
import time

import numpy
from skimage.color import deltaE_ciede2000, xyz2lab

BAND = 64 * 4000
OLD_WOOD = numpy.array([40.0, 11.0, 21.0])


def bands(values):
    return (values[start:start + BAND] for start in range(0, len(values), BAND))


def timed(runs, work):
    times = []
    for _ in range(runs):
        start = time.perf_counter()
        result = work()
        times.append(1e3 * (time.perf_counter() - start))
    times.sort()
    return times[len(times) // 2], times[-1], result


def main():
    xyz = numpy.fromfile(sys.argv[1], dtype=numpy.float32).reshape(-1, 3)
    runs = int(sys.argv[2])
    for kind in (numpy.float64, numpy.float32):
        of_wood = OLD_WOOD.astype(kind)
        lab = [xyz2lab(band.astype(kind), illuminant="D50") for band in bands(xyz)]

        def difference():
            return sum(float(deltaE_ciede2000(band, of_wood[None, :]).sum()) for band in lab)

        def both():
            return sum(float(deltaE_ciede2000(xyz2lab(band.astype(kind), illuminant="D50"), of_wood[None, :]).sum())
                       for band in bands(xyz))

        for name, work in (("L*a*b* to CIEDE2000", difference), ("X Y Z to L*a*b* to CIEDE2000", both)):
            middle, longest, result = timed(runs, work)
            print(f"scikit-image, {name}, {numpy.dtype(kind).name}: {middle:.0f} ({longest:.0f}) ms  "
                  f"mean {result / len(xyz):.4f}")
    print(f"peak {resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024:.0f} MiB")


main()
