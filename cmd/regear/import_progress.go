package main

import (
	"fmt"
	"io"
	"os"
	"sync/atomic"
	"time"

	"golang.org/x/term"
)

// progress counts what is read of a file, and shows it on a terminal once the reading
// has taken a second.
type progress struct {
	*os.File // what is asked of a file beside reading, such as its size, goes to it
	read     atomic.Int64
	stop     chan struct{}
	stopped  chan struct{}
}

// watch shows on standard error how far the reading of a file has come.
func (e *environment) watch(file *os.File) *progress {
	p := &progress{File: file, stop: make(chan struct{}), stopped: make(chan struct{})}
	terminal, ok := e.errOut.(*os.File)
	info, err := file.Stat()
	if !ok || err != nil || !term.IsTerminal(int(terminal.Fd())) {
		close(p.stopped)
		return p
	}
	go p.show(terminal, info.Size())
	return p
}

func (p *progress) Read(to []byte) (int, error) {
	n, err := p.File.Read(to)
	p.read.Add(int64(n))
	return n, err
}

const (
	clearLine = "\r\x1b[K"
	refresh   = 200 * time.Millisecond
)

func (p *progress) show(w io.Writer, size int64) {
	defer close(p.stopped)
	for wait := time.Second; ; wait = refresh {
		select {
		case <-p.stop:
			if wait == refresh {
				fmt.Fprint(w, clearLine)
			}
			return
		case <-time.After(wait):
			fmt.Fprintf(w, "%sreading %s: %d %%", clearLine, p.Name(), 100*p.read.Load()/max(size, 1))
		}
	}
}

// done ends the showing and clears the line.
func (p *progress) done() {
	close(p.stop)
	<-p.stopped
}
