# R's own Student t at the places of the 20-digit tables, which were made elsewhere.
quantiles <- read.csv("student_t_quantiles.csv")
quantiles$quantile <- qt(quantiles$p, quantiles$df)
write_table(quantiles, "student_t_quantiles.csv")

cdf <- read.csv("student_t_cdf.csv")
cdf$cdf <- pt(cdf$t, cdf$df)
write_table(cdf, "student_t_cdf.csv")
