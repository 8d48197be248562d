package main

import (
	"strings"

	qr "github.com/piglig/go-qr"
)

// picturedLink draws a link as a QR code (ISO/IEC 18004) of half blocks, dark on light
// whatever the terminal's colours are. It is empty where the link is too long for one.
func picturedLink(link string) string {
	code, err := qr.EncodeText(link, qr.Medium)
	if err != nil {
		return "" // the link stands above it in letters
	}
	const quiet = 2 // modules around it; readers manage with fewer than the standard's 4
	const darkOnLight, plain = "\x1b[30;107m", "\x1b[0m"
	var b strings.Builder
	for y := -quiet; y < code.Size()+quiet; y += 2 {
		b.WriteString("  " + darkOnLight)
		for x := -quiet; x < code.Size()+quiet; x++ {
			b.WriteString(halves[dark(code, x, y)][dark(code, x, y+1)])
		}
		b.WriteString(plain + "\n")
	}
	return b.String()
}

// halves are the characters whose upper and lower half are light (0) or dark (1).
var halves = [2][2]string{{" ", "▄"}, {"▀", "█"}}

func dark(code *qr.QrCode, x, y int) int {
	inside := x >= 0 && y >= 0 && x < code.Size() && y < code.Size()
	if inside && code.Module(x, y) {
		return 1
	}
	return 0
}
