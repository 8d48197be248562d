package web

import (
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"html/template"
	"io"
	"maps"
	"mime/multipart"
	"net/http"
	"path"
	"slices"
	"strings"
	"unicode"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/report"
)

type importPage struct {
	Answer   template.HTML
	Problems []string
	Rejects  []link
	Deciding
	Sheets   bool     // workbooks can be read here
	Sure     bool     // what looks implausible is meant
	Warnings []string // what to ask about before anything is imported
	AskHeat  bool     // whether heat ended the runs of the warnings
	Heat     string   // yes or no, once it was asked
	Done     bool     // all that could be imported is
	Undo     *undoForm
	ShowForm bool

	Held, HeldNames string // files that need not be sent again
	Mark            string // the state of the book that the conflicts were found in
	Headers
	Named                      field // the car that the driver names
	Order, Units               string
	AskCar, AskOrder, AskUnits bool    // the file can't be read without the answer
	Lacks                      []field // values that the file lacks, of which one may do for all its runs
	Constants, Sheet           string
	ShowMore                   bool // what need not be asked holds an answer
	Remembered                 []remembered
}

// remembered is what is remembered of a driver's files, in words and as it is forgotten.
type remembered struct{ Words, What string }

// lacksPrefix begins the names of the fields for what a file lacks, before the column.
const lacksPrefix = "lacks:"

func importForm(r *request) (reply, error) {
	i := newImporting(r)
	i.ShowForm = true
	return i.page(), nil
}

type importing struct {
	*request
	importPage
	files  []Upload // nil until they are there
	opts   app.ImportOptions
	decide decider
	look   bool // tell what would be done, and write nothing
}

func newImporting(r *request) *importing {
	form := r.PostForm
	i := &importing{request: r, look: form.Get("do") == "look", decide: deciderOf(form)}
	i.Sheets = r.Workbook != nil
	i.Sure, i.Heat = form.Get("sure") != "", form.Get("heat")
	i.Named = field{ID: "car", Name: "car", Label: "The car, if the file names none", Value: form.Get("car"), Whole: true}
	i.Order, i.Units = cmp.Or(form.Get("order"), runlog.OrderOfLog.String()), form.Get("units")
	i.Sheet, i.Constants = strings.TrimSpace(form.Get("sheet")), form.Get("constants")
	for _, name := range slices.Sorted(maps.Keys(form)) {
		if column, isLack := strings.CutPrefix(name, lacksPrefix); isLack && strings.TrimSpace(form.Get(name)) != "" {
			i.Constants = strings.TrimSpace(i.Constants + "\n" + column + "=" + strings.TrimSpace(form.Get(name)))
		}
	}
	i.Headers = sentHeaders(form)
	return i
}

func importLogs(r *request) (reply, error) {
	switch err := r.ParseMultipartForm(mostUpload); {
	case errors.Is(err, http.ErrNotMultipart):
		return nil, unreadable(err)
	case err != nil:
		return nil, brokenUpload(err)
	}
	r.site.importing.Lock()
	defer r.site.importing.Unlock()
	i := newImporting(r)
	if what := r.PostForm.Get("forget"); what != "" {
		if err := r.Book.Forget(what); err != nil {
			return nil, err
		}
		if r.PostForm.Get("held") == "" {
			return redirect(importPath), nil
		}
		i.look = true // at the file as it is read without
	}
	if err := i.carryOut(); err != nil {
		// The form is shown again. Files that arrived stay.
		i.Problems, i.ShowForm = reasons(err), true
		if header := new(runlog.HeaderError); errors.As(err, &header) {
			i.Problems = i.askAbout(header)
		}
	}
	return i.page(), nil
}

func brokenUpload(err error) error {
	if isTooLarge(err) {
		return err
	}
	return &problem{http.StatusBadRequest, "The upload broke off", errors.New("the files did not arrive whole, and nothing was imported: try again"), &link{importPath, "Try again"}}
}

func (i *importing) carryOut() error {
	if err := i.findFiles(); err != nil {
		return err
	}
	if err := i.readForm(); err != nil {
		i.ShowMore = true
		return err
	}
	logs, err := i.read()
	if err != nil {
		return err
	}
	if i.warn(logs); len(i.Warnings) > 0 {
		return nil
	}
	if err := i.merge(logs); err != nil {
		return err
	}
	if logs.Changed && !i.look && len(logs.Conflicts) == 0 {
		i.Undo = i.undoOf(logs.Mark)
	}
	outcome := report.Import{Import: logs, AskBeside: true}
	i.keepRejects(&outcome)
	i.Answer = report.Imported(&outcome).HTML()
	switch {
	case len(logs.Conflicts) > 0:
		i.askAboutConflicts(logs.Conflicts)
	case i.look:
		i.ShowForm = true
	case !logs.AnyRun():
		return errors.New("no usable run: nothing was imported")
	default:
		i.Done = true
		// What was refused or not read may be read otherwise, without choosing the file again.
		i.ShowForm = len(i.Rejects) > 0 || len(i.Open()) > 0
	}
	return nil
}

