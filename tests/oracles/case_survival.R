# Kaplan-Meier of the aml data set of R's survival, with Greenwood errors and log intervals (its default).
suppressPackageStartupMessages({library(survival); library(jsonlite)})
group <- function(name) {
  data <- aml[aml$x == name, ]
  fit <- survfit(Surv(time, status) ~ 1, data = data)
  event <- fit$n.event > 0
  list(time = data$time, event = data$status, days = fit$time[event], at_risk = fit$n.risk[event],
       events = fit$n.event[event], without = fit$surv[event], log_se = fit$std.err[event],
       low = fit$lower[event], high = fit$upper[event], median = unname(summary(fit)$table["median"]))
}
cat(toJSON(list(maintained = group("Maintained"), nonmaintained = group("Nonmaintained")),
           digits = NA, auto_unbox = TRUE, na = "null"), "\n")
