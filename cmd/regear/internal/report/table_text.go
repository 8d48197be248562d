package report

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/jedib0t/go-pretty/v6/table"

	"regear/analyze/drivetrain"
	"regear/analyze/units"
)

// GearTable is every pinion and spur at hand.
type GearTable struct {
	Car        string
	Internal   float64
	NoInternal bool // it was not given, and 1 is used
	HasMount   bool // its reach is known
	Pitch      drivetrain.Pitch
	Tires      []Tire
	Rows       []GearRow
}

// Tire is a tire at hand; it may have no name.
type Tire struct {
	Name     string
	Diameter units.Millimeters
}

// GearRow is one pair of gears.
type GearRow struct {
	drivetrain.Gearing
	Pitch drivetrain.Pitch
	Reach drivetrain.Reach
}

// TableText writes a block of lines for each spur.
func TableText(w io.Writer, t GearTable, s Style) error {
	var blocks []string
	for _, spur := range t.spurs() {
		blocks = append(blocks, t.block(spur, s))
	}
	blocks = append(blocks, s.paragraph("", t.legend()))
	_, err := io.WriteString(w, strings.Join(blocks, "\n"))
	return err
}

func (t GearTable) spurs() []int {
	var spurs []int
	for _, r := range t.Rows {
		spurs = append(spurs, r.Spur)
	}
	slices.Sort(spurs)
	return slices.Compact(spurs)
}

func (t GearTable) block(spur int, s Style) string {
	header := table.Row{"pinion", "ratio"}
	for _, tire := range t.Tires {
		header = append(header, strings.TrimSpace(tire.Name+" "+s.Units.tire(tire.Diameter))+"\n"+s.Units.lengthUnit()+" a turn")
	}
	apart := t.Pitch.IsKnown()
	if apart {
		header = append(header, "shafts\nmm apart")
	}
	var rows []table.Row
	title := fmt.Sprintf("Spur %d:\n", spur)
	for _, r := range t.Rows {
		if r.Spur != spur {
			continue
		}
		if !r.Pitch.Meshes(t.Pitch) {
			title = fmt.Sprintf("Spur %d (%v):\n", spur, r.Pitch)
		}
		row := table.Row{strconv.Itoa(r.Pinion), fixed(r.FinalDriveRatio(), 2)}
		for _, tire := range t.Tires {
			row = append(row, s.Units.rollout(r.Rollout(tire.Diameter)))
		}
		if apart {
			row = append(row, fixed(float64(r.Pitch.CentreDistance(r.Pinion, r.Spur)), 1))
		}
		rows = append(rows, append(row, reachMarks[r.Reach]))
	}
	return title + s.table(append(header, ""), rows)
}

var reachMarks = map[drivetrain.Reach]string{
	drivetrain.TooClose: "too small for the mount",
	drivetrain.TooFar:   "too large for the mount",
}

func (t GearTable) legend() string {
	prose := "Ratio: motor turns for one turn of the wheels."
	if t.NoInternal {
		prose += " No internal ratio was given, so 1 is used: give it with --internal-ratio."
	} else {
		prose += fmt.Sprintf(" Internal ratio %s.", trimmed(t.Internal, 4))
	}
	if len(t.Tires) > 0 {
		prose += " Below each tire: the distance in one motor turn (rollout); longer is taller."
	} else {
		prose += " For the rollout name a tire, as in --tire 118mm."
	}
	if t.Pitch.IsKnown() {
		prose += fmt.Sprintf(" Shafts apart: of standard gears, %v where not said otherwise.", t.Pitch)
	}
	return prose
}
