# Random intercept by restricted maximum likelihood: the sleepstudy data set of R's lme4.
suppressPackageStartupMessages({library(lme4); library(jsonlite)})
fit <- lmer(Reaction ~ Days + (1 | Subject), data = sleepstudy)
cat(toJSON(list(cow = as.integer(sleepstudy$Subject) - 1, days = sleepstudy$Days, value = sleepstudy$Reaction,
                effects = unname(fixef(fit)), errors = unname(sqrt(diag(as.matrix(vcov(fit))))),
                between_sd = attr(VarCorr(fit)$Subject, "stddev")[[1]], within_sd = sigma(fit),
                log_likelihood = as.numeric(logLik(fit))), digits = NA, auto_unbox = TRUE), "\n")
