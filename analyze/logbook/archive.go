package logbook

import (
	"archive/zip"
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze/logbook/wholefile"
	"regear/analyze/run"
)

// The names of files in an archive.
const (
	bookName    = "book.csv"
	carsName    = "cars.toml"
	historyName = "history/"
)

// besides returns the paths of the files that are saved and restored with the book, by their
// names in an archive and in the history.
func (b Book) besides() map[string]string {
	columns := b.columnsFile()
	all := map[string]string{filepath.Base(columns.Path): columns.Path}
	if b.CarFile != "" {
		all[carsName] = b.CarFile
	}
	return all
}

// Save writes the book, its history, the car file and what is remembered of headers as one zip
// archive. What does not exist is left out, but for the book.
func (b Book) Save(w io.Writer) error {
	return b.locked(func(real Book) error {
		files := real.besides()
		files[bookName] = real.Path
		all, err := real.kept()
		if err != nil {
			return err
		}
		for _, c := range all {
			files[historyName+filepath.Base(c.path)] = c.path
			for _, name := range c.Beside {
				files[historyName+filepath.Base(c.beside(name))] = c.beside(name)
			}
		}
		out := zip.NewWriter(w)
		for _, name := range slices.Sorted(maps.Keys(files)) {
			text, err := os.ReadFile(files[name])
			switch {
			case errors.Is(err, fs.ErrNotExist) && name != bookName:
				continue
			case err != nil:
				return err
			}
			file, err := out.Create(name)
			if err != nil {
				return err
			}
			if _, err := file.Write(text); err != nil {
				return err
			}
		}
		return out.Close()
	})
}

// Restored is what was restored.
type Restored struct {
	Runs  int      // that the book holds now
	Files []string // the paths of what was written
}

// Restore puts back what [Book.Save] wrote, or a book alone as the history keeps it. It is a change
// of the book, which can be undone with all that it replaced. The history of an archive is taken
// only where there is none. name is what messages call the file.
func (b Book) Restore(name string, data []byte) (restored Restored, err error) {
	files, err := unpacked(name, data)
	if err != nil {
		return restored, err
	}
	err = b.locked(func(real Book) error {
		book, err := Book{Path: name}.parse(files[bookName])
		if err != nil && !errors.As(err, new(*RowsError)) { // rows that can't be used are to be mended here
			return err
		}
		restored.Runs = len(book.Entries)
		old, err := real.open()
		if err != nil {
			return err
		}
		change := Change{What: "restored " + filepath.Base(name)}
		if now, err := real.parse(old); err == nil { // one that can't be read is restored over too
			change.LastRun = now.lastRun()
		}
		if all, err := real.kept(); err != nil {
			return err
		} else if len(all) == 0 {
			if err := real.unpackHistory(files); err != nil {
				return err
			}
		}
		// What lies beside the book is written first: once the book is replaced, all is done.
		besides := real.besides()
		for _, name := range slices.Sorted(maps.Keys(besides)) {
			if _, there := files[name]; there {
				change.Beside = append(change.Beside, name)
			}
		}
		restored.Files = []string{real.Path}
		_, err = real.replaceWith(old, files[bookName], change, func() error {
			for _, name := range change.Beside {
				if err := os.MkdirAll(filepath.Dir(besides[name]), 0o755); err != nil {
					return wholefile.Unwritable(besides[name], err)
				}
				if err := wholefile.Write(besides[name], besides[name], files[name]); err != nil {
					return err
				}
				restored.Files = append(restored.Files, besides[name])
			}
			return nil
		})
		return err
	})
	return restored, err
}

// unpackHistory writes the history of an archive.
func (b Book) unpackHistory(files map[string][]byte) error {
	for name, text := range files {
		base, ok := strings.CutPrefix(name, historyName)
		if !ok || base != path.Base(base) || strings.ContainsAny(base, `\:`) {
			continue
		}
		if err := os.MkdirAll(b.historyFolder(), 0o755); err != nil {
			return wholefile.Unwritable(b.historyFolder(), err)
		}
		if err := wholefile.Write(filepath.Join(b.historyFolder(), base), base, text); err != nil {
			return err
		}
	}
	return nil
}

// unpacked returns the files of an archive, or a book alone, by their names.
func unpacked(name string, data []byte) (map[string][]byte, error) {
	notOurs := func(what string) error {
		return run.Problem{Position: run.Position{File: name}, What: what, Do: "name a file that regear book save wrote, or a book of its history"}
	}
	if !bytes.HasPrefix(data, []byte("PK")) {
		if head, text, _ := bytes.Cut(data, []byte{'\n'}); bytes.HasPrefix(head, []byte(`# {"at":`)) {
			data = text // a book of the history
		}
		if isBlank(data) {
			return nil, notOurs("holds no book")
		}
		return map[string][]byte{bookName: data}, nil
	}
	archive, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, notOurs(fmt.Sprintf("can't be unpacked (%v)", err))
	}
	const most = 1 << 30 // bytes
	left := int64(most)
	files := map[string][]byte{}
	for _, f := range archive.File {
		file, err := f.Open()
		if err != nil {
			return nil, notOurs(fmt.Sprintf("can't be unpacked (%v)", err))
		}
		text, err := io.ReadAll(io.LimitReader(file, left+1))
		file.Close()
		if left -= int64(len(text)); err != nil || left < 0 {
			return nil, notOurs("can't be unpacked whole")
		}
		files[f.Name] = text
	}
	if files[bookName] == nil {
		return nil, notOurs("holds no " + bookName)
	}
	return files, nil
}
