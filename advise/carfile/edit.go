package carfile

import (
	"bytes"
	"fmt"
	"maps"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"regear/analyze/run"
	"regear/analyze/units"
)

// Draft returns a car of f as its driver described it, each value as the file has it. The
// mount is blank where the file says how far the motor moves. The car of a name that f does
// not know has that name and nothing else.
func (f *File) Draft(name string) Draft {
	t := f.tables[name]
	d := Draft{
		Name: name, Cells: textOf(t.Cells, strconv.Itoa), Internal: textOf(t.Internal, number64), KV: textOf(t.KV, number64),
		Pitch: t.Pitch, Spurs: t.Spurs, Pinions: t.Pinions,
		Motor: t.Limits.Motor, ESC: t.Limits.ESC, Battery: t.Limits.Battery,
		MotorWhose: t.Limits.MotorWhose, ESCWhose: t.Limits.ESCWhose, BatteryWhose: t.Limits.BatteryWhose,
	}
	for _, tire := range slices.Sorted(maps.Keys(t.Tires)) {
		d.TireNames, d.TireSizes = append(d.TireNames, tire), append(d.TireSizes, t.Tires[tire])
	}
	if t.Mount != nil {
		d.LeastTeeth, d.MostTeeth = textOf(t.Mount.LeastTeeth, strconv.Itoa), textOf(t.Mount.MostTeeth, strconv.Itoa)
	}
	return d
}

func number64(x float64) string { return strconv.FormatFloat(x, 'f', -1, 64) }

func textOf[T any](value *T, text func(T) string) string {
	if value == nil {
		return ""
	}
	return text(*value)
}

// Add returns the text of a car file with a car behind what is in it, or of a new file in
// which answers are shown in a system of units. It fails with every [run.Problem] of the result.
// name is what messages call the file.
func Add(name string, text []byte, d Draft, system units.System) ([]byte, error) {
	if len(bytes.TrimSpace(text)) == 0 {
		text = []byte(Heading(system) + d.Text())
	} else {
		text = slices.Concat(text, []byte("\n"+d.Text()))
	}
	_, err := Read(name, bytes.NewReader(text))
	return text, err
}

// Edit returns the text of a car file that describes a car as to does; the file must have the
// car. What differs is changed where it stands, and all else stays to the byte: remarks, keys
// that a [Draft] does not hold, other cars, line ends. A remark behind a value, or among
// the items of a list, stays also where the value goes.
//
// It fails as [Read] does, with every problem of the result, and with a [run.Problem] where a
// value can't be set in a file laid out like this one. name is what messages call the file.
func Edit(name string, text []byte, to Draft) ([]byte, error) {
	file, err := Read(name, bytes.NewReader(text))
	if err != nil {
		return nil, err
	}
	mark, rest := []byte(nil), text
	if bytes.HasPrefix(text, byteOrderMark) {
		mark, rest = text[:len(byteOrderMark)], text[len(byteOrderMark):]
	}
	refused := func(s keyed) error {
		key := join(append([]string{"cars", to.Name}, s.key...)...)
		return run.Problem{Position: run.Position{File: name, Line: file.lines.line(key)}, Column: key, Value: s.value,
			What: "can't be set here as the file is laid out", Do: "change it with a text editor"}
	}
	for _, s := range changes(file.Draft(to.Name), to) {
		changed, ok := with(rest, spelled(placesIn(rest), append([]string{"cars", to.Name}, s.key...)), s.value)
		if !ok {
			return nil, refused(s)
		}
		rest = changed
	}
	text = slices.Concat(mark, rest)
	if file, err = Read(name, bytes.NewReader(text)); err != nil {
		return nil, err
	}
	if left := changes(file.Draft(to.Name), to); len(left) > 0 { // the file spells one key in two ways
		return nil, refused(left[0])
	}
	return text, nil
}

// spelled returns a key as a document spells it: the names of keys, unlike those of cars and
// tires, are the same in any letter case.
func spelled(places []place, key []string) []string {
	key = slices.Clone(key)
	for i := range key {
		if i == 1 || i == 3 && strings.EqualFold(key[2], "tires") {
			continue
		}
		for _, p := range places {
			if isBelow(p.path, key[:i]) && strings.EqualFold(p.path[i], key[i]) {
				key[i] = p.path[i]
				break
			}
		}
	}
	return key
}

// keyed is a value as TOML, "" for none, and its key below its car.
type keyed struct {
	key   []string
	value string
}

