# Makes colours.csv, against which the palette's test holds its formulas:
#
#   Rscript colours.R > colours.csv
#
# It needs the R package colorspace (2.1-0 was used): its contrast_ratio is WCAG's, its
# tables for dichromats are those of Machado, Oliveira and Fernandes 2009, applied to linear
# light, and its LAB is CIE 1976 L*a*b* under D65.
library(colorspace)
colours <- c("#000000", "#FFFFFF", "#777777", "#FF0000", "#00FF00", "#0000FF", "#FEDCBA",
  "#034959", "#A476DC", "#9D5E00", "#B23E28", "#ADCFD9", "#ABC2CA")
eyes <- list(normal = diag(3), protanopia = protanomaly_cvd[["10"]],
  deuteranopia = deutanomaly_cvd[["10"]], tritanopia = tritanomaly_cvd[["10"]])
lab <- function(colour, eye) {
  linear <- coords(as(hex2RGB(colour), "RGB"))
  as.vector(coords(as(RGB(linear %*% t(eye)), "LAB")))
}
cat("# L*a*b* by eye, and contrast with white; R package colorspace 2.1-0, made by colours.R\n")
cat("colour,eye,l,a,b,contrast\n")
for (colour in colours) for (eye in names(eyes))
  cat(sub("#", "", colour), eye, sprintf("%.6f", c(lab(colour, eyes[[eye]]), contrast_ratio(colour, "#FFFFFF"))), sep = ",", fill = 200)
