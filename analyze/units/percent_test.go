package units

import (
	"math"
	"testing"
)

func TestChance(t *testing.T) {
	for p, want := range map[float64]string{
		0: "under 1 %", 0.0099: "under 1 %", 0.01: "1 %", 0.29: "29 %", 0.57: "57 %", 0.7999: "79 %", math.Nextafter(0.8, 0): "79 %", 0.8: "80 %",
		0.99: "99 %", 0.9901: "over 99 %", 1: "over 99 %",
	} {
		if got := Chance(p); got != want {
			t.Errorf("Chance(%g) = %q, want %q", p, got, want)
		}
	}
}

func TestPercent(t *testing.T) {
	for _, c := range []struct {
		share    float64
		decimals int
		want     string
	}{
		{0.8, 0, "80 %"}, {0.125, 0, "13 %"}, {0.125, 1, "12.5 %"}, {0, 2, "0 %"}, {-0.001, 0, "0 %"}, {1, 6, "100 %"},
	} {
		if got := Percent(c.share, c.decimals); got != c.want {
			t.Errorf("Percent(%g, %d) = %q, want %q", c.share, c.decimals, got, c.want)
		}
	}
	for p, want := range map[float64]string{0.8: "80 %", 0.85: "85 %", 0.999: "99.9 %", 0.57: "57 %"} {
		if got := Confidence(p); got != want {
			t.Errorf("Confidence(%g) = %q, want %q", p, got, want)
		}
	}
}
