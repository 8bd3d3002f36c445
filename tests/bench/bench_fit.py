"""Fits of ovens with known truth: what a fit costs, and how often its intervals hold the truth.

Run: python tests/bench/bench_fit.py [ovens] [hours] [hours of shade] [thermometers]. Thread CPU time on one core, and
answers beside it: coverage of the 95 % intervals, mean and spread of errors, the spread that is stated. Before that,
one fit of two four-hour cooks with 200 refits, as a config would ask for.
"""

import dataclasses
import importlib.util
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np

from noonhearth import studies

_spec = importlib.util.spec_from_file_location(
    "cooks_with_truth", Path(__file__).parents[1] / "studies" / "cooks_with_truth.py"
)
assert _spec is not None
assert _spec.loader is not None
cooks = importlib.util.module_from_spec(_spec)
sys.modules["cooks_with_truth"] = cooks
_spec.loader.exec_module(cooks)


def made(
    number: int, hours: float, shade: float, sensors: tuple[str, ...], count: int = 1
) -> tuple[Any, Any]:
    """A setting with the cooks of one oven, and its truth."""
    rng = np.random.default_rng([41, number])
    design, truth = cooks.oven(rng), cooks.ratios(rng)
    records = tuple(
        dataclasses.replace(
            cooks.logged(rng, design, cooks.blank(rng, sensors, hours=hours, shade=shade), truth),
            name=f"cook {k}",
        )
        for k in range(count)
    )
    return dataclasses.replace(cooks.SETTING, design=design, cooks=records), truth


def coverage(ovens: int, hours: float, shade: float, sensors: tuple[str, ...]) -> None:
    """Time and answers over many ovens."""
    spent, hits, off, stated = 0.0, [], [], []
    for number in range(ovens):
        setting, truth = made(number, hours, shade, sensors)
        start = time.thread_time()
        found = studies.fit(setting, bootstrap=0, other_seeds=0)
        spent += time.thread_time() - start
        values = np.array([truth[name] for name in cooks.RATIOS])
        hits.append((found["low"].to_numpy() <= values) & (values <= found["high"].to_numpy()))
        off.append(np.log(found["estimate"].to_numpy() / values))
        stated.append(found["standard_error"].to_numpy())
    errors = np.array(off)
    print(
        f"{ovens} ovens, {hours} h with {shade} h of shade, {' and '.join(sensors)}: {1e3 * spent / ovens:.0f} ms a fit"
    )
    for k, name in enumerate(cooks.RATIOS):
        mean, spread = 100 * errors[:, k].mean(), 100 * errors[:, k].std()
        told = 100 * np.sqrt((np.array(stated)[:, k] ** 2).mean())
        share = 100 * np.array(hits)[:, k].mean()
        print(
            f"  {name}: {share:.1f} % hold the truth; off by {mean:+.2f} % +- {spread:.2f} %, stated {told:.2f} %"
        )


def one_fit() -> None:
    """What a config's fit costs."""
    setting, _ = made(1, 4.0, 0.5, ("food", "pot"), count=2)
    for bootstrap in (0, 200):
        start = time.thread_time()
        found = studies.fit(setting, bootstrap=bootstrap)
        spent = time.thread_time() - start
        told = ", ".join(f"{value:.3f}" for value in found["estimate"].to_numpy())
        print(f"two cooks of 4 h, {bootstrap} refits: {spent:.2f} s; {told}")


if __name__ == "__main__":
    words = sys.argv[1:] + ["200", "2.5", "0.6", "food,pot"][len(sys.argv) - 1 :]
    one_fit()
    one_fit()  # the first one warms up
    coverage(int(words[0]), float(words[1]), float(words[2]), tuple(words[3].split(",")))
