package report

import (
	"fmt"

	"regear/analyze/run"
)

// ByFlags words a remedy for the command line, which has a flag for it; "" where it has none.
func ByFlags(r run.Remedy) string {
	switch r.Kind {
	case run.ChooseDateOrder:
		return "say which with --date-order day-first or --date-order month-first"
	case run.MapColumn:
		return fmt.Sprintf("if it is %s, rename it or use --column %s", r.Column, Mapping(r))
	case run.MapColumns:
		return "rename the columns in the log, or map them one by one, such as --column " + Mapping(r)
	case run.NameCar:
		if r.Header == "" {
			return "add --car NAME"
		}
		return fmt.Sprintf("use --column %s if so, or add --car NAME", Mapping(run.Remedy{Header: r.Header, Column: "car"}))
	}
	return ""
}

// Mapping writes the mapping of a header to a column as flags and pages take it, and what
// it holds for.
func Mapping(r run.Remedy) string {
	mapping := fmt.Sprintf("'%s=%s'", run.Printable(r.Header), r.Column)
	if r.Unit != "" {
		mapping += " if it is in " + r.Unit
	}
	return mapping
}
