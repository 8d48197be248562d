package carfile

import (
	"fmt"
	"strconv"
	"strings"
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

// heading is what a new car file begins with, above its first car.
const heading = `# The car file of regear: what you would otherwise type each time.
# A line that begins with # is a remark; take the # away to use what it shows.
# See what is odd with: regear car check

# Units that answers are shown in: "metric" or "us".
units = %s

`

// Heading returns what a new car file begins with, above its first car, for one of
// the systems of units.
func Heading(system string) string { return fmt.Sprintf(heading, quoted(system)) }

// Text returns the car's part of a car file, which can stand behind any other car's.
func (d Draft) Text() string {
	var b strings.Builder
	table := "cars." + quotedKey(d.Name)
	fmt.Fprintf(&b, "[%s]\n", table)
	b.WriteString("# The reduction behind the spur (transmission, differential); 1 if there is none.\n")
	setting(&b, "internal_ratio", d.Internal)
	b.WriteString("# Unloaded turns a minute for each volt, and battery cells in series.\n")
	setting(&b, "motor_kv", d.KV)
	setting(&b, "cells", d.Cells)
	b.WriteString("# Gears that you own, and the pitch of their teeth: \"module 0.8\" or \"48 dp\".\n")
	setting(&b, "pitch", quotedOrBlank(d.Pitch))
	setting(&b, "spurs", teethList(d.Spurs))
	setting(&b, "pinions", teethList(d.Pinions))

	b.WriteString("\n# Tires by a name of your own, with their diameter.\n")
	fmt.Fprintf(&b, "[%s.tires]\n", table)
	for i, name := range d.TireNames {
		fmt.Fprintf(&b, "%s = %s\n", quotedKey(name), quoted(d.TireSizes[i]))
	}
	if len(d.TireNames) == 0 {
		b.WriteString("# " + examples["tires"] + "\n")
	}

	b.WriteString("\n# Which pairs the motor's slot takes: the least and the most teeth of pinion and\n" +
		"# spur together. Or how far it moves around a pair that is known to fit:\n" +
		"#   known_pinion = 17, known_spur = 68, closer = \"2mm\", farther = \"3mm\" (a line each)\n")
	if d.LeastTeeth != "" && d.MostTeeth != "" {
		fmt.Fprintf(&b, "[%s.mount]\nleast_teeth = %s\nmost_teeth = %s\n", table, d.LeastTeeth, d.MostTeeth)
	} else {
		fmt.Fprintf(&b, "# [%s.mount]\n# %s\n# %s\n", table, examples["least_teeth"], examples["most_teeth"])
	}

	b.WriteString("\n# Limits, with their unit, and whose they are. The makers' sheets come first.\n")
	fmt.Fprintf(&b, "[%s.limits]\n", table)
	for _, l := range []struct{ part, under, whose string }{
		{"motor", d.Motor, d.MotorWhose}, {"esc", d.ESC, d.ESCWhose}, {"battery", d.Battery, d.BatteryWhose},
	} {
		setting(&b, l.part, quotedOrBlank(l.under))
		if l.under != "" {
			setting(&b, l.part+"_whose", quotedOrBlank(l.whose))
		}
	}
	return b.String()
}

// setting writes one setting, or a comment that shows how it is written.
func setting(b *strings.Builder, key, value string) {
	if value == "" {
		fmt.Fprintf(b, "# %s\n", examples[key])
		return
	}
	fmt.Fprintf(b, "%s = %s\n", key, value)
}

func quotedOrBlank(text string) string {
	if text == "" {
		return ""
	}
	return quoted(text)
}

// quoted writes a TOML basic string.
func quoted(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range text {
		switch {
		case r == '"' || r == '\\':
			b.WriteString("\\" + string(r))
		case r < ' ' || r == 0x7f:
			fmt.Fprintf(&b, "\\u%04X", r)
		default:
			b.WriteRune(r)
		}
	}
	return b.String() + `"`
}

// quotedKey writes a key bare where TOML allows that.
func quotedKey(key string) string {
	for _, r := range key {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_') {
			return quoted(key)
		}
	}
	if key == "" {
		return `""`
	}
	return key
}

func teethList(teeth []int) string {
	if len(teeth) == 0 {
		return ""
	}
	words := make([]string, len(teeth))
	for i, t := range teeth {
		words[i] = strconv.Itoa(t)
	}
	return "[" + strings.Join(words, ", ") + "]"
}
