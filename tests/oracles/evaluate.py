"""Brier score, calibration curve and average precision by scikit-learn, calibration line by statsmodels.

Prints the invented probabilities with the figures. Probabilities are rounded, so that ties occur.
"""

import json

import numpy as np
import statsmodels.api as sm
from sklearn.calibration import calibration_curve
from sklearn.metrics import average_precision_score, brier_score_loss, roc_auc_score

generator = np.random.default_rng(20240311)
true_logit = generator.normal(-1.0, 1.6, 400)
lame = generator.random(400) < 1 / (1 + np.exp(-true_logit))
# Said with too much certainty and a little too high: slope below 1, intercept below 0.
said = 1 / (1 + np.exp(-(0.4 + 1.5 * true_logit + generator.normal(0, 0.5, 400))))
said = np.clip(said.round(3), 0.001, 0.999)

logit = np.log(said / (1 - said))
line = sm.Logit(lame.astype(float), sm.add_constant(logit)).fit(disp=0, tol=1e-12, method="newton")
large = sm.GLM(lame.astype(float), np.ones(400), family=sm.families.Binomial(), offset=logit).fit(tol=1e-12)
observed, mean = calibration_curve(lame, said, n_bins=10, strategy="uniform")

print(
    json.dumps(
        {
            "lame": lame.tolist(),
            "said": said.tolist(),
            "brier": brier_score_loss(lame, said),
            "average_precision": average_precision_score(lame, said),
            "auc": roc_auc_score(lame, said),
            "curve_observed": observed.tolist(),
            "curve_mean": mean.tolist(),
            "intercept": line.params[0],
            "slope": line.params[1],
            "slope_se": line.bse[1],
            "intercept_in_the_large": large.params[0],
        }
    )
)
