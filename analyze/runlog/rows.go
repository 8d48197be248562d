package runlog

import (
	"cmp"
	"fmt"
	"io"
	"regear/analyze/run"
	"runtime"
	"slices"
	"strings"
	"sync"
)

const (
	// batchRows is how many rows are decoded at a time: enough that handing them
	// over costs nothing, few enough to stay in the cache.
	batchRows = 512
	// previewRows is how many rows are looked at for the header and the decimal mark.
	previewRows = 200
)

// origin is what is known of rows beforehand.
type origin struct {
	expected  int  // a guess at how many there are, 0 for none
	delimiter byte // between their cells, 0 if they do not come from text
}

// readRows reads a log from rows of any origin.
func readRows(name string, src rows, from origin, own map[string]match, opts Options) (*Log, error) {
	first := firstRows(src, previewRows)
	if len(first) == 0 {
		if _, err := src.next(); err != io.EOF {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		return nil, fileProblem(name, "holds no header and no runs", "export the log again")
	}
	lay, used, err := findHeader(name, first, own)
	if err != nil {
		return nil, err
	}
	in := &intake{
		layout: lay, rows: &replay{first[used:], src}, own: own,
		keep: opts.KeepCells, delimiter: from.delimiter, mark: lay.decimalMark(first[used:]),
	}
	log := &Log{
		Name: name, Columns: lay.columns, Runs: make([]run.Run, 0, from.expected),
		Warnings: append(lay.passedOver(first[:used]), lay.hints()...),
	}
	if opts.KeepCells {
		log.Header = lay.header
	}
	dates, err := log.collect(in, opts.DateOrder)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	log.Rows, log.Format.DecimalMark = in.seen, in.mark
	log.settleDates(dates)
	log.settleCars()
	if log.Rows == 0 {
		log.Warnings = append(log.Warnings, fileProblem(name, "holds a header and no runs", "add a row for each run"))
	}
	return log, nil
}

// passedOver warns of rows above the header.
func (l *layout) passedOver(used []row) []run.Problem {
	var warnings []run.Problem
	for _, r := range used {
		if r.line < l.Line {
			text := strings.Join(strings.Fields(strings.Join(r.cells, " ")), " ")
			warnings = append(warnings, run.Problem{Position: run.Position{File: l.File, Line: r.line}, Value: excerpt(text),
				What: "stands above the header and was passed over"})
		}
	}
	return warnings
}

// collect runs the rows through as many workers as there are processors, beside
// the reading, and gathers what becomes of them in the order of the log. It returns what
// the dates say of their order.
func (log *Log) collect(in *intake, order DateOrder) (datesFound, error) {
	var dates datesFound
	workers := runtime.GOMAXPROCS(0)
	todo := make(chan *batch, workers)
	inOrder := make(chan *batch, 2*workers)
	free := sync.Pool{New: func() any { return newBatch(in.layout) }}

	// Runs are decoded where they will stand, as long as the log has room: copying a
	// million of them would cost a tenth of reading them.
	room := log.Runs[:cap(log.Runs)]
	var readErr error
	go func() {
		defer close(inOrder)
		defer close(todo)
		readErr = in.read(func() *batch { return free.Get().(*batch) }, func(b *batch) {
			room = b.place(room)
			inOrder <- b
			todo <- b
		})
	}()
	for range workers {
		go func() {
			c := newConverter(in.layout, order)
			for b := range todo {
				b.done <- c.convert(b)
			}
		}()
	}

	var convertErr error
	for b := range inOrder {
		if err := <-b.done; err != nil {
			convertErr = err
		}
		log.add(b.runs)
		log.Cells = append(log.Cells, b.cells...)
		log.Refused = append(log.Refused, b.refused...)
		log.Problems = append(log.Problems, b.problems...)
		log.Warnings = append(log.Warnings, b.warnings...)
		dates.join(b.dates)
		b.reset()
		free.Put(b)
	}
	log.sort()
	if slack := cap(log.Runs) - len(log.Runs); slack > len(log.Runs)/20 {
		log.Runs = slices.Clone(log.Runs)
	}
	return dates, cmp.Or(readErr, convertErr)
}

// add appends runs, which may stand there already.
func (log *Log) add(runs []run.Run) {
	end := len(log.Runs)
	if room := log.Runs[end:cap(log.Runs)]; len(runs) > 0 && len(room) > 0 && &room[0] == &runs[0] {
		log.Runs = log.Runs[:end+len(runs)]
		return
	}
	log.Runs = append(log.Runs, runs...)
}

// sort puts problems in the order of their lines.
func (log *Log) sort() {
	byLine := func(a, b run.Problem) int { return a.Line - b.Line }
	slices.SortStableFunc(log.Problems, byLine)
	slices.SortStableFunc(log.Warnings, byLine)
	slices.SortStableFunc(log.Refused, func(a, b Row) int { return a.Line - b.Line })
}

// settleCars deals with runs that name no car in a log that names cars. If it
// names one, they are of that car, and a warning says so. If it names several,
// nobody knows which, and they are refused.
func (log *Log) settleCars() {
	first, names, nameless := "", 0, 0
	for i := range log.Runs {
		switch car := log.Runs[i].Car; {
		case car == "":
			nameless++
		case names == 0:
			first, names = car, 1
		case car != first:
			names = 2
		}
	}
	if nameless == 0 || names == 0 {
		return
	}
	column := log.columnOf("car")
	if names > 1 {
		log.refuseNameless(column)
		return
	}
	var example run.Position
	for i := range log.Runs {
		if r := &log.Runs[i]; r.Car == "" {
			if example.Line == 0 {
				example = r.Position
			}
			r.Car = first
		}
	}
	what := "is blank"
	if nameless > 1 {
		what = fmt.Sprintf("is blank in this row and %d more", nameless-1)
	}
	log.Warnings = append(log.Warnings, run.Problem{Position: example, Column: column,
		What: what + fmt.Sprintf(" and was taken for %q, the only car of the log", first),
		Do:   "fill it in if that is wrong"})
	log.sort()
}

// columnOf returns the header of a column of the contract, "" if the log lacks it.
func (log *Log) columnOf(name string) string {
	for _, c := range log.Columns {
		if c.Name == name {
			return c.Header
		}
	}
	return ""
}

// refuseNameless moves the runs without a car to the refused rows.
func (log *Log) refuseNameless(column string) {
	for i := range log.Runs {
		if r := &log.Runs[i]; r.Car == "" {
			log.Problems = append(log.Problems, run.Problem{Position: r.Position, Column: column,
				What: "is blank in a log of several cars", Do: "write which car it was"})
		}
	}
	log.refuse(func(r *run.Run) bool { return r.Car == "" })
	log.sort()
}

// refuse moves runs to the refused rows. Why is for the caller to say.
func (log *Log) refuse(unusable func(*run.Run) bool) {
	kept := log.Runs[:0]
	keptCells := log.Cells[:0]
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

// batch is a few hundred rows on their way to become runs.
type batch struct {
	rows  [][]string // the names of the known columns, then their cells in each row
	flat  []string   // holds those cells
	lines []int      // of the rows
	raw   [][]string // the whole rows, if they are kept
	mark  byte       // the decimal mark
	done  chan error // gives the outcome once result is filled in
	own   []run.Run  // where runs stand if the log has no room for them
	result
}

func newBatch(l *layout) *batch {
	return &batch{
		rows: append(make([][]string, 0, batchRows+1), l.names),
		flat: make([]string, 0, batchRows*len(l.names)),
		done: make(chan error, 1),
	}
}

func (b *batch) reset() {
	b.rows, b.flat, b.lines, b.raw = b.rows[:1], b.flat[:0], b.lines[:0], nil
	b.result = result{}
}

// place settles where b's runs will stand, and returns the room that is left. The first
// batch that finds too little takes it all away: what it appends to the log may reach there.
func (b *batch) place(room []run.Run) []run.Run {
	n := len(b.lines)
	if n > len(room) {
		b.own = slices.Grow(b.own[:0], n)
		b.runs = b.own
		return nil
	}
	b.runs = room[:0:n]
	return room[n:]
}

// GetCSVRows gives the rows to gocsv.
func (b *batch) GetCSVRows() ([][]string, error) { return b.rows, nil }

// add takes the known columns of a row; those that it lacks are blank.
func (b *batch) add(r row, l *layout, keep bool) {
	start := len(b.flat)
	for _, at := range l.at {
		if at < len(r.cells) {
			b.flat = append(b.flat, r.cells[at])
		} else {
			b.flat = append(b.flat, "")
		}
	}
	b.rows = append(b.rows, b.flat[start:len(b.flat):len(b.flat)])
	b.lines = append(b.lines, r.line)
	if keep {
		b.raw = append(b.raw, slices.Clone(r.cells))
	}
}

// refuse takes a row that can't be used, whatever its cells say.
func (b *batch) refuse(r row, l *layout, keep bool) {
	at := run.Position{File: l.File, Line: r.line}
	p := run.Problem{Position: at, Value: r.fault.value, What: r.fault.what, Do: r.fault.do}
	if cell := r.fault.cell; cell > 0 && cell <= len(l.header) {
		p.Column = l.header[cell-1]
	}
	b.problems = append(b.problems, p)
	if keep {
		b.refused = append(b.refused, Row{at, slices.Clone(r.cells)})
	}
}

// intake judges rows as rows, and hands them on in batches.
type intake struct {
	*layout
	rows
	own       map[string]match
	keep      bool
	delimiter byte

	seen        int  // data rows
	mark        byte // the decimal mark; 0 as long as no number had one
	otherHeader int  // the line of a second header with other columns, 0 if there is none
}

// read hands on all rows.
func (in *intake) read(take func() *batch, send func(*batch)) error {
	for {
		b := take()
		err := in.fill(b)
		b.mark = in.mark
		if b.mark == 0 {
			b.mark = '.' // no number of b has a mark
		}
		send(b)
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// fill reads rows into b until it is full.
func (in *intake) fill(b *batch) error {
	for len(b.lines)+len(b.problems) < batchRows {
		r, err := in.next()
		if err != nil {
			return err
		}
		if r.fault.none() && (blank(r.cells) || isCommentRow(r.cells)) {
			continue
		}
		if in.repeats(r.cells, in.own) {
			in.otherHeader = 0
			continue
		}
		in.seen++
		if r.fault.none() {
			r.fault = in.judge(r)
		}
		if !r.fault.none() {
			b.refuse(r, in.layout, in.keep)
			continue
		}
		if in.mark == 0 {
			in.mark = in.decimalMark([]row{r})
		}
		b.add(r, in.layout, in.keep)
	}
	return nil
}

// judge returns why a row can't be used as a whole.
func (in *intake) judge(r row) fault {
	if in.otherHeader > 0 {
		return fault{what: fmt.Sprintf("stands below the other header on line %d", in.otherHeader),
			do: "put it into a log of its own"}
	}
	if len(r.cells) > len(in.header) {
		if extra := r.cells[len(in.header):]; !blank(extra) {
			return in.tooLong(r.cells, extra)
		}
	}
	if lacks := in.lacking(len(r.cells)); lacks != "" {
		return fault{what: fmt.Sprintf("has %d cells under %d headers", len(r.cells), len(in.header)),
			do: "fill in " + lacks + " and what comes behind it"}
	}
	if in.date < len(r.cells) && startsWithDigit(r.cells[in.date]) {
		return fault{}
	}
	// Only rows without a date can be something else than a run.
	if known := knownHeaders(r.cells, in.own); known >= 3 {
		in.otherHeader = r.line
		return fault{what: "is a second header with other columns", do: "put it and the rows below it into a log of its own"}
	}
	for _, cell := range r.cells {
		if cell = clean(cell); cell != "" {
			if isSummary(cell) {
				return fault{value: excerpt(cell), what: "is a row of sums, not a run", do: "delete it, or put # in front of it"}
			}
			break
		}
	}
	return fault{}
}

// tooLong explains a row with extra cells.
func (in *intake) tooLong(cells, extra []string) fault {
	f := fault{value: excerpt(strings.Join(extra, " ")),
		what: fmt.Sprintf("is too much: the row has %d cells under %d headers", len(cells), len(in.header)),
		do:   "give the cell a header, or delete it"}
	if sign := delimiters[in.delimiter]; sign != "" {
		f.value = excerpt(strings.Join(extra, string(in.delimiter)))
		f.do = "put quotes around a cell that holds a " + sign
	}
	return f
}

// lacking returns the first needed column that a row of a few cells does not
// reach, "" if it reaches all.
func (in *intake) lacking(cells int) string {
	if cells >= len(in.header) {
		return ""
	}
	for _, group := range needed {
		column := in.byQuantity[group[0]]
		if at := slices.Index(in.columns, column); len(group) == 1 && at >= cells {
			return run.Printable(column.Header)
		}
	}
	return ""
}

// isCommentRow reports whether a row is a comment that a spreadsheet has filled
// up with blank cells.
func isCommentRow(cells []string) bool {
	return strings.HasPrefix(cells[0], "#") && blank(cells[1:]) && !startsSpreadsheetError(cells[0])
}

// blank reports whether all cells are.
func blank(cells []string) bool {
	for _, cell := range cells {
		if trim(cell) != "" {
			return false
		}
	}
	return true
}
