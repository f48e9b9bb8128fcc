# ROC curves, diagnostic intervals and agreement by the packages that made them well known.
# Prints the data with the figures, so that the test needs nothing else.
# Data: aSAH, published with pROC (Turck 2010): outcome of 113 patients, three markers.
suppressPackageStartupMessages({
  library(pROC)
  library(epiR)
  library(psych)
  library(jsonlite)
})

data(aSAH)
lame <- aSAH$outcome == "Poor"
marker <- function(values) {
  curve <- roc(lame, values, levels = c(FALSE, TRUE), direction = "<", quiet = TRUE)
  interval <- as.numeric(ci.auc(curve, method = "delong"))
  list(
    values = values, auc = as.numeric(auc(curve)), variance = as.numeric(var(curve, method = "delong")),
    lower = interval[1], upper = interval[3],
    thresholds = head(tail(curve$thresholds, -1), -1),
    sensitivities = head(tail(curve$sensitivities, -1), -1),
    specificities = head(tail(curve$specificities, -1), -1)
  )
}

diagnostic <- function(tp, fp, fn, tn) {
  detail <- epi.tests(c(tp, fp, fn, tn), method = "wilson", conf.level = 0.95)$detail
  pick <- function(name) as.numeric(detail[detail$statistic == name, c("est", "lower", "upper")])
  list(
    table = c(tp, fp, fn, tn), sensitivity = pick("se"), specificity = pick("sp"),
    ppv = pick("pv.pos"), npv = pick("pv.neg")
  )
}

agreement <- function(table) {
  size <- nrow(table)
  distance <- abs(outer(seq_len(size), seq_len(size), "-"))
  weighted <- function(weights) cohen.kappa(table, w = weights)$weighted.kappa
  list(
    table = table,
    kappa = cohen.kappa(table)$kappa,
    linear = weighted(1 - distance / (size - 1)),
    quadratic = weighted(1 - distance^2 / (size - 1)^2)
  )
}

four <- matrix(c(40, 9, 2, 0, 8, 21, 6, 1, 1, 7, 18, 3, 0, 1, 4, 9), nrow = 4, byrow = TRUE)
cat(toJSON(
  list(
    lame = lame, s100b = marker(aSAH$s100b), ndka = marker(aSAH$ndka), wfns = marker(as.numeric(aSAH$wfns)),
    diagnostic = list(diagnostic(246, 432, 18, 3825), diagnostic(156, 58, 97, 4289), diagnostic(9, 1, 3, 40)),
    agreement = list(agreement(four), agreement(matrix(c(18, 3, 2, 7), nrow = 2, byrow = TRUE)))
  ),
  digits = NA, auto_unbox = TRUE
))
