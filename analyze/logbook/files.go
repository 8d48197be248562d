package logbook

import (
	"bufio"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"time"

	"regear/analyze/logbook/wholefile"
)

// files are the store of a book that is a file. Its history is a folder beside it, as is
// columns.txt. Where the path is a link, all of it is beside the file that the link leads to.
type files struct {
	path     string
	name     string // in messages: see [Book]
	carFile  string // "" for none
	patience time.Duration
}

const lockPatience = 5 * time.Second

// errLocked reports that another program of this kind holds the book.
var errLocked = errors.New("another program is adding to the log book: wait until it has ended, then try again")

func (f files) String() string { return cmp.Or(f.name, f.path) }

// real returns the path of the file itself, where the book's is a link to it.
func (f files) real() (string, error) { return wholefile.Follow(f.path, f.String()) }

// at returns where a text lies beside the book's file, "" for one that is not kept.
func (f files) at(real, name string) string {
	inHistory, ok := strings.CutPrefix(name, historyName)
	switch {
	case ok:
		return filepath.Join(real+".history", inHistory)
	case name == bookName:
		return f.path
	case name == keysName:
		return real + ".keys"
	case name == CarsName:
		return f.carFile
	}
	return filepath.Join(filepath.Dir(real), name)
}

// Place returns the path of a text.
func (f files) Place(name string) string {
	real, err := f.real()
	if err != nil {
		real = f.path // reading it says what is the matter
	}
	return f.at(real, name)
}

// called returns what messages call a text.
func (f files) called(name string) string {
	switch {
	case name == bookName:
		return f.String()
	case strings.HasPrefix(name, historyName):
		return f.String() + ": its history"
	case f.name == "":
		return f.Place(name)
	}
	return name
}

// Read reads a file. Its errors call the file as messages do.
func (f files) Read(name string) ([]byte, error) {
	path := f.Place(name)
	if path == "" {
		return nil, nil
	}
	text, err := os.ReadFile(path)
	if errors.Is(err, fs.ErrNotExist) {
		return nil, nil
	}
	if wrong := new(fs.PathError); errors.As(err, &wrong) {
		err = &fs.PathError{Op: wrong.Op, Path: f.called(name), Err: wrong.Err}
	}
	return text, err
}

// History reads the first lines of the history's files. Those that have none are passed over.
func (f files) History() ([]Head, error) {
	real, err := f.real()
	if err != nil {
		return nil, err
	}
	folder := f.at(real, historyName)
	entries, err := os.ReadDir(folder) // in the order of names
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, fmt.Errorf("%s: its history can't be read: %w", f, err)
	}
	var all []Head
	for _, e := range entries {
		if filepath.Ext(e.Name()) != ".csv" {
			continue
		}
		head := Head{Name: historyName + e.Name()}
		if head.read(filepath.Join(folder, e.Name())) == nil {
			all = append(all, head)
		}
	}
	return all, nil
}

func (h *Head) read(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	info, err := file.Stat()
	if err != nil {
		return err
	}
	h.Size = info.Size()
	line, err := bufio.NewReader(file).ReadString('\n')
	h.Line = strings.TrimSuffix(line, "\n")
	return err
}

// Alone holds the lock beside the book. An error of a file that changed nothing says so.
func (f files) Alone(do func() error) (err error) {
	defer func() {
		if errors.As(err, new(*wholefile.Error)) {
			err = fmt.Errorf("%w; the log book was left as it is", err)
		}
	}()
	if err := os.MkdirAll(filepath.Dir(f.path), 0o755); err != nil {
		return wholefile.Unwritable(f.String(), err)
	}
	path, err := f.real()
	if err != nil {
		return err
	}
	unlock, held, err := wholefile.Lock(path, cmp.Or(f.patience, lockPatience))
	shown := cmp.Or(f.name, path)
	switch {
	case err != nil:
		return wholefile.Unwritable(shown, err)
	case !held:
		return fmt.Errorf("%s.lock: %w", shown, errLocked)
	}
	defer unlock()
	// What spreadsheets leave beside a file that they have open. The two forms are common
	// knowledge, from memory.
	folder, name := filepath.Split(path)
	for _, mark := range []string{".~lock." + name + "#", "~$" + name} {
		if _, err := os.Lstat(folder + mark); err == nil {
			return fmt.Errorf("%s: is open in a spreadsheet, which would write over what is added (it left %s): close it there, then try again", shown, mark)
		}
	}
	// What an import that was killed has left.
	for _, begin := range []string{path + ".", f.at(path, columnsName) + ".", f.at(path, historyName) + string(filepath.Separator)} {
		removeParts(begin)
	}
	return do()
}