func (d Draft) settings() []keyed {
	all := []keyed{
		{[]string{"internal_ratio"}, d.Internal}, {[]string{"motor_kv"}, d.KV}, {[]string{"cells"}, d.Cells},
		{[]string{"pitch"}, quotedOrBlank(d.Pitch)}, {[]string{"spurs"}, list(d.Spurs)}, {[]string{"pinions"}, list(d.Pinions)},
		{[]string{"mount", "least_teeth"}, d.LeastTeeth}, {[]string{"mount", "most_teeth"}, d.MostTeeth},
		{[]string{"limits", "motor"}, quotedOrBlank(d.Motor)}, {[]string{"limits", "motor_whose"}, quotedOrBlank(d.MotorWhose)},
		{[]string{"limits", "esc"}, quotedOrBlank(d.ESC)}, {[]string{"limits", "esc_whose"}, quotedOrBlank(d.ESCWhose)},
		{[]string{"limits", "battery"}, quotedOrBlank(d.Battery)}, {[]string{"limits", "battery_whose"}, quotedOrBlank(d.BatteryWhose)},
	}
	for i, name := range d.TireNames {
		all = append(all, keyed{[]string{"tires", name}, quoted(d.TireSizes[i])})
	}
	return all
}

// changes returns what to set, and then what to take away, to make one draft of another.
func changes(from, to Draft) []keyed {
	values := func(d Draft) map[string]string {
		all := map[string]string{}
		for _, s := range d.settings() {
			all[fmt.Sprintf("%q", s.key)] = s.value
		}
		return all
	}
	was, is := values(from), values(to)
	var all []keyed
	for _, s := range to.settings() {
		if s.value != "" && was[fmt.Sprintf("%q", s.key)] != s.value {
			all = append(all, s)
		}
	}
	for _, s := range from.settings() {
		if s.value != "" && is[fmt.Sprintf("%q", s.key)] == "" {
			all = append(all, keyed{s.key, ""})
		}
	}
	hadMount, hasMount := from.LeastTeeth != "", to.LeastTeeth != ""
	switch {
	case hadMount && !hasMount:
		all = append(all, keyed{[]string{"mount"}, ""}) // a table without its keys is a mistake
	case hasMount && !hadMount:
		for _, key := range []string{"known_pinion", "known_spur", "closer", "farther"} { // the other way to say it
			all = append(all, keyed{[]string{"mount", key}, ""})
		}
	}
	return all
}

// with returns a document in which a key has a value, or is gone where the value is "". There are
// many ways to lay out a document, so it tries those that come into question until one
// says what is wanted and nothing else.
func with(text []byte, key []string, value string) (changed []byte, ok bool) {
	want, err := decoded(text)
	if err != nil {
		return nil, false
	}
	if !assign(want, key, value) {
		return nil, false
	}
	prune(want)
	for _, try := range attempts(text, key, value) {
		if got, err := decoded(try); err == nil && reflect.DeepEqual(prune(got), want) {
			return try, true
		}
	}
	return nil, false
}

func decoded(text []byte) (map[string]any, error) {
	doc := map[string]any{}
	return doc, toml.Unmarshal(text, &doc)
}

func assign(doc map[string]any, key []string, value string) bool {
	for _, k := range key[:len(key)-1] {
		if doc[k] == nil {
			doc[k] = map[string]any{}
		}
		inner, isTable := doc[k].(map[string]any)
		if !isTable {
			return false
		}
		doc = inner
	}
	last := key[len(key)-1]
	if value == "" {
		delete(doc, last)
		return true
	}
	parsed, err := decoded([]byte("value = " + value))
	doc[last] = parsed["value"]
	return err == nil
}

// prune takes away tables that hold nothing, which say nothing.
func prune(doc map[string]any) map[string]any {
	for key, value := range doc {
		if inner, isTable := value.(map[string]any); isTable && len(prune(inner)) == 0 {
			delete(doc, key)
		}
	}
	return doc
}

// place is where a key with its value, or a table's header, stands in a document.
type place struct {
	path  []string
	kind  unstable.Kind // KeyValue, Table or ArrayTable
	table int           // the place of the header that it stands below, -1 for none
	in    int           // the place of the value in whose inline table it stands, -1 for none

	start, end int // in bytes, without a remark behind it
	value      int // where the value of a key begins
}

