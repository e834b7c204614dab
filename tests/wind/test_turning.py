"""What a turn leaves behind in airspeed and sink: sums that fade, in closed form."""

from __future__ import annotations

import numpy as np
import pytest

from analyser.wind.turning import _fading


def test_a_running_sum_fades_with_the_time_since() -> None:
    """Ones every two seconds that fade over five: the geometric series of q = e^(−2/5); a gap of ten seconds takes e^−2."""
    q = np.exp(-0.4)
    t = np.append(2.0 * np.arange(12), 22.0 + 10.0)
    found = _fading(t, np.ones(13), 5.0)
    assert found[:12] == pytest.approx((1.0 - q ** np.arange(1, 13)) / (1.0 - q))
    assert found[12] == pytest.approx(found[11] * np.exp(-2.0) + 1.0)
