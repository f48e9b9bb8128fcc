"""Ridge logistic regression of one variable by scikit-learn, the intercept free."""

import json

import numpy
from sklearn.linear_model import LogisticRegression

SD = 0.5
random = numpy.random.default_rng(20240501)
x = numpy.round(random.normal(-1.0, 2.0, 80), 4)
seen = random.random(80) < 1.0 / (1.0 + numpy.exp(-(0.7 + 1.3 * x)))
model = LogisticRegression(C=SD**2, tol=1e-12, max_iter=10_000).fit(x[:, None], seen)
print(json.dumps({
    "x": x.tolist(), "seen": seen.tolist(), "sd": SD,
    "intercept": float(model.intercept_[0]), "slope": float(model.coef_[0, 0]),
}))
