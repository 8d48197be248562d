# R's own Student t at the places of the 20-digit table, which was made elsewhere.
quantiles <- read.csv("student_t_quantiles.csv")
quantiles$quantile <- qt(quantiles$p, quantiles$df)
write_table(quantiles, "student_t_quantiles.csv")
