package carfile

import (
	"errors"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"

	"regear/analyze/run"
)

// problems collects what is wrong with a file.
type problems struct {
	file  string
	lines index
	found []run.Problem
}

// add adds a problem at a key.
func (p *problems) add(key, value, what, do string) {
	p.found = append(p.found, run.Problem{
		Position: run.Position{File: p.file, Line: p.lines.line(key)}, Column: key, Value: value, What: what, Do: do,
	})
}

// addError adds what is wrong with a value, if something is.
func (p *problems) addError(key, value string, err error) {
	if err != nil {
		p.add(key, value, err.Error(), "")
	}
}

// byLine returns the problems in the order of their lines.
func (p *problems) byLine() []run.Problem {
	slices.SortStableFunc(p.found, func(a, b run.Problem) int { return a.Line - b.Line })
	return p.found
}

// err returns the problems as one error, nil for none.
func (p *problems) err() error {
	var all []error
	for _, problem := range p.byLine() {
		all = append(all, problem)
	}
	return errors.Join(all...)
}

// index holds the line of each key of a document, so that what is wrong with a value
// can be told with its place.
type index map[string]int

// line returns the line of a key or, where it stands in no line of its own, of the
// table that would hold it.
func (x index) line(key string) int {
	for {
		if line, ok := x[key]; ok {
			return line
		}
		cut := strings.LastIndex(key, keySeparator)
		if cut < 0 {
			return 0
		}
		key = key[:cut]
	}
}

// keySeparator joins the parts of a key as TOML does; names with dots share an entry
// with no other in practice, and would only get a neighbour's line.
const keySeparator = "."

func join(keys ...string) string { return strings.Join(keys, keySeparator) }

func lastOf(key string) string { return key[strings.LastIndex(key, keySeparator)+1:] }

// indexOf notes the lines of a document that the decoder accepted.
func indexOf(text []byte) index {
	x := index{}
	var p unstable.Parser
	p.Reset(text)
	table := ""
	for p.NextExpression() {
		switch e := p.Expression(); e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = x.note(&p, "", e)
		case unstable.KeyValue:
			x.note(&p, table, e)
		}
	}
	return x
}

// note notes a key, and the keys of an inline table behind it.
func (x index) note(p *unstable.Parser, table string, e *unstable.Node) string {
	var parts []string
	if table != "" {
		parts = append(parts, table)
	}
	line := 0
	for it := e.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
		line = p.Shape(it.Node().Raw).Start.Line
	}
	key := strings.Join(parts, keySeparator)
	x[key] = line
	if e.Kind == unstable.KeyValue && e.Value().Kind == unstable.InlineTable {
		for it := e.Value().Children(); it.Next(); {
			x.note(p, key, it.Node())
		}
	}
	return key
}
