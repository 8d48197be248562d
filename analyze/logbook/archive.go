package logbook

import (
	"archive/zip"
	"bytes"
	"cmp"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"path"
	"path/filepath"
	"slices"
	"strings"

	"regear/analyze/run"
	"regear/analyze/runlog"
)

// besides are the names of the texts that are saved and restored with the book.
var besides = []string{CarsName, columnsName, keysName}

// Save writes the book, its history, the car file and what is remembered of headers as one zip
// archive. What does not exist is left out, but for the book.
func (b Book) Save(w io.Writer) error {
	store := b.store()
	return store.Alone(func() error {
		all, err := b.kept()
		if err != nil {
			return err
		}
		if text, err := b.open(); err != nil || text == nil {
			return cmp.Or(err, fs.ErrNotExist)
		}
		if err := b.followKeys(); err != nil {
			return err
		}
		names := append([]string{bookName}, besides...)
		for _, c := range all {
			names = append(names, c.name)
			for _, name := range c.Beside {
				names = append(names, c.beside(name))
			}
		}
		slices.Sort(names)
		out := zip.NewWriter(w)
		for _, name := range names {
			text, err := store.Read(name)
			switch {
			case err != nil:
				return err
			case text == nil:
				continue
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

// followKeys makes the keys those of the book as it is, which a spreadsheet may have changed. One
// that can't be read is copied as it is.
func (b Book) followKeys() error {
	err := b.changeAlone(nil, func(book Contents, _ string) (*Contents, Change, error) {
		k, err := b.keys(book)
		if err != nil {
			return nil, Change{}, err
		}
		return b.onlyKeys(book, k)
	})
	if errors.As(err, new(*RowsError)) || errors.As(err, new(*runlog.HeaderError)) {
		err = nil
	}
	return err
}

// Restored is what was restored.
type Restored struct {
	Runs  int      // that the book holds now
	Files []string // the places of what was written
}

// Restore puts back what [Book.Save] wrote, or a book alone as the history keeps it. It is a change
// of the book, which can be undone with all that it replaced. The history of an archive is taken
// only where there is none. name is what messages call the file.
func (b Book) Restore(name string, data []byte) (restored Restored, err error) {
	files, err := unpacked(name, data)
	if err != nil {
		return restored, err
	}
	store := b.store()
	err = store.Alone(func() error {
		book, err := Book{Name: name, Store: store}.parse(files[bookName])
		if err != nil && !errors.As(err, new(*RowsError)) { // rows that can't be used are to be mended here
			return err
		}
		restored.Runs = len(book.Entries)
		old, err := b.open()
		if err != nil {
			return err
		}
		change := Change{What: "restored " + filepath.Base(name)}
		var with []Text
		if now, err := b.parse(old); err == nil { // one that can't be read is restored over too
			change.LastRun = now.lastRun()
			k, err := b.keys(now)
			if err != nil {
				return err
			}
			if files[keysName] == nil {
				k.follow(book.Entries, b.now())
				with = append(with, Text{keysName, k.text()})
			}
		}
		all, err := b.kept()
		if err != nil {
			return err
		}
		if len(all) == 0 {
			for _, t := range historyIn(files) {
				with, all = append(with, t), append(all, Change{name: t.Name})
			}
		}
		restored.Files = []string{store.Place(bookName)}
		for _, name := range besides {
			text, there := files[name]
			if place := store.Place(name); there && place != "" {
				change.Beside = append(change.Beside, name)
				with = append(with, Text{name, text})
				if name != keysName {
					restored.Files = append(restored.Files, place)
				}
			}
		}
		_, err = b.replaceWith(all, old, files[bookName], change, with)
		return err
	})
	return restored, err
}

// historyIn returns the history of an archive, in the order of names.
func historyIn(files map[string][]byte) []Text {
	var all []Text
	for _, name := range slices.Sorted(maps.Keys(files)) {
		base, ok := strings.CutPrefix(name, historyName)
		if ok && base != "" && base == path.Base(base) && !strings.ContainsAny(base, `\:`) {
			all = append(all, Text{name, files[name]})
		}
	}
	return all
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
