"""Time and memory of a fit, beside scikit-learn's GaussianMixture in the same run.

python benchmarks/joint_set_speed.py [poles]    prints joint_set_speed.md
"""

from __future__ import annotations

import sys
import time
import tracemalloc
import warnings
from collections.abc import Callable

import numpy as np
from joint_sets import Log, Rock, dyads, investigation
from numpy.typing import NDArray
from sklearn.mixture import GaussianMixture
from threadpoolctl import threadpool_limits

import jointstats as js
from jointstats.sphere.axes import lower_hemisphere

Array = NDArray[np.float64]

DATA_SETS = 10
#: Seeds of the timed investigations follow those of the other tables.
FIRST_SEED = 10_000


def seconds(run: Callable[[], object]) -> float:
    """Processor time of one call, on one thread: other work on the machine does not count."""
    with threadpool_limits(1):
        start = time.process_time()
        run()
        return time.process_time() - start


def peak_mb(run: Callable[[], object]) -> float:
    """Largest memory taken during one call, MB, above what was held before."""
    tracemalloc.start()
    run()
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return peak / 1e6


def gaussians(rows: Array) -> None:
    """What an analyst would run: 1 to 8 components, 5 starts each."""
    for sets in range(1, 9):
        GaussianMixture(sets, n_init=5, random_state=0).fit(rows)


def _times(log: Log) -> list[float]:
    poles, exposure = lower_hemisphere(log.poles), log.exposure()
    return [
        seconds(lambda: js.JointSetMixture(random_state=0).fit(poles, exposure=exposure)),
        seconds(lambda: js.JointSetMixture(random_state=0).fit(poles)),
        seconds(lambda: gaussians(poles)),
        seconds(lambda: gaussians(dyads(poles))),
    ]


def small_table() -> str:
    """About 300 fractures, number of sets unknown."""
    _times(investigation(FIRST_SEED - 1)[1])  # tables and thread pools are made once
    times = [_times(investigation(seed)[1]) for seed in range(FIRST_SEED, FIRST_SEED + DATA_SETS)]
    table = np.array(times)
    middle = np.median(table, axis=0)
    ratio = np.median(table / table[:, 2:3], axis=0)
    worst = (table / table[:, 2:3]).max(axis=0)
    names = ("with exposure", "without exposure", "GaussianMixture, poles", "the same, dyads")
    lines = ["| fit | median s | ratio to GaussianMixture on poles | largest ratio |"]
    lines.append("|---|---|---|---|")
    for name, *values in zip(names, middle, ratio, worst, strict=True):
        lines.append("| {} | {:.2f} | {:.2f} | {:.2f} |".format(name, *values))
    return "\n".join(lines)


def many_poles(n: int, thinned: bool) -> tuple[Array, js.LineExposure]:
    """Four sets and a background, n poles; thinned by three holes where asked."""
    rng = np.random.default_rng(3)
    means = js.poles_from_dip([62, 78, 12, 50], [135, 20, 300, 240])
    rock = Rock(means, np.array([40.0, 30, 50, 25]), np.array([1.2, 0.8, 0.6, 0.5]), 0.3)
    holes = js.lines_from_trend([0, 315, 200], [90, 55, 50])
    share = rock.rates() / rock.rates().sum()
    factor = 2.5 if thinned else 1.0
    poles = np.vstack([rock.draw(k, int(factor * n * one), rng) for k, one in enumerate(share)])
    if thinned:
        cosine = np.abs((poles * holes[rng.integers(0, 3, len(poles))]).sum(axis=1))
        poles = poles[(rng.random(len(poles)) < cosine) & (cosine >= np.sin(np.radians(10)))]
    # Any length will do: it scales P32 and nothing else.
    exposure = js.LineExposure(holes, np.full(3, 1e5), blind_angle_deg=10.0)
    return rng.permutation(poles)[:n], exposure


def large_table(n: int) -> str:
    """n poles, four sets known."""
    lines = ["| fit | s | ours to it | peak above the input, MB |", "|---|---|---|---|"]
    for name, thinned in (("without exposure", False), ("with exposure", True)):
        poles, exposure = many_poles(n, thinned)
        given = {"exposure": exposure} if thinned else {}

        def ours(poles: Array = poles, given: dict[str, object] = given) -> None:
            js.JointSetMixture(4, random_state=0).fit(poles, **given)

        def theirs(poles: Array) -> None:
            GaussianMixture(4, max_iter=1000, random_state=0).fit(poles)

        a = seconds(ours)
        lines.append(f"| {len(poles):,} poles {name} | {a:.1f} | | {peak_mb(ours):.0f} |")
        for ends, rows in (("lower", lower_hemisphere(poles)), ("either", poles)):
            b = seconds(lambda rows=rows: theirs(rows))
            peak = peak_mb(lambda rows=rows: theirs(rows))
            lines.append(
                f"| GaussianMixture(4), {ends} ends | {b:.1f} | {a / b:.2f} | {peak:.0f} |"
            )
    return "\n".join(lines)


def main() -> None:
    """Print both tables."""
    warnings.simplefilter("ignore")  # GaussianMixture says where it has not converged
    print("# Speed of a fit\n")
    print("Processor time, one thread.\n")
    print(f"## 300 fractures, number of sets unknown ({DATA_SETS} data sets)\n")
    print(small_table(), flush=True)
    n = int(sys.argv[1]) if len(sys.argv) > 1 else 1_000_000
    print("\n## Many poles, four sets known\n")
    print(large_table(n))


if __name__ == "__main__":
    main()
