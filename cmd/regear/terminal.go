package main

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync/atomic"
	"time"

	"golang.org/x/term"

	"regear/analyze"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/report"
)

// terminal returns nil for a stream that is no terminal.
func terminal(stream any) *os.File {
	file, ok := stream.(*os.File)
	if !ok || !term.IsTerminal(int(file.Fd())) {
		return nil
	}
	return file
}

// Prose is laid out between these widths on a terminal: narrower is unreadable, wider
// is tiring.
const narrowest, widest = 40, 100

// style returns how text for standard output is laid out: as wide as the terminal,
// with the pick in bold there unless NO_COLOR says otherwise.
func (e *environment) style(u units.System) report.Style {
	s := report.Style{Units: u}
	screen := terminal(e.out)
	if screen == nil {
		return s
	}
	if width, _, err := term.GetSize(int(screen.Fd())); err == nil {
		s.Width = min(max(width, narrowest), widest)
	}
	s.Bold = e.getenv("NO_COLOR") == "" && e.getenv("TERM") != "dumb"
	return s
}

func (e *environment) warn(warnings []analyze.Warning, s report.Style) error {
	if len(warnings) == 0 {
		return nil
	}
	if err := report.WarningNotes(warnings, s.Units, report.AtCommandLine).Text(e.errOut, s.Layout); err != nil {
		return err
	}
	_, err := io.WriteString(e.errOut, "\n")
	return err
}

// warnAndCaution writes warnings and, for people, the cautions behind them: on a terminal
// the answer and the two read in that order.
func (e *environment) warnAndCaution(warnings []analyze.Warning, people bool, s report.Style) error {
	if err := e.warn(warnings, s); err != nil || !people {
		return err
	}
	return report.CautionNotes(s.Units).Text(e.out, s.Layout)
}

type asker struct {
	in  *bufio.Scanner
	out io.Writer
}

// errEnded reports that the answers ended before the questions did.
var errEnded = errors.New("the answers ended")

// asker returns nil where there is nobody to ask.
func (e *environment) asker() *asker {
	if terminal(e.in) == nil {
		return nil
	}
	return newAsker(e.in, e.errOut)
}

func newAsker(in io.Reader, out io.Writer) *asker { return &asker{bufio.NewScanner(in), out} }

func (a *asker) line(question string) (string, error) {
	fmt.Fprint(a.out, question)
	if !a.in.Scan() {
		return "", errors.Join(a.in.Err(), errEnded)
	}
	return strings.TrimSpace(a.in.Text()), nil
}

// yes asks a question that takes yes or no, and takes a blank answer, or none, for no. Where
// there is nobody to ask, the answer is otherwise.
func (a *asker) yes(question string, otherwise bool) (bool, error) {
	if a == nil {
		return otherwise, nil
	}
	answer, err := a.line(question + " yes or no [no]: ")
	if errors.Is(err, errEnded) {
		return false, a.in.Err()
	}
	answer = strings.ToLower(answer)
	return answer == "yes" || answer == "y", err
}

// until asks one question until take takes the answer. What take wants to be sure of it
// returns as a question, which is then asked.
func (a *asker) until(question string, take func(answer string) (sure string, err error)) error {
	for {
		answer, err := a.line(question + ": ")
		if err != nil {
			return err
		}
		sure, err := take(answer)
		if err != nil {
			fmt.Fprintf(a.out, "  %q: %v\n", answer, err)
			continue
		}
		if sure == "" {
			return nil
		}
		if meant, err := a.yes("  "+sure, true); meant || err != nil {
			return err
		}
	}
}

// errNotMeant reports that what is doubtful is not meant.
var errNotMeant = errors.New("nothing was done")

// confirm tells what is doubtful, and on a terminal asks whether to go on. It fails with
// [errNotMeant] where the answer is no.
func (e *environment) confirm(asking *asker, problems []domain.Problem, question string) error {
	if len(problems) == 0 {
		return nil
	}
	for _, line := range report.Doubts(problems) {
		fmt.Fprintln(e.errOut, line)
	}
	sure, err := asking.yes(question, true)
	if err == nil && !sure {
		err = errNotMeant
	}
	return err
}

// progress counts what is read of a file, and shows it on a terminal once the reading
// has taken a second.
type progress struct {
	*os.File // what is asked of a file beside reading, such as its size, goes to it
	read     atomic.Int64
	stop     chan struct{}
	stopped  chan struct{}
}

// watch shows on standard error how far the reading of a file has come, until it is closed.
func (e *environment) watch(file *os.File) *progress {
	p := &progress{File: file, stop: make(chan struct{}), stopped: make(chan struct{})}
	screen := terminal(e.errOut)
	info, err := file.Stat()
	if screen == nil || err != nil {
		close(p.stopped)
		return p
	}
	go p.show(screen, info.Size())
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

// Close ends the showing, clears the line and closes the file.
func (p *progress) Close() error {
	close(p.stop)
	<-p.stopped
	return p.File.Close()
}
