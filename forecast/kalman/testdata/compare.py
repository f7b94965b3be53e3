#!/usr/bin/env python3
"""Time one log-likelihood pass of statsmodels' compiled filter (UnobservedComponents 'lltrend') over the readings and
the model of BenchmarkLogLikelihood, and print the log-likelihood, for comparison with the Go benchmark:

    /usr/bin/python3 forecast/kalman/testdata/compare.py
    go test ./forecast/kalman -run '^$' -bench LogLikelihood

Needs Debian's python3-statsmodels. The library has no irregular times, so the noises are those of one step of ten
minutes without the off-diagonal of Q, which takes the same time.
"""
import time

import numpy as np
from statsmodels.tsa.statespace.structural import UnobservedComponents

n = 368000
i = np.arange(n)
d = i / 144
y = 60000 - 9 * d + 40 * np.sin(d / 30) + 20 * np.sin(12.9898 * i)
m = UnobservedComponents(y, "lltrend")
m.ssm.initialize_known(np.array([y[0], 0.0]), np.diag([1e6, 1e4 / 144**2]))
p = np.array([400.0, 40 / 144, 0.02 / 144**3])  # irregular, level, trend per step of ten minutes
m.loglike(p)
best = 1e9
for _ in range(5):
    start = time.perf_counter()
    ll = m.loglike(p)
    best = min(best, time.perf_counter() - start)
print(f"statsmodels: {best / n * 1e9:.0f} ns/reading (best of 5), log-likelihood {ll:.3f}")
