# The model of package analyze on small invented logs of whole cars, with every matrix
# written out. For one cell of the grid, the responses of a part's runs are jointly normal,
#
#   y ~ N(X m, X S^2 X' + V),   V = sigma^2 (I + share [same day]) + (excess spread)^2 [heat stop]
#
# with n x n matrices, which gives the log's density and, by conditioning, the coefficients.
# Package analyze writes none of these: it sums over days and turns coefficients into
# coordinates of their own.
prior <- read.csv("model_prior.csv")
entries <- function(part, quantity) prior[prior$quantity == quantity & prior$part %in% c("any", part), ]
value <- function(part, quantity) entries(part, quantity)$value
spread <- function(part, quantity) entries(part, quantity)$weight_or_sd

text <- c("time", "surface", "cooling", "stopped")
runs <- read.csv("model_runs.csv", colClasses = setNames(rep("character", 4), text))
following <- read.csv("model_next.csv", colClasses = setNames(rep("character", 2), text[2:3]), check.names = FALSE)
parts <- c("motor", "esc", "battery")
negligible <- 1e-6 # the weight below which a cell is dropped
excess_spread <- 1 / 3 # of the mean excess
most_labels <- 12

rollout <- function(d) pi * d$tire_mm * d$pinion / (d$spur * d$internal)
fold <- function(label) tolower(gsub("[[:space:]]", "", label))

# own_labels returns the labels that have a column: the most frequent ones.
own_labels <- function(of) {
  count <- table(of)
  if (length(count) == 1) return(character())
  ordered <- names(count)[order(-count, names(count), method = "radix")]
  head(ordered, most_labels)
}

# drifted says how far a drift has come on a day, from 0 on the log's last: the whole
# way over the log, or over four days of driving where it is shorter.
drifted <- function(day, days) if (days > 1) (day - days) / max(days - 1, 4) else 0 * day

# columns returns the regressors of d, centred on the middle of log.
columns <- function(d, log, drift) {
  x <- log(rollout(d)) - mean(log(rollout(log)))
  cells <- log(d$cells) - mean(log(log$cells), na.rm = TRUE)
  cells[is.na(cells)] <- 0
  X <- cbind(level = 1, exponent = x, bend = x^2,
    tire = log(d$tire_mm) - mean(log(log$tire_mm)),
    cells = cells, air = d$ambient_c - mean(log$ambient_c), drift = drift)
  for (kind in c("surface", "cooling")) for (l in own_labels(fold(log[[kind]]))) {
    X <- cbind(X, label = as.numeric(fold(d[[kind]]) == l))
  }
  X
}

# unseen returns how many label effects the next run has that no column carries. The only
# label of a log is part of its level, and is to be taken out where another is foreseen.
unseen <- function(d, log) {
  sum(vapply(c("surface", "cooling"), function(kind) {
    known <- unique(fold(log[[kind]]))
    if (length(known) == 1) return(if (fold(d[[kind]]) == known) 0 else 2)
    if (fold(d[[kind]]) %in% own_labels(fold(log[[kind]]))) 0 else 1
  }, 0))
}

# warmth says how warm a part was above the air when each run began, as logged; or after
# the run before, with the rest since then, where that run ended half an hour before at most.
warmth <- function(log, part) {
  start <- log[[paste0(part, "_start_c")]]
  peak <- log[[paste0(part, "_c")]]
  out <- data.frame(rise = ifelse(is.na(start), 0, start - log$ambient_c), rest = 0, followed = FALSE)
  if (nrow(entries(part, "heat_left")) == 1) return(out)
  when <- as.numeric(as.POSIXct(paste(log$day, ifelse(log$time == "", "00:00", log$time)), tz = "UTC")) / 60
  in_time <- order(when)
  for (k in seq_along(in_time)[-1]) {
    now <- in_time[k]
    last <- in_time[k - 1]
    rest <- when[now] - log$minutes[now] - when[last]
    if (log$time[now] == "" || log$time[last] == "" || rest < -2 || rest > 30) next
    if (!is.na(start[now]) || is.na(peak[last]) || peak[last] <= log$ambient_c[now]) next
    out[now, ] <- list(peak[last] - log$ambient_c[now], max(rest, 0), TRUE)
  }
  out
}

