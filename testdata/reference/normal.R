# Regression with a known scatter and a normal prior, by dense matrices:
#
#   y | b ~ N(X b, s^2 I),   b_j ~ N(m_j, s_j^2), one by one
#
# The posterior is found as least squares on the data together with one pseudo-row for each
# coefficient, by QR; the evidence is the multivariate normal density of y, with covariance
# X S^2 X' + s^2 I. Neither is the way that package analyze goes.
posterior <- function(X, y, prior) {
  f <- lm.fit(rbind(X / prior$scatter, diag(1 / prior$sd)), c(y / prior$scatter, prior$m / prior$sd))
  list(m = unname(f$coefficients), C = chol2inv(qr.R(f$qr)))
}

log_evidence <- function(X, y, prior) {
  U <- chol(X %*% diag(prior$sd^2) %*% t(X) + prior$scatter^2 * diag(length(y)))
  z <- backsolve(U, y - X %*% prior$m, transpose = TRUE)
  -length(y) / 2 * log(2 * pi) - sum(log(diag(U))) - sum(z^2) / 2
}

# The seven points are invented; trees is R's own data set.
small <- data.frame(y = c(1.2, 1.9, 2.1, 3.4, 3.6, 5.1, 6.2), x = c(0, 1, 1.5, 2, 3, 4, 5.5))
cases <- list(
  small = list(data = small, at = rbind(c(1, 2.5), c(1, 8)),
    prior = list(m = c(0, 0.5), sd = c(2, 1), scatter = 0.6)),
  trees = list(data = data.frame(y = log(trees$Volume), log(trees[c("Girth", "Height")])),
    at = cbind(1, log(c(8.3, 12, 20.6, 25)), log(c(70, 76, 87, 95))),
    prior = list(m = c(-6, 2, 1), sd = c(1, 0.3, 0.3), scatter = 0.08))
)
write_table(small, "normal_small.csv")

states <- predictions <- NULL
for (name in names(cases)) {
  case <- cases[[name]]
  X <- cbind(1, as.matrix(case$data[-1]))
  y <- case$data$y
  state <- function(stage, quantity, value) data.frame(case = name, stage = stage, quantity = quantity, value = value)
  # after is the posterior in rows: means, the lower triangle of the covariance, the evidence.
  after <- function(stage, rows) {
    s <- posterior(X[rows, ], y[rows], case$prior)
    lower <- which(lower.tri(s$C, diag = TRUE), arr.ind = TRUE)
    state(stage, c(paste0("m_", seq_along(s$m)), paste0("C_", lower[, 1], "_", lower[, 2]), "log_evidence"),
      c(s$m, s$C[lower], log_evidence(X[rows, ], y[rows], case$prior)))
  }
  index <- seq_along(case$prior$m)
  states <- rbind(states,
    state("prior", c(paste0("m_", index), paste0("sd_", index), "scatter"), unlist(case$prior)),
    after("after the first 4", 1:4), after("after all", seq_along(y)))
  all <- posterior(X, y, case$prior)
  for (i in seq_len(nrow(case$at))) {
    x <- case$at[i, ]
    location <- sum(x * all$m)
    scale <- drop(sqrt(case$prior$scatter^2 + t(x) %*% all$C %*% x))
    quantiles <- qnorm(c(0.1, 0.9, 0.025, 0.975), location, scale)
    predictions <- rbind(predictions, data.frame(case = name, x = vector_text(x[-1]),
      location = location, scale = scale, lower80 = quantiles[1], upper80 = quantiles[2],
      lower95 = quantiles[3], upper95 = quantiles[4]))
  }
}
write_table(states, "normal_states.csv")
write_table(predictions, "normal_predictions.csv")