func placesIn(text []byte) []place {
	var all []place
	table := -1
	var p unstable.Parser
	p.Reset(text)
	var add func(e *unstable.Node, path []string, in int)
	add = func(e *unstable.Node, path []string, in int) {
		one := place{path: slices.Clone(path), kind: e.Kind, table: table, in: in}
		var first, last unstable.Range
		for it := e.Key(); it.Next(); {
			if last = it.Node().Raw; first.Length == 0 {
				first = last
			}
			one.path = append(one.path, string(it.Node().Data))
		}
		behind := int(last.Offset + last.Length)
		if e.Kind != unstable.KeyValue {
			one.start, one.end = lineStart(text, int(first.Offset)), behind+bytes.IndexByte(text[behind:], ']')+1
			if e.Kind == unstable.ArrayTable {
				one.end++
			}
			table = len(all)
			all = append(all, one)
			return
		}
		one.start, one.end = int(first.Offset), int(e.Raw.Offset+e.Raw.Length)
		one.value = behind + bytes.IndexByte(text[behind:], '=') + 1
		one.value += len(text[one.value:]) - len(bytes.TrimLeft(text[one.value:], " \t"))
		at := len(all)
		all = append(all, one)
		if e.Value().Kind == unstable.InlineTable {
			for it := e.Value().Children(); it.Next(); {
				add(it.Node(), one.path, at)
			}
		}
	}
	for p.NextExpression() {
		e := p.Expression()
		var path []string
		if e.Kind == unstable.KeyValue && table >= 0 {
			path = all[table].path
		}
		add(e, path, -1)
	}
	return all
}

func lineStart(text []byte, at int) int { return bytes.LastIndexByte(text[:at], '\n') + 1 }

// lineEnd returns where the line behind the one of a byte begins.
func lineEnd(text []byte, at int) int {
	if n := bytes.IndexByte(text[at:], '\n'); n >= 0 {
		return at + n + 1
	}
	return len(text)
}

// attempts returns the ways to set a key, or to take it away, the most usual one first.
func attempts(text []byte, key []string, value string) [][]byte {
	places := placesIn(text)
	at := slices.IndexFunc(places, func(p place) bool { return p.kind != unstable.ArrayTable && slices.Equal(p.path, key) })
	switch {
	case at >= 0 && value == "":
		return without(text, places, at)
	case at >= 0:
		return replaced(text, places[at], value)
	case value == "":
		return [][]byte{text}
	}
	return added(text, places, key, value)
}

func splice(text []byte, from, to int, with string) []byte {
	return slices.Concat(text[:from], []byte(with), text[to:])
}

func replaced(text []byte, p place, value string) [][]byte {
	old := text[p.value:p.end]
	if !hasRemark(old) {
		return [][]byte{splice(text, p.value, p.end, value)}
	}
	if p.in >= 0 {
		return nil
	}
	// A list with remarks among its items becomes a remark below its new value.
	from, to := lineStart(text, p.start), lineEnd(text, p.end)
	return [][]byte{splice(text, from, to, string(text[from:p.value])+value+lineBreak(text)+asRemark(text[from:to]))}
}

func hasRemark(value []byte) bool {
	return bytes.HasPrefix(value, []byte("[")) && bytes.IndexByte(value, '#') >= 0
}

func asRemark(lines []byte) string {
	return "# " + strings.ReplaceAll(strings.TrimSuffix(string(lines), "\n"), "\n", "\n# ") + "\n"
}

func without(text []byte, places []place, at int) [][]byte {
	p := places[at]
	if p.in >= 0 {
		from, to := p.start, p.end
		siblings := slices.DeleteFunc(slices.Clone(places), func(other place) bool { return other.in != p.in })
		mine := slices.IndexFunc(siblings, func(other place) bool { return other.start == p.start })
		switch {
		case mine+1 < len(siblings):
			to = siblings[mine+1].start
		case mine > 0:
			from = siblings[mine-1].end
		}
		if bytes.IndexByte(text[from:to], '\n') >= 0 {
			return nil // there may be remarks
		}
		return [][]byte{splice(text, from, to, "")}
	}
	from, to := lineStart(text, p.start), lineEnd(text, p.end)
	if len(bytes.TrimSpace(text[p.end:to])) > 0 || p.kind == unstable.KeyValue && hasRemark(text[p.value:p.end]) {
		return [][]byte{splice(text, from, to, asRemark(text[from:to]))}
	}
	return [][]byte{splice(text, from, to, "")}
}

