package runlog

import (
	"strings"
)

// dialect is how a text parts its cells.
type dialect struct {
	delimiter byte
	announced bool // by a first line "sep=;", as some spreadsheets write
	width     int  // cells on the likeliest header line
}

// delimiters are the signs that part cells, as messages name them.
var delimiters = map[byte]string{',': "comma", ';': "semicolon", '\t': "tab", '|': "vertical bar"}

// likeliestDelimiters are tried in this order; the first of equals wins.
var likeliestDelimiters = []byte{',', ';', '\t', '|'}

// sniff finds the delimiter: the one by which a line reads most like a header,
// and failing that the one that parts the most cells.
func sniff(window string, own ownColumns) dialect {
	try, announced := likeliestDelimiters, false
	if sep, ok := announcedDelimiter(window); ok {
		try, announced = []byte{sep}, true
	}
	best, bestKnown := dialect{delimiter: try[0], announced: announced}, 0
	for _, delim := range try {
		first := newCSVRows(window, dialect{delimiter: delim, announced: announced}).rows(headerRows)
		if len(first) == 0 {
			break
		}
		head := first[likeliestHeader(first, own)].cells
		known := own.known(head)
		if known > bestKnown || known == bestKnown && len(head) > best.width {
			best, bestKnown = dialect{delim, announced, len(head)}, known
		}
	}
	return best
}

// announcedDelimiter reads a first line such as "sep=;".
func announcedDelimiter(window string) (byte, bool) {
	first, _, _ := strings.Cut(window, "\n")
	sep, ok := strings.CutPrefix(strings.Trim(first, "\"\r"), "sep=")
	if !ok || len(sep) != 1 {
		return 0, false
	}
	return sep[0], true
}

// decimalMark finds the decimal mark in most of the rows' numbers, 0 if none
// has decimals. It is chosen once for a whole log: in a cell alone, 1,234 can
// be read in two ways.
func (l *layout) decimalMark(rows []rawRow) byte {
	points, commas := 0, 0
	for _, r := range rows {
		for _, k := range l.known {
			if !k.number || k.place >= len(r.cells) {
				continue
			}
			number, _ := cutUnit(r.cells[k.place])
			switch mark := strings.LastIndexAny(number, ".,"); {
			case mark < 0:
			case number[mark] == '.':
				points++
			default:
				commas++
			}
		}
	}
	switch {
	case points == 0 && commas == 0:
		return 0
	case commas > points:
		return ','
	}
	return '.'
}
