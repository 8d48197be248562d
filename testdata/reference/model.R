# The model of package analyze on small invented logs, by R's lm(): the conjugate
# prior enters as further rows of data, and a day effect by whitening with the
# Cholesky factor of the runs' covariance.
#
#   - coefficient j with mean m and spread SD: a row with scatter/SD in column j and
#     scatter/SD * m as its response;
#   - the scatter, worth k runs: k rows of zeros with the scatter as their response.
#
# lm's own residual variance and predict() are then those of the posterior.
prior <- read.csv("model_prior.csv")
value <- function(quantity) prior$value[prior$quantity == quantity]
spread <- function(quantity) prior$weight_or_sd[prior$quantity == quantity]
scatter <- value("scatter")
scatter_runs <- value("scatter_runs")

runs <- read.csv("model_runs.csv")
following <- read.csv("model_next.csv")
rollout <- function(d) pi * d$tire_mm * d$pinion / (d$spur * d$internal)

# columns returns the regressors of d, centred on the middle of log.
columns <- function(d, log, drift) {
  x <- log(rollout(d)) - mean(log(rollout(log)))
  X <- data.frame(level = 1, exponent = x, bend = x^2,
    tire = log(d$tire_mm) - mean(log(log$tire_mm)),
    cells = log(d$cells) - mean(log(log$cells)), drift = drift)
  surfaces <- sort(unique(log$surface))
  if (length(surfaces) > 1) {
    for (s in surfaces) X[[paste("surface", s)]] <- as.numeric(d$surface == s)
  }
  as.matrix(X)
}

carried <- function(d, tau) ifelse(is.na(d$start_c), 0, (d$start_c - d$ambient_c) * exp(-d$minutes / tau))
heating <- function(d, tau) 1 - exp(-d$minutes / tau)

# drifted returns how far a drift has come on a day, from 0 on the log's last: the whole
# way over the log, or over four days of driving where it is shorter.
drifted <- function(day, days) if (days > 1) (day - days) / max(days - 1, 4) else 0 * day

# component returns the fit of one log for one time constant, day share and drift.
component <- function(log, tau, share, drift) {
  n <- nrow(log)
  day <- match(log$day, sort(unique(log$day)))
  X <- columns(log, log, drifted(day, max(day)))
  kind <- sub(" .*", "", colnames(X))
  kind[kind == "surface"] <- "label"
  mean <- vapply(kind, function(k) if (k == "drift") 0 else value(k), 0)
  sd <- vapply(kind, function(k) if (k == "drift") drift else spread(k), 0)

  rise <- log$peak_c - log$ambient_c - carried(log, tau)
  y <- log(rise) - log(heating(log, tau))
  V <- diag(n) + share * outer(day, day, "==")
  whiten <- function(m) backsolve(chol(V), m, transpose = TRUE)

  rows <- rbind(whiten(X), diag(scatter / sd), matrix(0, scatter_runs, ncol(X)))
  response <- c(whiten(y), scatter / sd * mean, rep(scatter, scatter_runs))
  fit <- lm(response ~ rows - 1)

  # The log's density: a multivariate t of the responses, over Jacobian 1/rise.
  spread2 <- scatter^2 * V + X %*% diag(sd^2) %*% t(X)
  z <- backsolve(chol(spread2), y - X %*% mean, transpose = TRUE)
  log_density <- lgamma((scatter_runs + n) / 2) - lgamma(scatter_runs / 2) - n / 2 * log(scatter_runs * pi) -
    sum(log(diag(chol(spread2)))) - (scatter_runs + n) / 2 * log1p(sum(z^2) / scatter_runs) - sum(log(rise))
  list(tau = tau, share = share, fit = fit, log_density = log_density, df = n + scatter_runs)
}

# along returns a combination of the coefficients and its standard error.
along <- function(k, x) predict(k$fit, list(rows = x), se.fit = TRUE)

probabilities <- exponents <- NULL
for (name in unique(runs$log)) {
  log <- runs[runs$log == name, ]
  days <- length(unique(log$day))
  entries <- function(quantity) which(prior$quantity == quantity)
  grid <- expand.grid(t = entries("time_constant"), d = entries("day_share"), r = entries("drift"))
  components <- Map(function(t, d, r) component(log, prior$value[t], prior$value[d], prior$value[r]), grid$t, grid$d, grid$r)
  weight <- vapply(components, function(k) k$log_density, 0) +
    log(prior$weight_or_sd[grid$t]) + log(prior$weight_or_sd[grid$d]) + log(prior$weight_or_sd[grid$r])
  weight <- exp(weight - max(weight))
  weight <- weight / sum(weight)

  for (i in which(following$log == name)) {
    d <- following[i, ]
    x <- columns(d, log, drifted(days + 1, days)) # on the day of driving after the last
    # A surface that the log never saw has an effect of its own; where the log has
    # one surface alone, that one's effect is in the level and is to be taken out.
    surfaces <- unique(log$surface)
    unseen <- if (d$surface %in% surfaces) 0 else if (length(surfaces) == 1) 2 else 1
    for (temperature in d$ambient_c + c(15, 30, 40, 50, 60, 80, 120)) {
      p <- sum(weight * vapply(components, function(k) {
        rise <- temperature - d$ambient_c - carried(d, k$tau)
        if (rise <= 0) return(0)
        a <- along(k, x)
        scale2 <- a$residual.scale^2 * (1 + k$share + unseen * (spread("label") / scatter)^2) + a$se.fit^2
        pt((log(rise) - log(heating(d, k$tau)) - a$fit) / sqrt(scale2), k$df)
      }, 0))
      probabilities <- rbind(probabilities, data.frame(log = name, following = d$next., temperature = temperature, probability = p))
    }
    slope <- 0 * x
    slope[, "exponent"] <- 1
    slope[, "bend"] <- 2 * x[, "exponent"]
    below <- function(v) sum(weight * vapply(components, function(k) {
      a <- along(k, slope)
      pt((v - a$fit) / a$se.fit, k$df)
    }, 0))
    quantile <- function(q) uniroot(function(v) below(v) - q, c(-20, 20), tol = 1e-13)$root
    exponents <- rbind(exponents, data.frame(log = name, following = d$next., low = quantile(0.1), middle = quantile(0.5), high = quantile(0.9)))
  }
}
names(probabilities)[2] <- names(exponents)[2] <- "next"
write_table(probabilities, "model_probabilities.csv")
write_table(exponents, "model_exponents.csv")
