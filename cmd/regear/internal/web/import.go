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
	Decide   bool     // runs are in conflict, and the reader is to decide
	Sure     bool     // what looks implausible is meant
	Warnings []string // what to ask about before anything is imported
	AskHeat  bool     // whether heat ended the runs of the warnings
	Heat     string   // yes or no, once it was asked
	Done     bool     // all that could be imported is
	Undo     *undoForm
	ShowForm bool

	Held, HeldNames string // files that need not be sent again
	Mark            string // the state of the book that the conflicts were found in
	Named           field  // the car that the driver names
	Order, Columns  string // how to read dates and headers
	Units, Sheet    string
	Constants       string
	Remembered      []string // as they are forgotten
}

// upload is one import's files. The latest ones stay in memory: a conflict is decided, or a
// missing name given, without sending the file again, and refused rows wait to be downloaded.
type upload struct {
	id             string
	files, rejects []file // the name of an uploaded one is what the browser called it, and only ever shown
}

// What is held of uploads at most.
const (
	mostUploads = 16
	mostHeld    = 2 * mostUpload // bytes
)

func fitsMemory(all []*upload) bool {
	size := 0
	for _, u := range all {
		for _, f := range slices.Concat(u.files, u.rejects) {
			size += len(f.data)
		}
	}
	return len(all) <= mostUploads && size <= mostHeld
}

func importForm(r *request) (reply, error) {
	i := newImporting(r)
	i.ShowForm = true
	return i.page(), nil
}

type importing struct {
	*request
	importPage
	upload *upload // nil until the files are there
	opts   app.ImportOptions
	decide logbook.Decision
	look   bool // tell what would be done, and write nothing
}

