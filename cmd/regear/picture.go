package main

import (
	"io"

	"regear/internal/wholefile"
	"regear/plotting"
)

// picture is a flag that names a picture file.
type picture struct {
	path   string
	format plotting.Format
	file   *wholefile.File
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
	if p.wanted() {
		p.file, err = wholefile.Open(p.path, p.path)
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
	return p.file.Write(func(w io.Writer) error { return fig.Write(w, p.format, plotting.DefaultSize) })
}

// discard removes what was opened and not written.
func (p *picture) discard() { p.file.Discard() }
