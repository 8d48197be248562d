# Conjugate regression with a normal-inverse-gamma prior, by dense matrices:
#
#   y | b, s2 ~ N(X b, s2 I),   b | s2 ~ N(m0, s2 V0),   s2 ~ InverseGamma(a0, b0)
#
# The posterior is found as least squares on the data together with one pseudo-row
# for each coefficient, by QR; the marginal likelihood is the multivariate t density
# of y. Neither is the way that package analyze goes.
posterior <- function(X, y, prior) {
  root <- chol(solve(prior$V0))
  f <- lm.fit(rbind(X, root), c(y, root %*% prior$m0))
  list(m0 = unname(f$coefficients), V0 = chol2inv(qr.R(f$qr)),
    a0 = prior$a0 + length(y) / 2, b0 = prior$b0 + sum(f$residuals^2) / 2)
}

log_evidence <- function(X, y, prior) {
  n <- length(y)
  df <- 2 * prior$a0
  scale <- chol(prior$b0 / prior$a0 * (diag(n) + X %*% prior$V0 %*% t(X)))
  z <- backsolve(scale, y - X %*% prior$m0, transpose = TRUE)
  lgamma((df + n) / 2) - lgamma(df / 2) - n / 2 * log(df * pi) - sum(log(diag(scale))) -
    (df + n) / 2 * log1p(sum(z^2) / df)
}

# The seven points are invented; trees is R's own data set.
small <- data.frame(y = c(1.2, 1.9, 2.1, 3.4, 3.6, 5.1, 6.2), x = c(0, 1, 1.5, 2, 3, 4, 5.5))
cases <- list(
  small = list(data = small, at = rbind(c(1, 2.5), c(1, 8)),
    prior = list(m0 = c(0, 0.5), V0 = matrix(c(4, 0.6, 0.6, 1), 2), a0 = 2, b0 = 1.5)),
  trees = list(data = data.frame(y = log(trees$Volume), log(trees[c("Girth", "Height")])),
    at = cbind(1, log(c(8.3, 12, 20.6, 25)), log(c(70, 76, 87, 95))),
    prior = list(m0 = c(-6, 2, 1), V0 = diag(c(100, 10, 10)), a0 = 2, b0 = 0.02))
)
write_table(small, "conjugate_small.csv")

states <- predictions <- NULL
# state is a prior or posterior in rows: mean, lower triangle of V, shape, rate.
state <- function(name, stage, s) {
  lower <- which(lower.tri(s$V0, diag = TRUE), arr.ind = TRUE)
  data.frame(case = name, stage = stage,
    quantity = c(paste0("m_", seq_along(s$m0)), paste0("V_", lower[, 1], "_", lower[, 2]), "a", "b"),
    value = c(s$m0, s$V0[lower], s$a0, s$b0))
}
for (name in names(cases)) {
  case <- cases[[name]]
  X <- cbind(1, as.matrix(case$data[-1]))
  y <- case$data$y
  first <- 1:4
  early <- posterior(X[first, ], y[first], case$prior)
  late <- posterior(X, y, case$prior)
  states <- rbind(states, state(name, "prior", case$prior),
    state(name, "after the first 4", early),
    data.frame(case = name, stage = "after the first 4", quantity = "log_evidence",
      value = log_evidence(X[first, ], y[first], case$prior)),
    state(name, "after all", late),
    data.frame(case = name, stage = "after all", quantity = "log_evidence", value = log_evidence(X, y, case$prior)))
  for (i in seq_len(nrow(case$at))) {
    x <- case$at[i, ]
    location <- sum(x * late$m0)
    scale <- drop(sqrt(late$b0 / late$a0 * (1 + t(x) %*% late$V0 %*% x)))
    quantiles <- location + scale * qt(c(0.1, 0.9, 0.025, 0.975), 2 * late$a0)
    predictions <- rbind(predictions, data.frame(case = name, x = vector_text(x[-1]),
      location = location, scale = scale, df = 2 * late$a0,
      lower80 = quantiles[1], upper80 = quantiles[2], lower95 = quantiles[3], upper95 = quantiles[4]))
  }
}
write_table(states, "conjugate_states.csv")
write_table(predictions, "conjugate_predictions.csv")
