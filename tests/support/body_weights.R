# Body weights of sixteen animals over nine weeks (R package nlme, `BodyWeight`; Hand and Crowder 1996), and what R's Kalman
# filter makes of each: a level that moves a little every day, seen on the days of weighing. Printed as JSON, kept nowhere.
#   Rscript body_weights.R STEP_SD ERROR_SD FIRST_SD
suppressMessages({library(nlme); library(jsonlite)})
given <- as.numeric(commandArgs(trailingOnly = TRUE))
level <- given[1]^2
error <- given[2]^2
first <- given[3]^2
animals <- lapply(split(as.data.frame(BodyWeight), BodyWeight$Rat), function(of) {
  of <- of[order(of$Time), ]
  logs <- log(of$weight)
  daily <- rep(NA_real_, max(of$Time) - min(of$Time) + 1)
  daily[of$Time - min(of$Time) + 1] <- logs
  model <- list(T = matrix(1), Z = 1, h = error, V = matrix(level), a = logs[1], P = matrix(first), Pn = matrix(first))
  filtered <- KalmanRun(daily, model, update = TRUE)
  # Days, logarithms of the weights, the level after each, and its last variance.
  list(of$Time - min(of$Time), logs, as.numeric(filtered$states)[!is.na(daily)], as.numeric(attr(filtered, "mod")$P))
})
cat(toJSON(unname(animals), auto_unbox = TRUE, digits = NA))
