package ask

import (
	"maps"
	"slices"

	"regear/advise"
	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/drivetrain"
	"regear/analyze/run"
	"regear/analyze/units"
)

// AtHand is what was said of the gears and tires at hand. The zero AtHand says nothing.
type AtHand struct {
	pinions, spurs Optional[[]int]
	internal       Optional[float64]
	tires          []Tire
}

// Values returns all that can be said of h. Of the tire it can be said several times.
func (h *AtHand) Values() []Value {
	return []Value{
		Gears.Value("pinions", "pinions, as in 11-16 or 11,13,15 (default: the car file's)", &h.pinions),
		Gears.Value("spurs", "spurs (default: the car file's)", &h.spurs),
		Above0.Value("internal-ratio", "internal ratio behind the spur (default: the car file's, else 1)", &h.internal),
		{Name: tireName, Kind: TireChoice.Name, Units: TireChoice.Units, Take: h.addTire,
			Usage: "tire diameter, as in 118mm or 4.65in, or its name in the car file; repeatable\n(default: all in the car file)"},
	}
}

func (h *AtHand) addTire(text string) error {
	tire, err := TireChoice.Parse(text)
	if err == nil {
		h.tires = append(h.tires, tire)
	}
	return err
}

// GearTable is every pinion and spur at hand.
type GearTable struct {
	Car        string
	Internal   float64
	NoInternal bool // it is not known, and 1 is used
	HasMount   bool // its reach is known
	Pitch      drivetrain.Pitch
	Tires      []TireAtHand
	Rows       []GearRow
}

// TireAtHand is a tire; it may have no name.
type TireAtHand struct {
	Name     string
	Diameter units.Millimeters
}

// GearRow is one pair of gears.
type GearRow struct {
	drivetrain.Gearing
	Pitch drivetrain.Pitch
	Reach drivetrain.Reach
}

// Table completes what was said with the car file and then, where there is one, the last run,
// around whose pinion the others lie. It fails with a [*ValueError] or a [*MissingError].
func (h *AtHand) Table(setup *carfile.Car, last *analyze.Conditions) (*GearTable, error) {
	gears := gearsAtHand(setup, h.pinions, h.spurs)
	internal, origin := internalOf(setup)
	main := &gears.Boxes[0]
	if last != nil {
		around, _ := advise.PinionsAround(last.Gearing.Pinion, last.Gearing.Pinion)
		main.Pinions, _ = gearsOr(main.Pinions, around)
		main.Spurs, _ = gearsOr(main.Spurs, []int{last.Gearing.Spur})
		internal, origin = carFileOr(setup.Internal, last.Gearing.Internal)
	}
	internal, origin = h.internal.OrElse(internal, origin)
	t := &GearTable{Car: setup.Name, Internal: internal, NoInternal: origin == advise.Default, Pitch: main.Pitch, HasMount: gears.Mount != nil}
	if err := tooMany(gears); err != nil {
		return t, err
	}
	for _, box := range gears.Boxes {
		for _, g := range advise.Pinions(drivetrain.Gearing{Internal: internal}, box.Pinions, box.Spurs) {
			row := GearRow{Gearing: g, Pitch: box.Pitch}
			if gears.Mount != nil {
				row.Reach = gears.Mount.Reach(box.Pitch, g.Pinion, g.Spur)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	switch {
	case len(t.Rows) == 0 && len(main.Pinions) == 0:
		return t, &MissingError{"pinions", "which pinions?"}
	case len(t.Rows) == 0:
		return t, &MissingError{"spurs", "which spurs?"}
	}
	return t, h.tiresOf(t, setup, last)
}

func (h *AtHand) tiresOf(t *GearTable, setup *carfile.Car, last *analyze.Conditions) error {
	for _, choice := range h.tires {
		diameter, err := choice.Of(setup)
		if err != nil {
			return &ValueError{tireName, choice.Name, err}
		}
		t.Tires = append(t.Tires, TireAtHand{choice.Name, diameter})
	}
	if len(h.tires) > 0 {
		return nil
	}
	for _, name := range slices.Sorted(maps.Keys(setup.Tires)) {
		t.Tires = append(t.Tires, TireAtHand{name, setup.Tires[name]})
	}
	if len(t.Tires) == 0 && last != nil {
		t.Tires = append(t.Tires, TireAtHand{Diameter: last.Tire})
	}
	return nil
}

// Problems returns what to ask about, each as a problem of the value that says it.
func (h *AtHand) Problems(setup *carfile.Car) []run.Problem {
	var all []run.Problem
	for _, tire := range h.tires {
		all = append(all, tire.Problems(tireName, setup)...)
	}
	return all
}
