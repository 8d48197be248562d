package runlog

import (
	"fmt"
	"slices"
	"strings"

	"github.com/gocarina/gocsv"

	"regear/analyze/run"
)

// read reads the rows of a log of any origin. dated turns a cell of the column date into a
// date; it is nil for text.
func (log *Log) read(rows []rawRow, dated func(string) string, w wording, opts Options) (*Log, error) {
	if len(rows) == 0 {
		return nil, fileProblem(log.Name, "holds no header and no runs", "export the log again")
	}
	lay, used, err := findHeader(log.Name, rows, w, &opts)
	if err != nil {
		return nil, err
	}
	above, rows := rows[:used], rows[used:]
	for _, r := range above {
		if r.line < lay.Line {
			text := strings.Join(strings.Fields(strings.Join(r.cells, " ")), " ")
			log.Notices = append(log.Notices, run.Problem{Position: run.Position{File: log.Name, Line: r.line},
				Value: excerpt(text), What: "stands above the header and was passed over"})
		}
	}
	log.Columns, log.Notices = lay.headings, slices.Concat(log.Notices, lay.notices, lay.hints())
	if opts.KeepCells {
		log.Header = lay.header
	}
	log.Format.DecimalMark = lay.decimalMark(rows)
	r := &reader{layout: lay, log: log, Options: opts}
	if err := r.readAll(rows, dated); err != nil {
		return nil, fmt.Errorf("%s: %w", log.Name, err)
	}
	r.decideDates()
	r.judgeDates()
	r.decideCars()
	lay.tellTaken(log)
	if log.Rows == 0 {
		log.Warnings = append(log.Warnings, fileProblem(log.Name, "holds a header and no runs", "add a row for each run"))
	}
	byLine := func(a, b run.Problem) int { return a.Line - b.Line }
	slices.SortStableFunc(log.Problems, byLine)
	slices.SortStableFunc(log.Warnings, byLine)
	slices.SortStableFunc(log.Lost, byLine)
	slices.SortStableFunc(log.Notices, byLine)
	slices.SortStableFunc(log.Refused, func(a, b Row) int { return a.Line - b.Line })
	return log, nil
}

