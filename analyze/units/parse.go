package units

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

// ErrNoUnit reports that a text holds a number without the unit that would give
// it a meaning.
var ErrNoUnit = errors.New("no unit")

var (
	errTooLarge   = errors.New("too large a number")
	errNoDuration = errors.New("not a duration: write minutes as 12.5 or 12:30")
)

// ParseTemperature reads a temperature that carries its unit: "80C", "80 °C",
// "176F", "176 °F", in any letter case. A decimal comma is read as a decimal point.
//
// It fails on a missing unit (wrapping [ErrNoUnit]), on text that is not a
// finite decimal number, and below absolute zero.
func ParseTemperature(text string) (Celsius, error) {
	number, unit := splitUnit(text)
	value, err := ParseNumber(number)
	if err != nil {
		return 0, err
	}
	c := Celsius(value)
	switch strings.ToLower(strings.TrimSpace(strings.TrimPrefix(strings.ReplaceAll(unit, "º", "°"), "°"))) {
	case "c":
	case "f":
		c = FromFahrenheit(value)
	case "":
		return 0, fmt.Errorf("%w: write %sC or %sF", ErrNoUnit, number, number)
	default:
		return 0, fmt.Errorf("unknown temperature unit %q: write C or F", unit)
	}
	if c < AbsoluteZero {
		return 0, errors.New("below absolute zero")
	}
	return c, nil
}

// millimetersPer holds the units of length by their names in lower case.
var millimetersPer = map[string]float64{
	"mm": 1, "cm": 10, "in": MillimetersPerInch, "inch": MillimetersPerInch, "inches": MillimetersPerInch,
	`"`: MillimetersPerInch, "″": MillimetersPerInch,
}

// ParseLength reads a length that carries its unit: "140mm", "14cm", "5.5in",
// `5.5"`, in any letter case; inches as [ParseInches] reads them.
//
// It fails on a missing unit (wrapping [ErrNoUnit]) and on text that is not a
// finite decimal number.
func ParseLength(text string) (Millimeters, error) {
	number, unit := splitUnit(spelled(text))
	each, known := millimetersPer[strings.ToLower(unit)]
	parse := ParseNumber
	if each == MillimetersPerInch || unit == "" {
		parse = ParseInches
	}
	value, err := parse(number)
	switch m := value * each; {
	case err != nil:
		return 0, err
	case unit == "":
		return 0, fmt.Errorf("%w: write %smm or %sin", ErrNoUnit, number, number)
	case !known:
		return 0, fmt.Errorf("unknown length unit %q: write mm, cm or in", unit)
	case math.IsInf(m, 0):
		return 0, errTooLarge
	default:
		return Millimeters(m), nil
	}
}

// fractionSigns spells out the fractions that have a sign of their own (Unicode, Number Forms
// and Latin-1 Supplement), as far as inches are parted into them.
var fractionSigns = strings.NewReplacer("½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8", "⁄", "/")

// spelled returns text without signs of fractions.
func spelled(text string) string {
	if strings.IndexFunc(text, func(r rune) bool { return r >= utf8.RuneSelf }) < 0 {
		return text
	}
	return fractionSigns.Replace(text)
}

// ParseInches reads a number of inches without its unit: a decimal number as [ParseNumber]
// reads it, or a fraction as tape measures show it: "4 1/8", "4-1/8", "4⅛", "7/8".
//
// It fails on anything else, such as a fraction of 1 or more, or a sign.
func ParseInches(text string) (float64, error) {
	text = strings.TrimSpace(spelled(text))
	above, below, isFraction := strings.Cut(text, "/")
	if !isFraction {
		return ParseNumber(text)
	}
	errNoFraction := errors.New("not a fraction: write inches as 4 1/8 or 4.125")
	above = strings.TrimSpace(above)
	whole := "0"
	if at := strings.LastIndexAny(above, " -"); at >= 0 {
		whole, above = strings.TrimRight(above[:at], " -"), above[at+1:]
	}
	var numbers [3]uint64
	for i, part := range []string{whole, above, below} {
		var err error
		if numbers[i], err = strconv.ParseUint(strings.TrimSpace(part), 10, 16); err != nil {
			return 0, errNoFraction
		}
	}
	if numbers[1] >= numbers[2] {
		return 0, errNoFraction
	}
	return float64(numbers[0]) + float64(numbers[1])/float64(numbers[2]), nil
}

