package main

import (
	"bufio"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"regear/cmd/regear/internal/report"
	"regear/plotting"
)

// picture is a flag that names a picture file. The file appears whole or not at all:
// it is drawn into one beside it, which then takes its name.
type picture struct {
	path   string
	format plotting.Format
	beside *os.File
}

func (p *picture) String() string { return p.path }
func (p *picture) Type() string   { return "FILE" }

func (p *picture) Set(path string) error {
	format, err := plotting.FormatOf(path)
	if err != nil {
		return plotting.ErrFormat // the flag's message has the path already
	}
	p.path, p.format = path, format
	return nil
}

func (p *picture) wanted() bool { return p.path != "" }

// open makes sure, before any work is done, that the picture can be written.
func (p *picture) open() (err error) {
	if !p.wanted() {
		return nil
	}
	// A link stays a link: what it points to is replaced.
	if target, err := filepath.EvalSymlinks(p.path); err == nil {
		p.path = target
	}
	if info, err := os.Stat(p.path); err == nil && info.IsDir() {
		return fmt.Errorf("%s: is a folder, not a picture", p.path)
	}
	p.beside, err = os.CreateTemp(filepath.Dir(p.path), "."+filepath.Base(p.path)+".*")
	return p.failed(err)
}

// failed words an error of the file beside as one of the picture.
func (p *picture) failed(err error) error {
	var path *fs.PathError
	if errors.As(err, &path) {
		err = path.Err
	}
	if err != nil {
		err = fmt.Errorf("%s: can't be written: %w", p.path, err)
	}
	return err
}

// draw makes the figure and writes it, if a picture is wanted.
func (p *picture) draw(figure func() (*plotting.Figure, error)) error {
	if !p.wanted() {
		return nil
	}
	fig, err := figure()
	if err != nil {
		return err
	}
	return p.write(fig)
}

// write draws a figure and gives the file its name.
func (p *picture) write(fig *plotting.Figure) error {
	out := bufio.NewWriter(p.beside)
	err := errors.Join(
		fig.Write(out, p.format, plotting.DefaultSize),
		out.Flush(),
		p.beside.Chmod(p.mode()),
		p.beside.Close(),
	)
	if err == nil {
		err = os.Rename(p.beside.Name(), p.path)
	}
	if err != nil {
		return p.failed(err)
	}
	p.beside = nil
	return nil
}

// mode returns the permissions of the file that is replaced, or those of a new one.
func (p *picture) mode() os.FileMode {
	if info, err := os.Stat(p.path); err == nil {
		return info.Mode().Perm()
	}
	return 0o644
}

// discard removes what was opened and not written.
func (p *picture) discard() {
	if p.beside != nil {
		p.beside.Close()
		os.Remove(p.beside.Name())
	}
}

// system returns the plots' name for the units of text.
func system(u report.Units) plotting.System {
	if u == report.US {
		return plotting.US
	}
	return plotting.Metric
}