// decimalMark finds the decimal mark in most of the numbers of the first rows that have decimals, 0
// if none has. It is chosen once for a whole log: in a cell alone, 1,234 can be read in two ways.
func (l *layout) decimalMark(rows []rawRow) byte {
	const together = 200
	for some := range slices.Chunk(rows, together) {
		points, commas := 0, 0
		for _, r := range some {
			for _, k := range l.known {
				if !k.number || k.place < 0 || k.place >= len(r.cells) {
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
		case commas > points:
			return ','
		case points > 0:
			return '.'
		}
	}
	return 0
}

// decideCars deals with runs that name no car in a log that names cars. If it names one, they are
// of that car, and a warning says so. If it names several, they are refused.
func (r *reader) decideCars() {
	log := r.log
	var names []string
	var nameless []*run.Run
	for i := range log.Runs {
		switch r := &log.Runs[i]; {
		case r.Car == "":
			nameless = append(nameless, r)
		case len(names) < 2 && !slices.ContainsFunc(names, func(name string) bool { return name == r.Car || run.Fold(name) == run.Fold(r.Car) }):
			names = append(names, r.Car)
		}
	}
	if len(nameless) == 0 || len(names) == 0 {
		return
	}
	blank := func(of *run.Run, what, do string) run.Problem {
		return run.Problem{Position: of.Position, Column: r.column("car").header, What: "is blank" + what, Do: do}
	}
	if len(names) > 1 {
		for _, r := range nameless {
			log.Problems = append(log.Problems, blank(r, " in a log of several cars", "write which car it was"))
		}
		log.refuse(func(r *run.Run) bool { return r.Car == "" })
		return
	}
	others := ""
	if more := len(nameless) - 1; more > 0 {
		others = fmt.Sprintf(" in this row and %d more", more)
	}
	log.Warnings = append(log.Warnings, blank(nameless[0],
		fmt.Sprintf("%s and was taken for %q, the only car of the log", others, names[0]), "fill it in if that is wrong"))
	for _, r := range nameless {
		r.Car = names[0]
	}
}

// refuse moves runs to the refused rows. Why is for the caller to say.
func (log *Log) refuse(unusable func(*run.Run) bool) {
	kept, keptCells := log.Runs[:0], log.Cells[:0]
	for i, r := range log.Runs {
		switch {
		case !unusable(&r):
			kept = append(kept, r)
			if log.Cells != nil {
				keptCells = append(keptCells, log.Cells[i])
			}
		case log.Cells != nil:
			log.Refused = append(log.Refused, Row{r.Position, log.Cells[i]})
		}
	}
	log.Runs, log.Cells = kept, keptCells
}

// blockRows is how many rows gocsv decodes at a time, so that memory stays bounded.
const blockRows = 512

// records are rows for gocsv: the names of the columns, then the cells of each row.
type records [][]string

// GetCSVRows gives the records to gocsv.
func (r records) GetCSVRows() ([][]string, error) { return r, nil }

// decoded is what gocsv decodes a row into: a pointer, as gocsv makes each twice and copies it.
type decoded struct{ Cells *row }

// UnmarshalCSVWithFields takes a cell from gocsv, if its column is one that is read. Without it
// gocsv finds a cell's field by its tag, to the same end (a test holds the two against each
// other), but by reflection: 100 ns and two allocations a cell, for a log's cells four times
// what encoding/csv takes to cut them.
func (d *decoded) UnmarshalCSVWithFields(name, cell string) error {
	if d.Cells == nil {
		d.Cells = new(row)
	}
	if column := columnOf[name]; column != nil {
		*column.cell(d.Cells) = cell
	}
	return nil
}

var columnOf = func() map[string]*Column {
	byName := map[string]*Column{}
	for i := range columns {
		for _, name := range columns[i].Names {
			byName[name] = &columns[i]
		}
	}
	return byName
}()

func (r *reader) readAll(rows []rawRow, dated func(string) string) error {
	names := make([]string, len(r.header)) // "" where a column is not read
	for _, k := range r.known {
		if k.place >= 0 {
			names[k.place] = k.Names[0]
		}
	}
	log := r.log
	log.Runs = make([]run.Run, 0, len(rows))
	out := make([]decoded, blockRows)
	for block := range slices.Chunk(rows, blockRows) {
		records, from := records{names}, block[:0]
		for _, raw := range block {
			if dated != nil && r.date >= 0 && r.date < len(raw.cells) {
				raw.cells[r.date] = dated(raw.cells[r.date])
			}
			if !r.isRun(raw) {
				continue
			}
			cells := raw.cells[:min(len(raw.cells), len(names))]
			if short := len(names) - len(cells); short > 0 {
				cells = append(slices.Clip(cells), make([]string, short)...)
			}
			if r.clock >= 0 && r.date >= 0 {
				cells = r.withClock(raw.line, cells)
			}
			records, from = append(records, cells), append(from, raw)
		}
		if err := gocsv.UnmarshalDecoder(records, &out); err != nil {
			return fmt.Errorf("decoding rows: %w", err)
		}
		for i, raw := range from {
			log.Runs = append(log.Runs, run.Run{})
			last := len(log.Runs) - 1
			switch ok := r.read(raw.line, out[i].Cells, &log.Runs[last]); {
			case !ok:
				log.Runs = log.Runs[:last]
				r.keepRefused(raw)
			case r.KeepCells:
				log.Cells = append(log.Cells, raw.cells)
			}
		}
	}
	return nil
}

func (r *reader) keepRefused(raw rawRow) {
	if r.KeepCells {
		r.log.Refused = append(r.log.Refused, Row{run.Position{File: r.File, Line: raw.line}, raw.cells})
	}
}

// isRun reports whether a row is one of a run. One that should be and can't is refused.
func (r *reader) isRun(raw rawRow) bool {
	dated := r.date >= 0 && r.date < len(raw.cells) && raw.cells[r.date] != "" && raw.cells[r.date][0]-'0' <= 9
	// A comment may have been filled up with blank cells by a spreadsheet.
	isComment := strings.HasPrefix(raw.cells[0], "#") && blank(raw.cells[1:]) && !startsSpreadsheetError(raw.cells[0])
	if !dated && raw.problem == nil && isComment {
		return false
	}
	if !dated && r.repeats(raw.cells) {
		r.otherHeader = 0
		return false
	}
	if !dated && r.Forgiving && raw.problem == nil && r.isSum(raw) {
		return false
	}
	r.log.Rows++
	if raw.problem == nil {
		raw.problem = r.judge(raw, dated)
	}
	if raw.problem == nil {
		return true
	}
	p := *raw.problem
	p.Position = run.Position{File: r.File, Line: raw.line}
	if raw.place > 0 && raw.place <= len(r.header) {
		p.Column = r.header[raw.place-1]
	}
	r.log.Problems = append(r.log.Problems, p)
	r.keepRefused(raw)
	return false
}

// isSum reports whether a row holds sums or averages, and tells of one.
func (r *reader) isSum(raw rawRow) bool {
	at := slices.IndexFunc(raw.cells, func(cell string) bool { return clean(cell) != "" })
	cell := clean(raw.cells[at])
	if names().beginsWith("sum", wordsOf(cell)) == 0 {
		return false
	}
	r.notice(raw.line, excerpt(cell), "is a row of sums, not a run, and was passed over")
	return true
}

func (r *reader) notice(line int, value, what string) {
	r.log.Notices = append(r.log.Notices, run.Problem{Position: run.Position{File: r.File, Line: line}, Value: value, What: what})
}

// judge returns why a row can't be used as a whole, or nil.
func (r *reader) judge(raw rawRow, isRun bool) *run.Problem {
	if r.otherHeader > 0 {
		return problem(fmt.Sprintf("stands below the other header on line %d", r.otherHeader), "put it into a log of its own")
	}
	if extra := raw.cells[min(len(raw.cells), len(r.header)):]; !blank(extra) {
		return r.tooLong(raw.cells, extra)
	}
	lacks := func(k knownColumn) bool { return k.place >= len(raw.cells) && k.Need == always }
	if len(raw.cells) < len(r.header) {
		if at := slices.IndexFunc(r.known, lacks); at >= 0 {
			return problem(fmt.Sprintf("has %d cells under %d headers", len(raw.cells), len(r.header)),
				"fill in "+run.Printable(r.known[at].header)+" and what comes behind it")
		}
	}
	if isRun {
		return nil
	}
	// Only rows without a date can be something else than a run.
	if r.wording.count(raw.cells) >= 3 {
		r.otherHeader = raw.line
		return problem("is a second header with other columns", "put it and the rows below it into a log of its own")
	}
	at := slices.IndexFunc(raw.cells, func(cell string) bool { return clean(cell) != "" })
	if cell := clean(raw.cells[at]); isSummary(cell) {
		p := problem("is a row of sums, not a run", "delete it, or put # in front of it")
		p.Value = excerpt(cell)
		return p
	}
	return nil
}

func (r *reader) tooLong(cells, extra []string) *run.Problem {
	p := problem(fmt.Sprintf("is too much: the row has %d cells under %d headers", len(cells), len(r.header)),
		"give the cell a header, or delete it")
	p.Value = excerpt(strings.Join(extra, " "))
	if sign := delimiters[r.log.Format.Delimiter]; sign != "" {
		p.Value = excerpt(strings.Join(extra, string(r.log.Format.Delimiter)))
		p.Do = "put quotes around a cell that holds a " + sign
	}
	return p
}

func blank(cells []string) bool {
	return !slices.ContainsFunc(cells, func(cell string) bool { return trim(cell) != "" })
}
