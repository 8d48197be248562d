package main

import (
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"

	"regear/analyze"
	"regear/analyze/logbook/wholefile"
	"regear/analyze/units"
	"regear/cmd/regear/internal/report"
	"regear/plotting"
)

// outFile is a flag that names a file, whose ending says how a T is written into it.
type outFile[T any] struct {
	path   string
	writer func(path string) (func(io.Writer, T) error, error)
	none   string // what to do where no file was named

	write func(io.Writer, T) error
	file  *wholefile.File
}

func newPicture() *outFile[*plotting.Figure] {
	return &outFile[*plotting.Figure]{
		none: "no picture file was named: add --out FILE, ending in .png, .svg or .pdf",
		writer: func(path string) (func(io.Writer, *plotting.Figure) error, error) {
			format, err := plotting.FormatOf(path)
			if err != nil {
				err = plotting.ErrFormat // the flag's message has the path already
			}
			return func(w io.Writer, fig *plotting.Figure) error { return fig.Write(w, format, plotting.DefaultSize) }, err
		},
	}
}

func newPage() *outFile[*report.Record] {
	return &outFile[*report.Record]{
		none: "no file was named: add --out FILE, ending in .html or .md",
		writer: func(path string) (func(io.Writer, *report.Record) error, error) {
			switch strings.ToLower(filepath.Ext(path)) {
			case ".html":
				return func(w io.Writer, r *report.Record) error { return r.HTML(w) }, nil
			case ".md":
				return func(w io.Writer, r *report.Record) error { return r.Markdown(w) }, nil
			}
			return nil, errors.New("a report's file name must end in .html or .md")
		},
	}
}

func (f *outFile[T]) String() string { return f.path }
func (f *outFile[T]) Type() string   { return "FILE" }

func (f *outFile[T]) Set(path string) (err error) {
	f.path = path
	f.write, err = f.writer(path)
	return err
}

// open makes sure, before any work is done, that the file can be written, if one was named.
func (f *outFile[T]) open() (err error) {
	if f.path != "" {
		f.file, err = wholefile.Open(f.path, f.path)
	}
	return err
}

func (f *outFile[T]) fill(content func() (T, error)) error {
	if f.path == "" {
		return nil
	}
	made, err := content()
	if err != nil {
		return err
	}
	if err := f.file.Fill(func(w io.Writer) error { return f.write(w, made) }); err != nil {
		return err
	}
	return f.file.Rename()
}

func (f *outFile[T]) discard() { f.file.Discard() }

type filled struct {
	title    string
	warnings []analyze.Warning
}

// fillNamed is a command that fills the file that was named. It tells the warnings and the
// content's title.
func fillNamed[T any](env *environment, out *outFile[T], u units.System, content func() (T, filled, error)) error {
	if out.path == "" {
		return usagef("%s", out.none)
	}
	if err := out.open(); err != nil {
		return err
	}
	defer out.discard()
	var told filled
	err := out.fill(func() (made T, err error) {
		made, told, err = content()
		return made, err
	})
	if err != nil {
		return err
	}
	if err := env.warn(told.warnings, env.style(u)); err != nil {
		return err
	}
	_, err = fmt.Fprintf(env.out, "%s: %s\n", out.path, told.title)
	return err
}