func (i *importing) findFiles() (err error) {
	if held := i.PostForm.Get("held"); held != "" {
		if i.files = i.site.Uploads.Get(held); i.files == nil {
			return errors.New("the file is no longer held here: choose it again. What you answered still stands below")
		}
		i.Held = held
		return nil
	}
	i.files, err = readUploads(i.MultipartForm.File["files"])
	if err == nil && len(i.files) == 0 {
		err = errors.New("choose a file first")
	}
	if err != nil {
		return err
	}
	i.Held = i.site.Random()
	i.site.Uploads.Keep(i.Held, i.files)
	return nil
}

func (i *importing) readForm() (err error) {
	if i.opts.DateOrder, err = runlog.ParseDateOrder(i.Order); err != nil {
		return err
	}
	i.opts.Car, i.opts.Sheet, i.opts.HeatStops = i.Named.Value, i.Sheet, i.Heat == "yes"
	if i.Units != "" {
		system, err := units.ParseSystem(i.Units)
		if err != nil {
			return err
		}
		i.opts.FileUnits = &system
	}
	if i.opts.Columns, err = i.said(); err != nil {
		return err
	}
	for line := range strings.Lines(i.Constants) {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		c, err := runlog.ParseConstant(line)
		if err != nil {
			return fmt.Errorf("what the file lacks: %q: %w", line, err)
		}
		i.opts.Constants = append(i.opts.Constants, c)
	}
	return nil
}

// askAbout asks for what would read a file, and says what is wrong with its header.
func (i *importing) askAbout(header *runlog.HeaderError) []string {
	i.ask(app.HeadersOf(header), header.Try)
	if len(i.Open()) == 0 {
		i.openUnread()
	}
	problems := []string{header.Position.String() + ": this header line can't be read yet."}
	for _, column := range header.Lacking {
		problems = append(problems, "No column tells "+groupWords[column]+".")
	}
	unitless := slices.Sorted(maps.Keys(header.Unitless))
	if i.AskUnits = len(unitless) > 0; i.AskUnits {
		problems = append(problems, fmt.Sprintf("Nothing tells the unit of “%s”.", strings.Join(unitless, "”, “")))
	}
	for _, other := range header.Others {
		if !slices.Contains(slices.Collect(maps.Values(header.Unitless)), other) {
			problems = append(problems, capital(other)+".")
		}
	}
	try := header.Try
	if try == nil {
		return append(problems, "Say below what the headers are, or rename them in the file.")
	}
	i.AskOrder = try.DateOrder != runlog.OrderOfLog
	if try.FileUnits != nil {
		i.Units = try.FileUnits.String()
	}
	if i.AskOrder {
		i.Order = try.DateOrder.String()
	}
	for _, c := range try.Constants {
		words := wordsOf(c.Column)
		i.Lacks = append(i.Lacks, field{ID: "lacks-" + c.Column, Name: lacksPrefix + c.Column, Label: capital(words) + ", in all runs",
			Keys: decimals, Hint: "as in " + c.Value, Whole: true})
	}
	problems = append(problems, "The form below holds what would read it"+report.IfTrue(try)+".")
	if len(i.Lacks) > 0 {
		return append(problems, "Check that, give what the file lacks, and import again.")
	}
	return append(problems, "Check that, and import again.")
}

// warn asks about what should not be imported unasked, until the form says that it is meant.
func (i *importing) warn(logs *app.Import) {
	if i.look || i.Sure {
		return
	}
	if cells := logs.HeatStops(); len(cells) > 0 && i.Heat == "" {
		i.AskHeat, i.Warnings = true, report.Doubts(cells)
		return
	}
	i.Warnings = report.Doubts(logs.ToAsk())
}

// mostLines is how many lines an upload may have, a book of many seasons. The reason why a
// row is refused takes many times the memory of a short row.
const mostLines = 200_000

// readUploads reads what was sent. A form without a file sends one without a name.
func readUploads(sent []*multipart.FileHeader) (files []Upload, err error) {
	lines := 0
	for _, s := range sent {
		if s.Filename == "" {
			continue
		}
		opened, err := s.Open()
		if err != nil {
			return nil, brokenUpload(err)
		}
		data, err := io.ReadAll(opened)
		opened.Close()
		if err != nil {
			return nil, brokenUpload(err)
		}
		lines += max(bytes.Count(data, []byte{'\n'}), bytes.Count(data, []byte{'\r'}))
		files = append(files, Upload{ownName(shownName(s.Filename), files), data})
	}
	if lines > mostLines {
		return nil, fmt.Errorf("more than %d lines are more than this page takes: use regear import on the computer", mostLines)
	}
	return files, nil
}

// ownName tells a file from others of its name, which a phone gives several at times.
func ownName(name string, others []Upload) string {
	own := name
	for n := 2; slices.ContainsFunc(others, func(other Upload) bool { return other.Name == own }); n++ {
		own = fmt.Sprintf("%d-%s", n, name)
	}
	return own
}

