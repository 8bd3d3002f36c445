"""Speed of our bootstraps beside SALib's at equal numbers: OPENBLAS_NUM_THREADS=1 python tests/bench/bench_indices.py.

Thread CPU time (so matrix products must keep to their thread), best of three for ours and one run of SALib's, on the
g-function of twelve factors with several outputs: the ratio, and the largest difference of any index and of any half
width. PAWN has no bootstrap in SALib, so there its one estimate stands beside one of ours, and beside all of ours
with their resamples and dealings.
"""

import time
from collections.abc import Callable
from typing import Any

import numpy as np
from SALib.analyze import pawn as salib_pawn
from SALib.analyze import sobol as salib_sobol
from SALib.sample import sobol as salib_sample
from SALib.test_functions import Sobol_G

from noonhearth.studies.methods.indices import base_counts, sobol_half_widths, sobol_indices
from noonhearth.studies.methods.layout import positions
from noonhearth.studies.methods.pawn import DEALINGS, _chance, pawn

FACTORS, BASES, OUTPUTS, RESAMPLES, SEED = 12, 512, 6, 200, 5
A = np.array([0.0, 1.0, 4.5, 9.0] + [99.0] * (FACTORS - 4))
NAMES = [f"x{k}" for k in range(1, FACTORS + 1)]
PROBLEM = {"num_vars": FACTORS, "names": NAMES, "bounds": [[0.0, 1.0]] * FACTORS}


def timed(function: Callable[[], Any], *, times: int) -> tuple[Any, float]:
    """What a function gives, and its least thread CPU time. [s]"""
    best = np.inf
    for _ in range(times):
        start = time.thread_time()
        found = function()
        best = min(best, time.thread_time() - start)
    return found, best


def main() -> None:
    for second_order in (False, True):
        bootstrap(second_order)
    ranks()


def bootstrap(second_order: bool) -> None:
    """Indices and half widths of several outputs, both ways."""
    x = salib_sample.sample(PROBLEM, BASES, calc_second_order=second_order, seed=SEED)
    layout = positions(NAMES, second_order=second_order)
    outputs = [Sobol_G.evaluate(x, A) ** power for power in np.linspace(0.5, 2.0, OUTPUTS)]

    def own() -> list[Any]:
        base_counts.cache_clear()
        rows = [y.reshape(BASES, -1) for y in outputs]
        how = {"resamples": RESAMPLES, "confidence": 0.95, "seed": SEED}
        return [(sobol_indices(y, layout), sobol_half_widths(y, layout, **how)) for y in rows]

    def theirs() -> list[Any]:
        how = {"calc_second_order": second_order, "num_resamples": RESAMPLES, "seed": SEED}
        return [salib_sobol.analyze(PROBLEM, y, **how) for y in outputs]

    ours, quick = timed(own, times=3)
    oracle, slow = timed(theirs, times=1)
    off = [
        np.nanmax(np.abs(np.triu(getattr(point, name), 1) - np.triu(np.nan_to_num(one[key]), 1)))
        if name == "second"
        else np.abs(getattr(point, name) - one[key]).max()
        for (index, width), one in zip(ours, oracle, strict=True)
        for point, end in ((index, ""), (width, "_conf"))
        for name, key in (("first", f"S1{end}"), ("total", f"ST{end}"), ("second", f"S2{end}"))
        if name != "second" or second_order
    ]
    kind = "first, total and second" if second_order else "first and total"
    print(
        f"{kind}, {OUTPUTS} outputs, {FACTORS} factors, {BASES} bases, {RESAMPLES} resamples: ours {quick:.3f} s, "
        f"SALib {slow:.2f} s, ratio {slow / quick:.0f}; largest difference {max(off):.1e}"
    )


def ranks() -> None:
    """PAWN of one output, both ways."""
    x = np.random.default_rng(SEED).random((2 * BASES, FACTORS))
    y = Sobol_G.evaluate(x, A)
    once = np.ones((2, len(y)))
    point, _ = timed(lambda: pawn(x, y, counts=once, seed=SEED, confidence=0.95), times=1)
    counts = np.tile(base_counts(BASES, RESAMPLES, SEED), 2)

    def own() -> Any:
        _chance.cache_clear()
        return pawn(x, y, counts=counts, seed=SEED, confidence=0.95)

    _, quick = timed(own, times=3)
    oracle, slow = timed(lambda: salib_pawn.analyze(PROBLEM, x, y, S=10), times=3)
    off = np.abs(point.median - oracle["median"]).max()
    print(
        f"PAWN, 1 output: SALib's estimate alone {slow:.3f} s; ours with {RESAMPLES} resamples and {DEALINGS} dealings "
        f"{quick:.3f} s: SALib would take {(RESAMPLES + DEALINGS / FACTORS) * slow / quick:.0f} times as long for as "
        f"much; largest difference {off:.1e} (SALib leaves the greatest value of a factor out of every slide)"
    )


if __name__ == "__main__":
    main()
