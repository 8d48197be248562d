package carfile

import (
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

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

func join(table, key string) string { return table + keySeparator + key }

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
