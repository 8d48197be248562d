package carfile

import (
	"fmt"
	"maps"
	"slices"
	"strconv"

	"regear/analyze/drivetrain"
	"regear/analyze/run"
)

// Check returns what is allowed in a car file and yet odd, or left out and worth
// having, in the order of its lines. A value that is likelier a slip than meant is to be asked
// about where a driver enters it.
func (f *File) Check() []run.Problem {
	p := &problems{file: f.Name, lines: f.lines}
	if len(f.Cars) == 0 {
		p.add("cars", "", "the file has no car", "add one with `regear car add`")
	}
	for _, name := range slices.Sorted(maps.Keys(f.Cars)) {
		p.checkCar(join("cars", name), f.Cars[name])
	}
	return p.byLine()
}

func (p *problems) checkCar(at string, car *Car) {
	p.between(join(at, "internal_ratio"), car.Internal, leastInternal, mostInternal, "look whether it is the ratio behind the spur alone")
	p.between(join(at, "motor_kv"), car.KV, leastKV, mostKV, "look at the motor's label")
	p.between(join(at, "cells"), float64(car.Cells), 1, mostCells, "write the cells in series, not the milliampere-hours")
	for _, tire := range slices.Sorted(maps.Keys(car.Tires)) {
		key := join(at, "tires", tire)
		p.between(key, float64(car.Tires[tire]), leastTire, mostTire, "look at the unit")
		if text, ok := car.Rims[tire]; ok {
			p.ask(key, text, drivetrain.RimSize, drivetrain.MeasureAcrossTire)
		}
	}
	p.checkGears(at, car.Boxes)
	p.checkMount(at, car)
	p.checkLimits(at, car.Limits)
}

// ask adds what a driver should be asked about.
func (p *problems) ask(key, value, what, do string) {
	p.add(key, value, what, do)
	p.found[len(p.found)-1].Ask = true
}

// between tells of a value outside what is usual. 0 is absent.
func (p *problems) between(key string, value, least, most float64, do string) {
	if value != 0 && (value < least || value > most) {
		p.ask(key, fmt.Sprintf("%.6g", value), fmt.Sprintf("is outside the usual %g to %g", least, most), do)
	}
}

func (p *problems) checkGears(at string, boxes []drivetrain.Box) {
	main := boxes[0]
	switch {
	case len(main.Spurs) == 0:
		p.add(at, "", "no spurs are named", "add the one that is fitted, as in "+examples["spurs"])
	case len(main.Pinions) == 0:
		p.add(at, "", "no pinions are named, so advice looks at every number of teeth near the last one", "add those that you own, as in "+examples["pinions"])
	}
	if !main.Pitch.IsKnown() && len(boxes) > 1 {
		p.add(at, "", "other_gears are named and the car's own pitch is not, so all are taken to mesh", "add a line such as "+examples["pitch"])
	}
	for i, b := range boxes {
		key := at
		if i > 0 {
			key = join(at, "other_gears")
			if len(b.Spurs) == 0 || len(b.Pinions) == 0 {
				p.add(key, "", "a box of gears without both pinions and spurs meshes with nothing", "leave it out, or add what is missing")
			}
		}
		if len(b.Pinions) == 0 {
			continue
		}
		largest := b.Pinions[len(b.Pinions)-1]
		if len(b.Spurs) > 0 && largest >= b.Spurs[0] {
			p.ask(join(key, "pinions"), strconv.Itoa(largest), fmt.Sprintf("is no smaller than the spur of %d", b.Spurs[0]), "look whether spurs and pinions are swapped")
		} else if largest > mostPinion {
			p.ask(join(key, "pinions"), strconv.Itoa(largest), fmt.Sprintf("is more than the usual %d teeth", mostPinion), "count again")
		}
	}
}

func (p *problems) checkMount(at string, car *Car) {
	m, key := car.Mount, join(at, "mount")
	if m == nil {
		return
	}
	if m.Most-m.Least > widestSlot {
		p.ask(key, "", fmt.Sprintf("the slot would take %.0f to %.0f teeth in all, which is very long", m.Least, m.Most), "look at the unit of closer and farther")
	}
	anyPair, fits := false, false
	for _, b := range car.Boxes {
		for _, spur := range b.Spurs {
			for _, pinion := range b.Pinions {
				anyPair, fits = true, fits || m.Reach(b.Pitch, pinion, spur) == drivetrain.Inside
			}
		}
	}
	if anyPair && !fits {
		p.ask(key, "", fmt.Sprintf("no pair of the gears named fits the mount's %.0f to %.0f teeth in all", m.Least, m.Most),
			"add up the teeth of pinion and spur as they are fitted now")
	}
}

func (p *problems) checkLimits(at string, limits run.ByPart[Limit]) {
	if limits.Len() == 0 {
		p.add(at, "", "no limits are named, so the documented defaults are used", "add those on the makers' sheets below a line "+examples["limits"])
	}
	for part, l := range limits.All() {
		key := join(at, "limits", part.String())
		p.between(key, float64(l.Temperature), leastLimit, mostLimit, "look at the unit: this is in °C")
		if l.Whose == "" {
			p.add(key, "", "it is not said whose limit this is", "add a line such as "+examples[part.String()+"_whose"])
		}
	}
}
