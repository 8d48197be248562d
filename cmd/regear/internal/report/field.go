package report

// PercentNumber writes a share in percent, without the sign.
func PercentNumber(p float64) string { return trimmed(p*100, 6) }
