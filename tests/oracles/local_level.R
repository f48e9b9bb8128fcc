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
# The same with a swing about the level that is forgotten: both as states, their sum seen.
stays <- 0.95
push <- 3000
first <- matrix(c(1e7, 0, 0, push / (1 - stays^2)), 2)
swinging <- list(T = diag(c(1, stays)), Z = c(1, 1), h = observation, V = diag(c(level, push)), a = c(0, 0),
                 P = matrix(0, 2, 2), Pn = first)
both <- KalmanRun(flow, swinging, update = TRUE)
last <- attr(both, "mod")$P
cat(toJSON(list(swing_stays = stays, swing_push_variance = push, swinging_mean = rowSums(both$states),
                swinging_last_variance = sum(last), swing_last_variance = last[2, 2],
                flow = flow, observation_variance = observation, level_variance = level,
                filtered_level = states, filtered_variance = variance), auto_unbox = TRUE, digits = 10))
