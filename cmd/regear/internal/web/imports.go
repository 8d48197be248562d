package web

import (
	"bytes"
	"errors"
	"fmt"
	"html/template"
	"io"
	"mime/multipart"
	"net/http"
	"path"
	"slices"
	"strings"
	"unicode"

	"regear/analyze/logbook"
	"regear/analyze/run"
	"regear/analyze/runlog"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/report"
)

// importPage is the form to import logs, and what became of an import.
type importPage struct {
	Answer   template.HTML
	Wrong    []string
	Rejects  []link
	Decide   bool     // runs are in conflict, and the reader is to decide
	Sure     bool     // what is doubtful is meant
	Doubts   []string // what to ask about before anything is imported
	Next     *link
	ShowForm bool

	Held, HeldNames string // files that need not be sent again
	Mark            string // the state of the book that the conflicts were found in
	Fields          []field
	Orders          []option
	Car             string
	Order, Columns  string
}

type option struct {
	Value, Words string
	Chosen       bool
}

func importForm(*visit) (reply, error) {
	i := &importing{}
	i.ShowForm = true
	return i.view(), nil
}

// importing is an import while it is carried out.
type importing struct {
	*visit
	importPage
	upload   *upload
	opts     app.ImportOptions
	decide   logbook.Decision
	look     bool // tell what would be done, and write nothing
	carWrong string
}

func importLogs(v *visit) (reply, error) {
	switch err := v.ParseMultipartForm(mostUpload); {
	case errors.Is(err, http.ErrNotMultipart):
		return nil, unreadable(err)
	case err != nil:
		return nil, unreadableUpload(err)
	}
	i := &importing{visit: v}
	i.Sure = v.PostForm.Get("sure") != ""
	i.Car, i.Order, i.Columns = v.PostForm.Get("car"), v.PostForm.Get("order"), v.PostForm.Get("columns")
	v.site.importing.Lock()
	defer v.site.importing.Unlock()
	if err := i.carryOut(); err != nil {
		i.fail(err)
	}
	return i.view(), nil
}

// unreadableUpload tells an upload that is too large from one that broke off.
func unreadableUpload(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return err
	}
	return &problem{http.StatusBadRequest, "The upload broke off", errors.New("the files did not arrive whole, and nothing was imported: try again"), &link{importPath, "Try again"}}
}

// fail shows the form again with what went wrong. Files that arrived stay.
func (i *importing) fail(err error) {
	i.Wrong = append(i.Wrong, i.site.reasons(err)...)
	var header *runlog.HeaderError
	if errors.As(err, &header) {
		i.Wrong = strings.Split(header.Worded(byFields), "\n")
	}
	i.ShowForm = true
}

// carryOut reads the files and merges them into the book.
func (i *importing) carryOut() error {
	if err := i.settle(); err != nil {
		return err
	}
	logs, err := i.read()
	if err != nil {
		return err
	}
	if i.doubt(logs.ToAsk()); len(i.Doubts) > 0 {
		return nil
	}
	if err := i.merge(logs); err != nil {
		return err
	}
	hideBook(logs)
	outcome := report.Import{Import: logs}
	i.keepRejects(&outcome)
	i.Answer = report.Imported(&outcome).HTML()
	switch {
	case len(logs.Conflicts) > 0:
		i.Decide = true
	case i.look:
		i.ShowForm = true
	default:
		// What was refused may be read otherwise, without choosing the file again.
		i.ShowForm = len(i.Rejects) > 0
		return i.done(logs)
	}
	return nil
}

// doubt asks about what should not be imported unasked, until the form says that it is
// meant.
func (i *importing) doubt(problems []run.Problem) {
	if i.look || i.Sure {
		return
	}
	for _, p := range problems {
		i.Doubts = append(i.Doubts, p.String())
	}
	const most = 20
	if more := len(i.Doubts) - most; more > 0 {
		i.Doubts = append(i.Doubts[:most], fmt.Sprintf("and %d more", more))
	}
}

// done is what is left once all that could be imported is.
func (i *importing) done(logs *app.Import) error {
	if !logs.AnyRun() {
		return errors.New("no usable run: nothing was imported")
	}
	i.Next = &link{"/", "To the advice"}
	return nil
}

// settle finds out what is to be imported, and how.
func (i *importing) settle() error {
	i.upload = i.site.held.get(i.PostForm.Get("held"))
	if i.upload == nil {
		if i.PostForm.Get("held") != "" {
			return errors.New("the file is no longer held here: choose it again")
		}
		files, err := readUploads(i.MultipartForm.File["files"])
		if err != nil {
			return unreadableUpload(err)
		}
		if len(files) == 0 {
			return errors.New("choose a file first")
		}
		i.upload = &upload{id: i.site.Random(), files: files}
		if err := i.upload.check(); err != nil {
			i.upload = nil
			return err
		}
		i.site.held.keep(i.upload)
	}
	i.look = i.PostForm.Get("do") == "look"
	switch i.PostForm.Get("decide") {
	case "replace":
		i.decide = logbook.Replace
	case "keep-both":
		i.decide = logbook.KeepBoth
	}
	return i.settleReading()
}

