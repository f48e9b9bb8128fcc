# The local level model on the Nile series with the variances of Durbin and Koopman, filtered by R's Kalman filter.
suppressMessages(library(jsonlite))
flow <- as.numeric(Nile)
observation <- 15099
level <- 1469.1
model <- list(T = matrix(1), Z = 1, h = observation, V = matrix(level), a = 0, P = matrix(0), Pn = matrix(1e7))
run <- KalmanRun(flow, model, update = TRUE)
states <- as.numeric(run$states)
# The variance of the filtered level is the Riccati recursion that the filter runs on.
variance <- numeric(length(flow))
predicted <- 1e7
for (i in seq_along(flow)) {
  variance[i] <- predicted * observation / (predicted + observation)
  predicted <- variance[i] + level
}
final <- attr(run, "mod")$P
stopifnot(abs(final[1] / variance[length(flow)] - 1) < 1e-6)
fit <- StructTS(Nile, type = "level")
stopifnot(abs(fit$coef["level"] / level - 1) < 0.01, abs(fit$coef["epsilon"] / observation - 1) < 0.01)
cat(toJSON(list(flow = flow, observation_variance = observation, level_variance = level,
                filtered_level = states, filtered_variance = variance), auto_unbox = TRUE, digits = 10))