// shownName returns a file's name as it may stand in messages.
func shownName(name string) string {
	name = path.Base(strings.ReplaceAll(name, `\`, "/"))
	name = strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, name)
	const longest = 80
	if runes := []rune(name); len(runes) > longest {
		name = string(runes[:longest])
	}
	return name
}

func (i *importing) read() (*app.Import, error) {
	var files []app.File
	for _, f := range i.files {
		files = append(files, app.File{Name: f.Name, Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(f.Data)), nil }})
	}
	logs, err := i.ReadImport(files, i.opts)
	if logs != nil {
		i.ask(logs.Headers, nil)
		i.askMore(logs)
		logs.Word(byFields)
	}
	if problem := new(run.Problem); errors.As(err, problem) && problem.Remedy.Kind == run.NameCar {
		i.AskCar, i.Named.Error = true, "the file names no car: which one is it?"
		i.open(problem.Remedy)
		return nil, problem.Worded(byFields)
	}
	return logs, err
}

// askMore asks for what would read more of a file that is read.
func (i *importing) askMore(logs *app.Import) {
	for _, l := range logs.Logs {
		for _, p := range slices.Concat(l.Problems, l.Warnings, l.Lost, l.Notices) {
			i.AskOrder = i.AskOrder || p.Remedy.Kind == run.ChooseDateOrder
			i.open(p.Remedy)
		}
	}
}

// byFields words a remedy for the page of imports, which has a field for it; "" where it has
// none.
func byFields(r run.Remedy) string {
	switch r.Kind {
	case run.ChooseDateOrder:
		return "say which under “Dates such as 03/04/2026”"
	case run.MapColumn:
		return fmt.Sprintf("if it is “%s”, say so beside the header, or rename it", wordsOf(r.Column))
	case run.GiveConstant:
		return fmt.Sprintf("fill it in, or write one value for all blank cells under “What the file lacks”, as in %s=…", r.Column)
	case run.NameCar:
		if r.Header != "" {
			return fmt.Sprintf("say so beside the header “%s” if it does", r.Header)
		}
	}
	return ""
}

// merge merges the logs into the book. A decision counts only for the book that the
// reader saw.
func (i *importing) merge(logs *app.Import) (err error) {
	switch {
	case i.look:
		err = logs.Preview(i.decide)
	case i.decide.isNone():
		err = logs.Add(logbook.Undecided)
	default:
		err = logs.AddTo(i.PostForm.Get("mark"), i.decide)
		if errors.Is(err, logbook.ErrStale) {
			i.Problems = []string{"The log book has changed since this page was made, so nothing was decided: look at the conflicts as they are now."}
			err = logs.Preview(logbook.Undecided)
			i.look = true
		}
	}
	i.Mark = logs.Mark
	return err
}

// refusedAt is the id under which the refused rows of an upload are kept.
func refusedAt(id string) string { return id + "-refused" }

func (i *importing) keepRejects(to *report.Import) {
	var kept []Upload
	for _, rows := range to.Import.Rejects("refused.csv") {
		var text bytes.Buffer
		_ = rows.Write(&text) // a buffer does not fail
		kept = append(kept, Upload{rows.Name, text.Bytes()})
		i.Rejects = append(i.Rejects, link{importPath + "/" + i.Held + "/" + rows.Name, "Download " + rows.Name})
		to.RejectFiles = append(to.RejectFiles, rows.Name)
	}
	if len(kept) > 0 {
		i.site.Uploads.Keep(refusedAt(i.Held), kept)
	}
}

func rejects(r *request) (reply, error) {
	for _, f := range r.site.Uploads.Get(refusedAt(r.PathValue("id"))) {
		if f.Name == r.PathValue("file") {
			return file{name: f.Name, kind: csvKind, data: f.Data}, nil
		}
	}
	return nil, &problem{http.StatusNotFound, "No longer here", errors.New("the refused rows are no longer held here: import the file again"), &link{importPath, "Import"}}
}

func (i *importing) page() *page {
	if known, err := i.Book.Remembered(); err == nil && i.ShowForm { // what can't be read was told when the logs were read
		for _, header := range slices.Sorted(maps.Keys(known.Columns)) {
			column := known.Columns[header]
			i.Remembered = append(i.Remembered, remembered{fmt.Sprintf("“%s” is %s", header, cmp.Or(wordsOf(column), nothing)), header + "=" + column})
		}
		for _, c := range known.Constants {
			one := remembered{fmt.Sprintf("%s: %s, where a file with the same headers lacks it", capital(wordsOf(c.Column)), c.Value), c.Constant.String()}
			if !slices.Contains(i.Remembered, one) {
				i.Remembered = append(i.Remembered, one)
			}
		}
	}
	var names []string
	for _, f := range i.files {
		names = append(names, f.Name)
	}
	i.HeldNames = strings.Join(names, ", ")
	if i.files == nil {
		i.Held = ""
	}
	i.ShowMore = i.ShowMore || i.files == nil && len(i.All) > 0
	return &page{status: formStatus(len(i.Problems) == 0), title: "Import logs", template: "import.html", body: i.importPage}
}