func newImporting(r *request) *importing {
	i := &importing{request: r, look: r.PostForm.Get("do") == "look"}
	i.Sure = r.PostForm.Get("sure") != ""
	i.Named = field{ID: "car", Name: "car", Label: "The car, if the file names none", Value: r.PostForm.Get("car"), Whole: true}
	i.Columns = r.PostForm.Get("columns")
	i.Order = cmp.Or(r.PostForm.Get("order"), runlog.OrderOfLog.String())
	i.Units, i.Sheet, i.Constants, i.Heat = r.PostForm.Get("units"), strings.TrimSpace(r.PostForm.Get("sheet")), r.PostForm.Get("constants"), r.PostForm.Get("heat")
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
	if what := r.PostForm.Get("forget"); what != "" {
		if err := r.Book.Forget(what); err != nil {
			return nil, err
		}
		return redirect(importPath), nil
	}
	i := newImporting(r)
	if err := i.carryOut(); err != nil {
		// The form is shown again. Files that arrived stay.
		i.Problems, i.ShowForm = reasons(err), true
		if header := new(runlog.HeaderError); errors.As(err, &header) {
			i.Problems = strings.Split(header.Worded(i.fillIn), "\n")
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
	outcome := report.Import{Import: logs}
	i.keepRejects(&outcome)
	i.Answer = report.Imported(&outcome).HTML()
	switch {
	case len(logs.Conflicts) > 0:
		i.Decide = true
	case i.look:
		i.ShowForm = true
	case !logs.AnyRun():
		return errors.New("no usable run: nothing was imported")
	default:
		i.Done = true
		// What was refused may be read otherwise, without choosing the file again.
		i.ShowForm = len(i.Rejects) > 0
	}
	return nil
}

func (i *importing) findFiles() error {
	if held := i.PostForm.Get("held"); held != "" {
		if i.upload, _ = i.site.uploads.get(held); i.upload == nil {
			return errors.New("the file is no longer held here: choose it again")
		}
		return nil
	}
	files, err := readUploads(i.MultipartForm.File["files"])
	if err == nil && len(files) == 0 {
		err = errors.New("choose a file first")
	}
	if err != nil {
		return err
	}
	i.upload = &upload{id: i.site.Random(), files: files}
	i.site.uploads.keep(i.upload.id, i.upload, fitsMemory)
	return nil
}

func (i *importing) readForm() (err error) {
	i.decide = map[string]logbook.Decision{"replace": logbook.Replace, "keep-both": logbook.KeepBoth}[i.PostForm.Get("decide")]
	if i.opts.DateOrder, err = runlog.ParseDateOrder(i.Order); err != nil {
		return err
	}
	i.opts.Car, i.opts.Columns = i.Named.Value, map[string]string{}
	i.opts.Sheet, i.opts.HeatStops = i.Sheet, i.Heat == "yes"
	if i.Units != "" {
		system, err := units.ParseSystem(i.Units)
		if err != nil {
			return err
		}
		i.opts.FileUnits = &system
	}
	for line := range strings.Lines(i.Columns) {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		header, column, err := runlog.ParseColumn(line)
		if err != nil {
			return fmt.Errorf("your headers: %q: %w", line, err)
		}
		i.opts.Columns[header] = column
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

// fillIn fills the form in with what would read the file, and says what to check. Values that the
// file lacks are for the driver to give.
func (i *importing) fillIn(try *runlog.Options) string {
	if try == nil {
		return "rename the columns in the log"
	}
	for _, header := range slices.Sorted(maps.Keys(try.Columns)) {
		i.Columns = strings.TrimLeft(strings.TrimSpace(i.Columns)+"\n"+header+"="+try.Columns[header], "\n")
	}
	if try.FileUnits != nil {
		i.Units = try.FileUnits.String()
	}
	if try.DateOrder != runlog.OrderOfLog {
		i.Order = try.DateOrder.String()
	}
	do := "the form below is filled in: import again" + report.IfTrue(try)
	if len(try.Constants) == 0 {
		return do
	}
	var examples []string
	for _, c := range try.Constants {
		examples = append(examples, c.String())
	}
	return "write under “What the file lacks” what it is, such as " + strings.Join(examples, ", ") + "; " + do
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
func readUploads(sent []*multipart.FileHeader) (files []file, err error) {
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
		files = append(files, file{name: shownName(s.Filename), data: data})
	}
	if lines > mostLines {
		return nil, fmt.Errorf("more than %d lines are more than this page takes: use regear import on the computer", mostLines)
	}
	return files, nil
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
	for _, f := range i.upload.files {
		files = append(files, app.File{Name: f.name, Open: func() (io.ReadCloser, error) { return io.NopCloser(bytes.NewReader(f.data)), nil }})
	}
	logs, err := i.ReadImport(files, i.opts)
	if problem := new(run.Problem); errors.As(err, problem) && problem.Remedy.Kind == run.NameCar {
		i.Named.Error = "the file names no car: which one is it?"
		return nil, problem.Worded(byFields)
	}
	if err == nil {
		logs.Word(byFields)
	}
	return logs, err
}

// byFields words a remedy for the page of imports, which has a field for it; "" where it has
// none.
func byFields(r run.Remedy) string {
	switch r.Kind {
	case run.ChooseDateOrder:
		return "say which under “Dates such as 03/04/2026”"
	case run.MapColumn:
		return fmt.Sprintf("if it is %s, rename it or write under “Headers of your own” %s", r.Column, report.Mapping(r))
	case run.GiveConstant:
		return fmt.Sprintf("fill it in, or write one value for all blank cells under “What the file lacks”, as in %s=…", r.Column)
	case run.NameCar:
		if r.Header != "" {
			return fmt.Sprintf("write under “Headers of your own” %s if so", report.Mapping(run.Remedy{Header: r.Header, Column: "car"}))
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
	case i.decide == logbook.Undecided:
		err = logs.Add(i.decide)
	default:
		err = logs.AddTo(i.PostForm.Get("mark"), i.decide)
		if errors.Is(err, logbook.ErrStale) {
			err = errors.New("the log book has changed since this page was made, so nothing was decided: import again and look at the conflicts as they are now")
		}
	}
	i.Mark = logs.Mark
	return err
}

func (i *importing) keepRejects(to *report.Import) {
	kept := &upload{id: i.upload.id, files: i.upload.files}
	for _, rows := range to.Import.Rejects("refused.csv") {
		var text bytes.Buffer
		_ = rows.Write(&text) // a buffer does not fail
		kept.rejects = append(kept.rejects, file{name: rows.Name, kind: csvKind, data: text.Bytes()})
		i.Rejects = append(i.Rejects, link{importPath + "/" + kept.id + "/" + rows.Name, "Download " + rows.Name})
		to.RejectFiles = append(to.RejectFiles, rows.Name)
	}
	i.site.uploads.keep(kept.id, kept, fitsMemory)
	i.upload = kept
}

func rejects(r *request) (reply, error) {
	if u, held := r.site.uploads.get(r.PathValue("id")); held {
		for _, f := range u.rejects {
			if f.name == r.PathValue("file") {
				return f, nil
			}
		}
	}
	return nil, &problem{http.StatusNotFound, "No longer here", errors.New("the refused rows are no longer held here: import the file again"), &link{importPath, "Import"}}
}

func (i *importing) page() *page {
	if remembered, err := i.Book.Remembered(); err == nil && i.ShowForm { // what can't be read was told when the logs were read
		for _, header := range slices.Sorted(maps.Keys(remembered.Columns)) {
			i.Remembered = append(i.Remembered, header+"="+remembered.Columns[header])
		}
		for _, c := range remembered.Constants {
			i.Remembered = append(i.Remembered, c.Constant.String())
		}
		slices.Sort(i.Remembered)
		i.Remembered = slices.Compact(i.Remembered)
	}
	if i.upload != nil {
		i.Held = i.upload.id
		var names []string
		for _, f := range i.upload.files {
			names = append(names, f.name)
		}
		i.HeldNames = strings.Join(names, ", ")
	}
	return &page{status: formStatus(len(i.Problems) == 0), title: "Import logs", template: "import.html", body: i.importPage}
}
