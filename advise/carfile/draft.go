package carfile

import (
	_ "embed"
	"fmt"
	"regexp"
	"strings"
	"text/template"

	"regear/analyze/units"
)

// Draft is a car as its driver described it, value by value as text. What was left
// blank becomes a comment that shows how it is written.
type Draft struct {
	Name                               string
	Internal, KV, Cells, Pitch         string
	Spurs, Pinions                     []int
	TireNames, TireSizes               []string
	LeastTeeth, MostTeeth              string
	Motor, ESC, Battery                string // limits
	MotorWhose, ESCWhose, BatteryWhose string
}

//go:embed draft.toml
var draftText string

var draft = template.Must(template.New("").Funcs(template.FuncMap{
	"key": bareOrQuoted, "text": quotedOrBlank, "list": list, "setting": setting,
}).Parse(draftText))

// Heading returns what a new car file begins with, above its first car.
func Heading(system units.System) string { return filled("heading", system) }

// Text returns the car's part of a car file, which can stand behind any other car's.
func (d Draft) Text() string { return filled("car", d) }

func filled(part string, with any) string {
	var b strings.Builder
	if err := draft.ExecuteTemplate(&b, part, with); err != nil {
		panic(err) // the template and what fills it are this package's own
	}
	return b.String()
}

// setting returns one setting, or a comment that shows how it is written.
func setting(key, value string) string {
	if value == "" {
		return "# " + examples[key]
	}
	return key + " = " + value
}

func quotedOrBlank(text string) string {
	if text == "" {
		return ""
	}
	return quoted(text)
}

func list(teeth []int) string {
	if len(teeth) == 0 {
		return ""
	}
	return strings.ReplaceAll(fmt.Sprint(teeth), " ", ", ")
}

var toEscape = regexp.MustCompile(`["\\[:cntrl:]]`)

func quoted(text string) string {
	return `"` + toEscape.ReplaceAllStringFunc(text, func(c string) string {
		if c == `"` || c == `\` {
			return `\` + c
		}
		return fmt.Sprintf(`\u%04X`, c[0])
	}) + `"`
}

var bareKey = regexp.MustCompile(`^[A-Za-z0-9_-]+$`)

// bareOrQuoted writes a key bare where TOML allows that.
func bareOrQuoted(key string) string {
	if bareKey.MatchString(key) {
		return key
	}
	return quoted(key)
}
