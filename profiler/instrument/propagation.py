"""How doubts add up: linear where the model is straight, by many draws where it is not.

Linear: the law of propagation of uncertainty (JCGM 100:2008, 5.1.2 and 5.2.2). By draws: JCGM
101:2008, with the shortest 95 % interval (its 5.3.4). `tests/published/test_gum.py` holds both to
the worked examples of those guides.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from profiler.instrument.record import Quantity

Array = NDArray[np.float64]

#: part of the variance from which a contributor is named as the largest
_STANDS_OUT = 0.4


@dataclass(frozen=True)
class Spread:
    """Of the values that a number may have.

    Attributes:
        mean, u: estimate and standard uncertainty.
        low, high: the shortest interval that holds the wanted share.
    """

    mean: float
    u: float
    low: float
    high: float

    @property
    def half_width(self) -> float:
        return (self.high - self.low) / 2


def combined(variances: Mapping[str, float]) -> tuple[float, str]:
    """Standard uncertainty from independent contributions, and the name of the one that stands
    out; '' where none does."""
    total = sum(variances.values())
    largest = max(variances, key=lambda source: variances[source])
    return float(np.sqrt(total)), largest if variances[largest] > _STANDS_OUT * total else ""


def less_certain(quantity: Quantity, source: str, u95: float) -> Quantity:
    """The same number with one more independent source of doubt, of that expanded uncertainty;
    one without a number stays as it is."""
    if quantity.u95 is None:
        return quantity
    known = quantity.budget or ((quantity.mostly or "all that was known of it", quantity.u95),)
    budget = sorted([*known, (source, u95)], key=lambda line: -line[1])
    whole, mostly = combined({name: own**2 for name, own in budget})
    return replace(quantity, u95=whole, mostly=mostly, budget=tuple(budget))


def linear(slopes: Array, covariance: Array) -> Array:
    """(M, M) covariance of M results.

    Args:
        slopes: (M, N) derivatives of the results by the inputs.
        covariance: (N, N) of the inputs.
    """
    carried: Array = slopes @ covariance @ slopes.T
    return carried


def by_draws(model: Callable[[Array], Array], draws: Array, share: float = 0.95) -> Spread:
    """What becomes of a number when its inputs are drawn at random.

    Args:
        model: (D, N) draws to (D,) results.
        draws: (D, N).
        share: of the results that the interval holds.
    """
    values = np.sort(model(draws))
    count = len(values)
    inside = min(max(round(share * count), 1), count - 1)
    widths = values[inside:] - values[: count - inside]
    start = int(np.argmin(widths))
    return Spread(
        float(values.mean()),
        float(values.std(ddof=1)),
        float(values[start]),
        float(values[start + inside]),
    )
