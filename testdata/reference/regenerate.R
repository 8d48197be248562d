# Makes anew every figure of this folder that R computed, and writes it to OUTDIR:
#
#   Rscript regenerate.R OUTDIR
#
# Base R alone is needed. TestRAgrees in package analyze runs this and compares
# each file with the one kept here.
arguments <- commandArgs(trailingOnly = TRUE)
if (length(arguments) != 1) stop("usage: Rscript regenerate.R OUTDIR")
out <- normalizePath(arguments, mustWork = TRUE)
script <- sub("^--file=", "", grep("^--file=", commandArgs(), value = TRUE))
setwd(dirname(gsub("~+~", " ", script, fixed = TRUE)))

# write_table writes numbers with 15 digits, which is all that a double is sure of.
write_table <- function(table, name) {
  numbers <- vapply(table, is.numeric, NA)
  table[numbers] <- lapply(table[numbers], function(x) sprintf("%.15g", x))
  write.csv(table, file.path(out, name), row.names = FALSE, quote = FALSE)
}

# vector_text writes a vector as one cell.
vector_text <- function(x) paste(sprintf("%.15g", x), collapse = " ")

for (part in c("least_squares.R", "normal.R", "student_t.R", "model.R")) {
  source(part, local = new.env(parent = globalenv()))
}