# fit_part returns every cell of the grid, with the posterior of the coefficients.
fit_part <- function(log, part) {
  peak <- log[[paste0(part, "_c")]]
  start <- log[[paste0(part, "_start_c")]]
  time_constants <- value(part, "time_constant")
  usable <- !is.na(peak)
  for (tau in time_constants) {
    left <- ifelse(is.na(start), 0, (start - log$ambient_c) * exp(-log$minutes / tau))
    usable <- usable & !is.na(peak) & peak - log$ambient_c > left
  }
  used <- which(usable)
  d <- log[used, ]
  n <- nrow(d)
  warm <- warmth(log, part)[used, ]
  stopped <- d$stopped == "yes"
  dates <- sort(unique(log$day))
  day <- match(d$day, dates)
  X <- columns(d, log, drifted(day, length(dates)))
  same_day <- outer(day, day, "==") + 0

  worlds <- expand.grid(t = seq_along(time_constants), h = seq_len(nrow(entries(part, "heat_left"))))
  if (!any(warm$followed)) worlds <- worlds[worlds$h == 1, ]
  drifts <- entries(part, "drift")
  if (length(dates) == 1) drifts <- drifts[1, ]
  excesses <- if (any(stopped)) entries(part, "heat_stop_excess") else data.frame(value = 0, weight_or_sd = 1)
  responses <- Map(function(t, h) {
    tau <- time_constants[t]
    keeps <- ifelse(warm$followed, value(part, "heat_left")[h], 1)
    rise <- peak[used] - d$ambient_c - keeps * warm$rise * exp(-(warm$rest + d$minutes) / tau)
    weight <- log(spread(part, "time_constant")[t])
    if (any(warm$followed)) weight <- weight + log(spread(part, "heat_left")[h])
    list(tau = tau, heat_left = value(part, "heat_left")[h], weight = weight, possible = all(rise > 0),
      y = suppressWarnings(log(rise)) - log(1 - exp(-d$minutes / tau)), jacobian = suppressWarnings(sum(log(rise))))
  }, worlds$t, worlds$h)

  cells <- list()
  for (s in seq_along(value(part, "day_share"))) for (v in seq_along(value(part, "scatter"))) {
    share <- value(part, "day_share")[s]
    variance <- value(part, "scatter")[v]^2 / (1 + share)
    for (e in seq_len(nrow(excesses))) for (r in seq_len(nrow(drifts))) for (ruled in c(TRUE, FALSE)) {
      excess <- excesses$value[e]
      kind <- colnames(X)
      m <- vapply(kind, function(k) if (k %in% c("drift", "label")) 0 else value(part, k), 0)
      sd <- vapply(kind, function(k) if (k == "drift") drifts$value[r] else spread(part, k), 0)
      no_rule <- value(part, "no_rule_weight")
      if (!ruled) {
        m["exponent"] <- value(part, "no_rule")
        sd["exponent"] <- spread(part, "no_rule")
      }
      S2 <- diag(sd^2)
      V <- variance * (diag(n) + share * same_day) + diag((excess_spread * excess * stopped)^2, n)
      U <- chol(X %*% S2 %*% t(X) + V)
      A <- backsolve(U, X %*% S2, transpose = TRUE)
      C <- S2 - t(A) %*% A
      weight <- log(spread(part, "day_share")[s] * spread(part, "scatter")[v] * excesses$weight_or_sd[e] *
        drifts$weight_or_sd[r] * (if (ruled) 1 - no_rule else no_rule))
      for (w in responses) {
        if (!w$possible) next
        z <- backsolve(U, w$y + excess * stopped - X %*% m, transpose = TRUE)
        density <- -n / 2 * log(2 * pi) - sum(log(diag(U))) - sum(z^2) / 2 - w$jacobian
        cells[[length(cells) + 1]] <- list(tau = w$tau, heat_left = w$heat_left, variance = variance,
          share = share, ruled = ruled, log_weight = weight + w$weight + density,
          m = drop(m + t(A) %*% z), C = C, y = w$y)
      }
    }
  }
  all <- list(part = part, X = X, used = used, stopped = stopped, warm = warm, cells = cells, day = length(dates) + 1)
  for (name in c("tau", "heat_left", "variance", "share", "ruled", "log_weight")) {
    all[[name]] <- vapply(cells, function(k) as.numeric(k[[name]]), 0)
  }
  weight <- exp(all$log_weight - max(all$log_weight))
  all$whole <- weight / sum(weight)
  all$kept <- ifelse(all$whole < negligible, 0, all$whole)
  all$kept <- all$kept / sum(all$kept)
  best <- cells[[which.max(weight)]]
  all$residual <- drop(best$y - X %*% best$m)
  all
}