// settleReading finds out how the files are to be read.
func (i *importing) settleReading() error {
	order, err := runlog.ParseDateOrder(orOfLog(i.Order))
	if err != nil {
		return err
	}
	i.opts = app.ImportOptions{DateOrder: order, Columns: map[string]string{}, Car: i.Car}
	for line := range strings.Lines(i.Columns) {
		if line = strings.TrimSpace(line); line == "" {
			continue
		}
		header, column, err := runlog.ParseColumn(line)
		if err != nil {
			return fmt.Errorf("headers of your own: %q: %w", line, err)
		}
		i.opts.Columns[header] = column
	}
	return nil
}

func orOfLog(order string) string {
	if order == "" {
		return runlog.OrderOfLog.String()
	}
	return order
}

// readUploads reads what was sent. A form without a file sends one without a name.
func readUploads(sent []*multipart.FileHeader) ([]uploaded, error) {
	var files []uploaded
	for _, s := range sent {
		if s.Filename == "" {
			continue
		}
		file, err := s.Open()
		if err != nil {
			return nil, err
		}
		data, err := io.ReadAll(file)
		file.Close()
		if err != nil {
			return nil, err
		}
		files = append(files, uploaded{shownName(s.Filename), data})
	}
	return files, nil
}

// mostLines is how many lines an upload may have, a book of many seasons. The reason why a
// row is refused takes many times the room of a short row.
const mostLines = 200_000

// check refuses what would take more memory than a page is worth.
func (u *upload) check() error {
	lines := 0
	for _, f := range u.files {
		lines += max(bytes.Count(f.data, []byte{'\n'}), bytes.Count(f.data, []byte{'\r'}))
	}
	if lines > mostLines {
		return fmt.Errorf("more than %d lines are more than this page takes: use regear import on the computer", mostLines)
	}
	return nil
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

// read reads every file, and fails if one can't be read as a whole.
func (i *importing) read() (*app.Import, error) {
	var files []app.File
	for _, f := range i.upload.files {
		files = append(files, app.File{Name: f.name, Open: func() (io.ReadCloser, error) { return openUpload{bytes.NewReader(f.data)}, nil }})
	}
	logs, err := i.app().ReadImport(files, i.opts)
	if errors.As(err, new(app.NoCarError)) {
		i.carWrong = "the file names no car: which one is it?"
	}
	if err != nil {
		return nil, err
	}
	logs.Word(byFields)
	return logs, nil
}

// openUpload is an uploaded file that is read.
type openUpload struct{ *bytes.Reader }

func (openUpload) Close() error { return nil }

// byFields words a remedy for the page of imports, which has a field for it; "" where it has
// none.
func byFields(r run.Remedy) string {
	switch r.Kind {
	case run.ChooseDateOrder:
		return "say which under “Dates such as 03/04/2026”"
	case run.MapColumn:
		return fmt.Sprintf("if it is %s, rename it or write under “Headers of your own” %s", r.Column, report.Mapping(r))
	case run.MapColumns:
		return "rename the columns in the log, or map them under “Headers of your own”, such as " + report.Mapping(r)
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

// hideBook puts the places of the runs that the book has into shownBook.
func hideBook(logs *app.Import) {
	for i := range logs.Conflicts {
		kept := &logs.Conflicts[i].Kept
		if !slices.ContainsFunc(logs.Logs, func(l app.ImportedLog) bool { return l.Name == kept.File }) {
			run := *kept.Run // others may share it
			run.File = shownBook
			kept.Run = &run
		}
	}
}

// keepRejects holds the refused rows until they are downloaded.
func (i *importing) keepRejects(to *report.Import) {
	kept := &upload{id: i.upload.id, files: i.upload.files}
	for _, rows := range to.Import.Rejects("refused.csv") {
		var text bytes.Buffer
		_ = rows.Write(&text) // a buffer does not fail
		kept.rejects = append(kept.rejects, rejectFile{rows.Name, text.Bytes()})
		i.Rejects = append(i.Rejects, link{importPath + "/" + kept.id + "/" + rows.Name, "Download " + rows.Name})
		to.RejectFiles = append(to.RejectFiles, rows.Name)
	}
	i.site.held.keep(kept)
	i.upload = kept
}

// rejects serves refused rows.
func rejects(v *visit) (reply, error) {
	if u := v.site.held.get(v.PathValue("id")); u != nil {
		for _, f := range u.rejects {
			if f.name == v.PathValue("file") {
				return download{f.name, "text/csv; charset=utf-8", f.data}, nil
			}
		}
	}
	return nil, &problem{http.StatusNotFound, "No longer here", errors.New("the refused rows are no longer held here: import the file again"), &link{importPath, "Import"}}
}

func (i *importing) view() *view {
	if i.upload != nil {
		i.Held = i.upload.id
		var names []string
		for _, f := range i.upload.files {
			names = append(names, f.name)
		}
		i.HeldNames = strings.Join(names, ", ")
	}
	i.Fields = []field{{ID: "car", Name: "car", Label: "The car, if the file names none", Value: i.Car, Error: i.carWrong, Whole: true}}
	for _, o := range []struct {
		order runlog.DateOrder
		words string
	}{{runlog.OrderOfLog, "are as the file's other dates show"}, {runlog.DayFirst, "are the 3rd of April"}, {runlog.MonthFirst, "are March the 4th"}} {
		i.Orders = append(i.Orders, option{o.order.String(), o.words, o.order.String() == orOfLog(i.Order)})
	}
	status := 0
	if len(i.Wrong) > 0 {
		status = http.StatusUnprocessableEntity
	}
	return &view{status: status, title: "Import logs", template: "import.html", body: i.importPage}
}