// Cut parts a temperature or a length as somebody typed it into its number and the system whose
// unit it carries. ok is false where it carries no unit of a system.
func Cut(text string) (number string, system System, ok bool) {
	number, unit := splitUnit(spelled(text))
	unit = strings.ToLower(strings.TrimLeft(unit, "°º "))
	switch {
	case unit == "f", millimetersPer[unit] == MillimetersPerInch:
		return number, US, true
	case unit == "c", unit == "mm":
		return number, Metric, true
	}
	return text, Metric, false
}

// inWords are minutes and seconds with their units between them: "12 min 30 s", "12m30".
var inWords = regexp.MustCompile(`^(\d+) ?m(?:in|n)?\.? ?(\d{1,2}) ?(?:s|sec|sek)?\.?$`)

// ParseMinutes reads a duration: minutes as a decimal number ("12.5", "12'"), as
// minutes and seconds ("12:30", "12'30", and the latter with a closing " or ″, "12 min 30 s"), or as
// hours, minutes and seconds ("0:12:30"). Two numbers joined by a colon are always
// minutes and seconds, never hours and minutes.
//
// It fails on anything else, such as seconds alone, seconds of 60 or more, or a sign.
func ParseMinutes(text string) (Minutes, error) {
	text = strings.TrimSpace(text)
	if minutes, ok := cutMark(text, "'", "′", "’"); ok {
		return parseDecimalMinutes(minutes)
	}
	text = inWords.ReplaceAllString(text, "$1:$2")
	clock := strings.NewReplacer("'", ":", "′", ":", "’", ":").Replace(text)
	if !strings.Contains(clock, ":") {
		return parseDecimalMinutes(clock)
	}
	clock, _ = cutMark(clock, `"`, "″", "”")
	parts := strings.Split(clock, ":")
	if len(parts) > 3 {
		return 0, errNoDuration
	}
	var total float64
	for i, p := range parts {
		value, err := strconv.ParseUint(strings.TrimSpace(p), 10, 16)
		if err != nil {
			return 0, errNoDuration
		}
		if i > 0 && value >= 60 {
			return 0, fmt.Errorf("%d is too many for the part behind a colon, which counts to 59", value)
		}
		total = total*60 + float64(value)
	}
	return Minutes(total / 60), nil
}

func parseDecimalMinutes(text string) (Minutes, error) {
	value, err := ParseNumber(text)
	if err == nil && value < 0 {
		return 0, errors.New("a duration cannot be negative")
	}
	return Minutes(value), err
}

// cutMark returns text without the one of marks that it ends in, if any.
func cutMark(text string, marks ...string) (rest string, found bool) {
	for _, mark := range marks {
		if rest, found = strings.CutSuffix(text, mark); found {
			return rest, true
		}
	}
	return text, false
}

// ParseNumber reads a finite decimal number with a point or a comma as its
// decimal mark, and nothing else: no thousands mark, hexadecimal, underscore,
// "NaN" or "Inf". Both marks in one number are refused, because which of them
// is the decimal mark can't be told from one number alone.
func ParseNumber(text string) (float64, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0, errors.New("empty")
	}
	marks := 0
	for _, r := range text {
		switch {
		case r >= '0' && r <= '9', r == '-', r == '+', r == 'e', r == 'E':
		case r == '.', r == ',':
			marks++
		default:
			return 0, errors.New("not a number")
		}
	}
	if marks > 1 {
		return 0, errors.New("not a plain number: leave thousands marks out")
	}
	if comma := strings.IndexByte(text, ','); comma >= 0 {
		text = text[:comma] + "." + text[comma+1:]
	}
	value, err := strconv.ParseFloat(text, 64)
	if errors.Is(err, strconv.ErrRange) || math.IsInf(value, 0) {
		return 0, errTooLarge
	}
	if err != nil {
		return 0, errors.New("not a number")
	}
	return value, nil
}

// splitUnit cuts text behind the last digit or decimal mark.
func splitUnit(text string) (number, unit string) {
	text = strings.TrimSpace(text)
	end := strings.LastIndexAny(text, "0123456789.,") + 1
	if end == 0 {
		return text, "" // a word alone is not a unit
	}
	return strings.TrimSpace(text[:end]), strings.TrimSpace(text[end:])
}