# along returns mean and variance of a combination of the coefficients in every cell.
along <- function(fit, x) {
  list(mean = vapply(fit$cells, function(k) sum(x * k$m), 0),
    variance = vapply(fit$cells, function(k) sum(x * (k$C %*% x)), 0))
}

# foresee returns the chance of every cell that the next run stays under a temperature, as a
# function of that.
foresee <- function(fit, d, log) {
  part <- fit$part
  start <- d[[paste0(part, "_start_c")]]
  a <- along(fit, drop(columns(d, log, drifted(fit$day, fit$day - 1))))
  sd <- sqrt(a$variance + fit$variance * (1 + fit$share) + unseen(d, log) * spread(part, "label")^2)
  left <- (if (is.na(start)) 0 else start - d$ambient_c) * exp(-d$minutes / fit$tau)
  function(temperature) {
    rise <- temperature - d$ambient_c - left
    ifelse(rise <= 0, 0, pnorm(suppressWarnings(log(rise)) - log(1 - exp(-d$minutes / fit$tau)) - a$mean, 0, sd))
  }
}

# correlation returns that of the parts' residuals, worth 8 runs at 0.6 before the log.
correlation <- function(fits) {
  sum <- 0.6 * 8
  n <- 8
  for (pair in combn(length(fits), 2, simplify = FALSE)) {
    a <- fits[[pair[1]]]
    b <- fits[[pair[2]]]
    both <- intersect(a$used[!a$stopped], b$used[!b$stopped])
    p <- a$residual[match(both, a$used)]
    q <- b$residual[match(both, b$used)]
    if (length(both) == 0 || sum(p^2) == 0 || sum(q^2) == 0) next
    sum <- sum + length(both) * sum(p * q) / sqrt(sum(p^2) * sum(q^2))
    n <- n + length(both)
  }
  min(max(sum / n, 0), 0.95)
}

# narrowing returns how far ln(rise) of a run spreads, and how far after one more run under
# test, on days of their own: linear in what that will read, over all cells.
narrowing <- function(fit, target, test, log) {
  place <- function(d) {
    x <- drop(columns(d, log, drifted(fit$day, fit$day - 1)))
    a <- along(fit, x)
    list(x = x, mean = a$mean + log(1 - exp(-d$minutes / fit$tau)), variance = a$variance + fit$variance * (1 + fit$share))
  }
  p <- place(target)
  q <- place(test)
  average <- function(v) sum(fit$kept * v)
  off_p <- p$mean - average(p$mean)
  off_q <- q$mean - average(q$mean)
  variance <- average(p$variance + off_p^2)
  covariance <- average(vapply(fit$cells, function(k) sum(p$x * (k$C %*% q$x)), 0) + off_p * off_q)
  sqrt(c(variance, variance - covariance^2 / average(q$variance + off_q^2)))
}

