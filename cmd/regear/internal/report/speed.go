package report

import (
	"fmt"

	"regear/advise"
	"regear/analyze/units"
)

// kilometersPerMile is exact by the international inch.
const kilometersPerMile = 1.609344

// speed writes a road speed in both units, the system's own first.
func speed(u units.System, kmh float64) string {
	metric, us := whole(kmh)+" km/h", whole(kmh/kilometersPerMile)+" mph"
	if u == units.US {
		return us + " (" + metric + ")"
	}
	return metric + " (" + us + ")"
}

// topSpeed says how fast the pick could turn at most, for heat to be weighed against.
func (t adviceWords) topSpeed() string {
	prose := fmt.Sprintf("Unloaded top speed, a bound that no car reaches: %s on %s",
		speed(t.Units, t.Pick.TopSpeed), t.gearing(t.Pick.Gearing))
	if now := t.candidate(t.Current.Gearing); now != nil && now != t.Pick {
		prose += fmt.Sprintf(", %s as it is now", speed(t.Units, now.TopSpeed))
	}
	return prose + fmt.Sprintf(" (kV %s, %s at %s V, freshly charged).",
		trimmed(t.MotorKV, 0), count(t.Next.Cells, "cell"), trimmed(advise.FullCellVolts, 1))
}
