package plotting

import (
	"image/color"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	"regear/plotting/internal/canvas"

	xfont "golang.org/x/image/font"
)

// ink is a colour of the palette.
type ink = canvas.Ink

func newInk(name string, rgb uint32) ink {
	return ink{NRGBA: color.NRGBA{uint8(rgb >> 16), uint8(rgb >> 8), uint8(rgb), 0xff}, Name: name}
}

// The palette. The strong colours come from a search: of the colours at these lightnesses
// they stay furthest apart for normal and for colour-blind eyes. The lightnesses keep them
// apart in grey. The test of the palette says how far.
//
// Every colour is opaque, because programs differ in how they mix a translucent one.
var (
	paper  = newInk("paper", 0xFFFFFF)
	text   = newInk("text", 0x1A2530)
	quiet  = newInk("quiet", 0x55616D) // second-rank text
	grid   = newInk("grid", 0xDDE2E6)
	lane   = newInk("lane", 0xF0F2F4)
	first  = newInk("first", 0x034959)  // dark teal
	second = newInk("second", 0xA476DC) // lilac
	third  = newInk("third", 0x9D5E00)  // ochre
	danger = newInk("limit", 0xB23E28)  // brick
	band   = newInk("band", 0xCFE3E8)   // around first
	bar    = newInk("bar", 0xB5C9CF)    // beside a bar in first
)

// ink returns a role's colour.
func (r Role) ink() ink {
	switch r {
	case Forecast, MotorPart:
		return first
	case Present, ESCPart:
		return second
	case Limit, Missed:
		return danger
	case BatteryPart:
		return third
	default:
		return text
	}
}

// labelInk returns the colour of a text that names a role: its own where that is dark
// enough to read.
func (r Role) labelInk() ink {
	if i := r.ink(); i != second {
		return i
	}
	return quiet
}

// theme holds the sizes, in pixels of the layout.
type theme struct {
	title, text, small vg.Length // font sizes
	margin             vg.Length
	lane               vg.Length // height of a row of the lane
	dot                vg.Length // radius of a run
}

// themeFor returns the sizes for a layout: a narrow one, which is for phones, saves on
// margins and title, and never on the size of what must be read.
func themeFor(width vg.Length) theme {
	t := theme{title: 18, text: 13, small: 12, margin: 18, lane: 20, dot: 4}
	if width < 480 {
		t.title, t.small, t.margin = 16, 13, 12
	}
	return t
}

// sans returns the face of a size.
func sans(size vg.Length, bold bool) font.Face {
	f := font.Font{Typeface: "Liberation", Variant: "Sans"}
	if bold {
		f.Weight = xfont.WeightBold
	}
	return plot.DefaultTextHandler.Cache().Lookup(f, size)
}