probabilities <- exponents <- told <- together <- narrowed <- NULL
for (name in unique(runs$log)) {
  log <- runs[runs$log == name, ]
  fits <- lapply(parts, function(part) fit_part(log, part))
  for (fit in fits) {
    tau <- exp(sum(fit$kept * log(fit$tau)))
    told <- rbind(told, data.frame(log = name, part = fit$part, runs = length(fit$used),
      warm_starts = sum(fit$warm$followed & fit$warm$rise * exp(-fit$warm$rest / tau) > 5),
      time_constant = tau, scatter = sqrt(sum(fit$kept * fit$variance)),
      heat_left = sum(fit$kept * fit$heat_left), no_rule = sum(fit$kept * (1 - fit$ruled))))
  }
  for (i in which(following$log == name)) {
    d <- following[i, ]
    test <- following[max(which(following$log == name)), ]
    for (fit in fits) {
      spreads <- narrowing(fit, d, test, log)
      narrowed <- rbind(narrowed, data.frame(log = name, `next` = d[["next"]], test = test[["next"]], part = fit$part,
        now = spreads[1], after = spreads[2], check.names = FALSE))
    }
    under <- lapply(fits, function(fit) foresee(fit, d, log))
    for (k in seq_along(fits)) {
      fit <- fits[[k]]
      for (temperature in d$ambient_c + c(12, 20, 27, 35, 45, 55, 70, 100)) {
        p <- under[[k]](temperature)
        probabilities <- rbind(probabilities, data.frame(log = name, `next` = d[["next"]], part = fit$part,
          temperature = temperature, probability = sum(fit$whole * p), kept = sum(fit$kept * p), check.names = FALSE))
      }
      x <- drop(columns(d, log, 0))
      slope <- 0 * x
      slope["exponent"] <- 1
      slope["bend"] <- 2 * x["exponent"]
      a <- along(fit, slope)
      below <- function(v) sum(fit$kept * pnorm(v, a$mean, sqrt(a$variance)))
      quantile <- function(q) uniroot(function(v) below(v) - q, c(-20, 20), tol = 1e-13)$root
      exponents <- rbind(exponents, data.frame(log = name, `next` = d[["next"]], part = fit$part, low = quantile(0.1),
        middle = quantile(0.5), high = quantile(0.9), below_one = below(1), check.names = FALSE))
    }
    # Limits to the half degree that every part stays under with a chance of about q.
    for (q in c(0.5, 0.75)) {
      chance_of <- function(k, temperature) sum(fits[[k]]$whole * under[[k]](temperature))
      limits <- vapply(seq_along(fits), function(k) {
        round(2 * uniroot(function(v) chance_of(k, v) - q, d$ambient_c + c(0, 500), tol = 1e-6)$root) / 2
      }, 0)
      chance <- vapply(seq_along(fits), function(k) chance_of(k, limits[k]), 0)
      rho <- correlation(fits)
      z <- qnorm(chance)
      all <- integrate(function(u) {
        vapply(u, function(v) prod(pnorm((z + sqrt(rho) * v) / sqrt(1 - rho))), 0) * dnorm(u)
      }, -9, 9, rel.tol = 1e-11, subdivisions = 1000)$value
      together <- rbind(together, data.frame(log = name, `next` = d[["next"]], correlation = rho,
        motor_limit = limits[1], esc_limit = limits[2], battery_limit = limits[3],
        motor = chance[1], esc = chance[2], battery = chance[3], all = all, check.names = FALSE))
    }
  }
}
write_table(probabilities, "model_probabilities.csv")
write_table(exponents, "model_exponents.csv")
write_table(told, "model_fits.csv")
write_table(together, "model_joint.csv")
write_table(narrowed, "model_narrowing.csv")
