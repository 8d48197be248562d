# lm() and predict() on data sets that R ships. Each set is written as it enters the
# fit: the response first, then every regressor but the constant.
cases <- list(
  cars = list(dist ~ speed, cars, data.frame(speed = c(4, 10, 15.4, 21, 30))),
  faithful = list(eruptions ~ waiting, faithful, data.frame(waiting = c(43, 60, 80, 96, 110))),
  women = list(weight ~ height + I(height^2), women, data.frame(height = c(55, 58, 65, 72, 75))),
  stackloss = list(stack.loss ~ Air.Flow + Water.Temp + Acid.Conc., stackloss,
    data.frame(Air.Flow = c(50, 60, 80, 100), Water.Temp = c(18, 21, 27, 30), Acid.Conc. = c(80, 86, 89, 95))),
  longley = list(Employed ~ GNP.deflator + GNP + Unemployed + Armed.Forces + Population + Year, longley,
    data.frame(GNP.deflator = c(100, 118), GNP = c(380, 570), Unemployed = c(300, 410),
      Armed.Forces = c(280, 280), Population = c(117, 131.5), Year = c(1955, 1963))),
  trees = list(log(Volume) ~ log(Girth) + log(Height), trees,
    data.frame(Girth = c(8.3, 12, 15.5, 20.6, 25), Height = c(70, 76, 80, 87, 95))),
  rock = list(log(perm) ~ log(area) + log(peri) + shape, rock,
    data.frame(area = c(2000, 7000, 11000, 15000), peri = c(500, 2500, 3500, 5000), shape = c(0.2, 0.25, 0.3, 0.5))),
  mtcars = list(log(mpg) ~ log(disp) + log(wt) + qsec, mtcars,
    data.frame(disp = c(80, 200, 350, 500), wt = c(1.6, 3, 4, 5.5), qsec = c(18.5, 17, 17, 20)))
)

predictions <- coefficients <- NULL
for (name in names(cases)) {
  formula <- cases[[name]][[1]]
  new <- cases[[name]][[3]]
  fit <- lm(formula, cases[[name]][[2]])
  summarised <- summary(fit)
  regressors <- model.matrix(fit)[, -1, drop = FALSE]
  write_table(data.frame(y = model.response(model.frame(fit)), regressors), paste0("r_", name, ".csv"))

  coefficients <- rbind(coefficients, data.frame(case = name,
    term = sub("\\(Intercept\\)", "intercept", rownames(summarised$coefficients)),
    estimate = summarised$coefficients[, 1], std_error = summarised$coefficients[, 2],
    residual_sd = summarised$sigma, r_squared = summarised$r.squared))

  at <- model.matrix(delete.response(terms(fit)), new)[, -1, drop = FALSE]
  for (kind in c("confidence", "prediction")) for (level in c(0.8, 0.95)) {
    p <- predict(fit, new, interval = kind, level = level, se.fit = TRUE)
    predictions <- rbind(predictions, data.frame(case = name, x = apply(at, 1, vector_text),
      interval = kind, level = level, fit = p$fit[, "fit"], se_fit = p$se.fit,
      lower = p$fit[, "lwr"], upper = p$fit[, "upr"]))
  }
}
write_table(coefficients, "r_coefficients.csv")
write_table(predictions, "r_predictions.csv")
