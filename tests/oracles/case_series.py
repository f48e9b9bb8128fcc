"""The before-and-after filter against UnobservedComponents of statsmodels.

A local level with an autoregressive day effect, an intervention and a block term as regressors kept in the state,
all with known start. The series is made here by a fixed rule, so that nothing is drawn.
"""

import json
import math

import numpy as np
from statsmodels.tsa.statespace.initialization import Initialization
from statsmodels.tsa.statespace.structural import UnobservedComponents

DAYS, AT, OFF = 50, 20, 38
IRREGULAR, LEVEL, DAY, CORRELATION = 3.0, 0.4, 2.0, 0.21
JUMP, BLOCK_MEAN, BLOCK_SD = 25.0, 6.1, 7.9

t = np.arange(DAYS)
after = (t >= AT).astype(float)
block = np.where((t >= AT) & (t < OFF), -1.0, 0.0)
value = -15.0 + 9.0 * after + 7.0 * block + 3.0 * np.sin(1.7 * t) + 2.0 * np.cos(0.9 * t * t)

model = UnobservedComponents(
    value, "llevel", autoregressive=1, exog=np.column_stack([after, block]), mle_regression=False
)
# Order of the state: level, day effect, coefficients.
start = Initialization(
    model.k_states,
    "known",
    constant=np.array([0.0, 0.0, 0.0, BLOCK_MEAN]),
    stationary_cov=np.diag([JUMP**2, DAY**2, JUMP**2, BLOCK_SD**2]),
)
parameters = dict(zip(model.param_names, [0.0] * len(model.param_names)))
parameters["sigma2.irregular"] = IRREGULAR**2
parameters["sigma2.level"] = LEVEL**2
parameters["sigma2.ar"] = DAY**2 * (1 - CORRELATION**2)
parameters["ar.L1"] = CORRELATION
model.update([parameters[name] for name in model.param_names])
model.ssm.initialization = start
model.ssm.loglikelihood_burn = 0
done = model.ssm.filter()
mean, covariance = done.filtered_state[:, -1], done.filtered_state_cov[:, :, -1]
now = np.array([1.0, 0.0, 1.0, 0.0])
print(
    json.dumps(
        {
            "days": DAYS,
            "at": AT,
            "value": value.tolist(),
            "block": block.tolist(),
            "irregular_sd": IRREGULAR,
            "level_sd": LEVEL,
            "day_sd": DAY,
            "day_correlation": CORRELATION,
            "jump_sd": JUMP,
            "block_prior": [BLOCK_MEAN, BLOCK_SD],
            "log_likelihood": float(done.llf),
            "now": float(now @ mean),
            "now_sd": math.sqrt(now @ covariance @ now),
            "block_effect": float(mean[3]),
            "block_effect_sd": math.sqrt(covariance[3, 3]),
        }
    )
)