func added(text []byte, places []place, key []string, value string) (all [][]byte) {
	table, line := key[:len(key)-1], setLine(key[len(key)-1:], value)
	// Below the header of its table.
	for at, p := range places {
		if p.kind == unstable.Table && slices.Equal(p.path, table) {
			all = append(all, below(text, places, at, key, line))
		}
	}
	// Beside another key of its table, in the same manner.
	all = append(all, beside(text, places, table, key, value)...)
	// Below a new header: where a remark shows it, or behind all of the car.
	header := "[" + quotedKey(table) + "]"
	if at := lineOf(text, 0, len(text), "# "+header); at >= 0 {
		shown := splice(text, at, at+len("# "), "")
		now := placesIn(shown)
		if i := slices.IndexFunc(now, func(p place) bool { return p.start == at }); i >= 0 {
			all = append(all, below(shown, now, i, key, line))
		}
	}
	end := len(text)
	for _, p := range places {
		if p.in < 0 && (isBelow(p.path, key[:2]) || slices.Equal(p.path, key[:2])) {
			end = lineEnd(text, p.end)
		}
	}
	for end < len(text) && bytes.HasPrefix(bytes.TrimLeft(text[end:], " \t"), []byte("#")) {
		end = lineEnd(text, end) // remarks right below a line belong to it
	}
	all = append(all, withLine(text, end, lineBreak(text)+header+lineBreak(text)+line))
	// Beside another key of its car, in the same manner.
	return append(all, beside(text, places, key[:2], key, value)...)
}

// beside sets a key beside the last one below a table: in the same inline table, or in a line that
// begins at the same header.
func beside(text []byte, places []place, table, key []string, value string) [][]byte {
	for _, p := range slices.Backward(places) {
		header := headerOf(places, p.table)
		switch {
		case p.kind != unstable.KeyValue || !isBelow(p.path, table) || !isBelow(key, header):
		case p.in < 0:
			return [][]byte{withLine(text, lineEnd(text, p.end), setLine(key[len(header):], value))}
		case len(p.path) == len(key):
			return [][]byte{splice(text, p.end, p.end, ", "+setLine(key[len(key)-1:], value))}
		}
	}
	return nil
}

// isBelow reports whether a key lies in a table or below it.
func isBelow(key, table []string) bool {
	return len(key) > len(table) && slices.Equal(key[:len(table)], table)
}

func headerOf(places []place, table int) []string {
	if table < 0 {
		return nil
	}
	return places[table].path
}

// below adds a line below the header of its table: in the place of the remark that shows how the
// key is written, or behind the key that stands before it in a [Draft], or behind all.
func below(text []byte, places []place, header int, key []string, line string) []byte {
	table, name := key[len(key)-2], key[len(key)-1]
	after, before := lineEnd(text, places[header].end), len(text)
	end, last := after, -1
	known := keysOf(table)
	for _, p := range places[header+1:] {
		if p.kind != unstable.KeyValue {
			before = lineStart(text, p.start)
			break
		}
		if p.table != header || p.in >= 0 {
			continue
		}
		order := slices.Index(known, p.path[len(key)-1])
		if mine := slices.Index(known, name); order < 0 || order < mine && order >= last {
			end, last = lineEnd(text, p.end), max(order, last)
		}
	}
	shown := examples[name]
	if shown == "" {
		shown = examples[table]
	}
	if at := lineOf(text, after, before, "# "+shown); at >= 0 {
		return splice(text, at, at+len("# "+shown), line)
	}
	return withLine(text, end, line)
}

// keysOf returns the keys of a table, in their order.
func keysOf(table string) []string {
	if known := keys[table]; known != nil {
		return known
	}
	return keys["cars"] // the table has the name of a car
}

// lineOf returns where a line begins that is a text, among those between two bytes, or -1.
func lineOf(text []byte, from, to int, line string) int {
	for ; from < to; from = lineEnd(text, from) {
		if string(bytes.TrimRight(text[from:lineEnd(text, from)], "\r\n")) == line {
			return from
		}
	}
	return -1
}

// withLine adds a line before the one that begins at a byte.
func withLine(text []byte, at int, line string) []byte {
	if at > 0 && text[at-1] != '\n' {
		line = lineBreak(text) + line
	}
	return splice(text, at, at, line+lineBreak(text))
}

func lineBreak(text []byte) string {
	if bytes.Contains(text, []byte("\r\n")) {
		return "\r\n"
	}
	return "\n"
}

func setLine(key []string, value string) string { return quotedKey(key) + " = " + value }

func quotedKey(key []string) string {
	quoted := make([]string, len(key))
	for i, k := range key {
		quoted[i] = bareOrQuoted(k)
	}
	return strings.Join(quoted, ".")
}