// Write writes all down to the disk before anything takes its name, so that at every moment the
// book's name stands for a whole book, and names the history before the book, so that no change
// can happen that can't be undone. What lies beside the book comes in between: once the book is
// replaced, all is done. The keys come last: without them, the next change finds what was changed.
// What can't be removed from the history now is next time.
func (f files) Write(texts []Text, was []byte) (err error) {
	real, err := f.real()
	if err != nil {
		return err
	}
	const (
		toHistory = iota
		besideBook
		toBook
		toKeys
		outOfHistory
	)
	order := func(t Text) int {
		switch inHistory := strings.HasPrefix(t.Name, historyName); {
		case inHistory && t.Text != nil:
			return toHistory
		case t.Name == bookName:
			return toBook
		case t.Name == keysName:
			return toKeys
		case inHistory:
			return outOfHistory
		}
		return besideBook
	}
	texts = slices.SortedStableFunc(slices.Values(texts), func(a, b Text) int { return order(a) - order(b) })
	filled := make([]*wholefile.File, len(texts))
	defer func() {
		for _, file := range filled {
			file.Discard()
		}
	}()
	mode := os.FileMode(0) // the book's, for the history and the keys
	book := slices.IndexFunc(texts, func(t Text) bool { return t.Name == bookName })
	if book >= 0 {
		if filled[book], err = f.fill(real, texts[book], mode); err != nil {
			return err
		}
		// Renaming needs no permission on the file that it replaces.
		if mode = filled[book].Mode; was != nil && mode&0o200 == 0 {
			return wholefile.Unwritable(f.String(), errors.New("it is write-protected"))
		}
	}
	for i, t := range texts {
		if i == book || t.Text == nil {
			continue
		}
		as := mode
		if order(t) == besideBook {
			as = 0
		}
		if filled[i], err = f.fill(real, t, as); err != nil {
			return err
		}
	}
	named := 0
	defer func() {
		// Where nothing but the history was written, nothing happened.
		if err != nil && (named == 0 || order(texts[named-1]) == toHistory) {
			f.remove(real, texts[:named])
		}
	}()
	checked := book < 0
	for i, t := range texts {
		if order(t) > toHistory && !checked {
			if err := f.unchanged(real, was); err != nil {
				return err
			}
			checked = true
		}
		switch {
		case filled[i] != nil:
			err = filled[i].Rename()
		case order(t) == outOfHistory:
			f.remove(real, texts[i:i+1])
		default:
			if err = os.Remove(f.at(real, t.Name)); errors.Is(err, fs.ErrNotExist) {
				err = nil
			}
		}
		if err != nil && order(t) < toKeys {
			if !errors.As(err, new(*wholefile.Error)) {
				named = i + 1 // it may have its name
			}
			return err
		}
		named, err = i+1, nil
	}
	return nil
}

// unchanged checks that the book is what it was.
func (f files) unchanged(real string, was []byte) error {
	now, err := f.Read(bookName)
	if err == nil && ((now == nil) != (was == nil) || !bytes.Equal(now, was)) {
		err = fmt.Errorf("%s: %w", cmp.Or(f.name, real), ErrChanged)
	}
	return err
}

// fill writes a file down to the disk, but not yet under its name. It is nil for one that is not
// kept. Permissions other than 0 are given to it.
func (f files) fill(real string, t Text, mode os.FileMode) (*wholefile.File, error) {
	path, name := f.at(real, t.Name), f.called(t.Name)
	if path == "" {
		return nil, nil
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return nil, wholefile.Unwritable(name, err)
	}
	file, err := wholefile.Open(path, name)
	if err != nil {
		return nil, err
	}
	file.Mode = cmp.Or(mode, file.Mode)
	if err := file.Fill(wholefile.Text(t.Text)); err != nil {
		file.Discard()
		return nil, err
	}
	return file, nil
}

func (f files) remove(real string, texts []Text) {
	for _, t := range texts {
		os.Remove(f.at(real, t.Name))
	}
}

// removeParts removes what was left of writing files whose paths begin in a way.
func removeParts(path string) {
	folder, name := filepath.Split(path)
	entries, _ := os.ReadDir(folder)
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), name) && strings.HasSuffix(e.Name(), wholefile.Suffix) {
			os.Remove(folder + e.Name())
		}
	}
}
