package main

import (
	"math"
	"math/rand/v2"
	"time"

	"regear/analyze/drivetrain"
	domain "regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/garage/internal/physics"
)

// planned is one run before it is driven.
type planned struct {
	pinion  int
	tire    float64 // mm
	minutes float64
	day     int
	air     float64 // °C of the day
	surface string
	wear    float64 // as in [physics.Setup]
	rest    float64 // minutes since the run before was read; 0 = cold
}

// Names of surfaces; with one surface a log has no label.
const (
	homeSurface  = "clay"
	roughSurface = "grass"
)

// driver is a car and the one who drives it and reads it.
type driver struct {
	*physics.Member
	r      *rand.Rand
	parts  []domain.Part  // that are read
	rough  float64        // rolling resistance on the second surface, as a factor
	cutOff physics.CutOff // of the ESC
	cooled bool           // before every run, to the air: a fan and a cold cloth on the motor
	// unread leaves a warm start to be told by the clock alone.
	unread bool
}

// load returns the load of a planned run's setup. It reports false if the car can't
// get round.
func (d *driver) load(p planned) (physics.Load, bool) {
	s := d.Setup(p.pinion, p.tire)
	s.Wear = p.wear
	if p.surface == roughSurface {
		s.Surface = d.rough
	}
	return d.Car.Load(s)
}

// coldPause is how long a car stands before a run that starts cold, on the day of the
// run before. What is left of that run's heat is then less than a gun shows.
const coldPause = 2 * time.Hour

// dayStart returns when the first run of a day starts; days are a week apart.
func dayStart(day int) time.Time { return time.Date(2026, time.March, 7+7*day, 9, 0, 0, 0, time.UTC) }

func duration(minutes float64) time.Duration { return time.Duration(minutes * float64(time.Minute)) }

// blank returns a planned run as a log has it before anything is read, the first of
// its day.
func (d *driver) blank(p planned, index int) domain.Run {
	return domain.Run{
		Position: domain.Position{File: "garage.csv", Line: index + 2},
		When:     dayStart(p.day).Add(duration(p.minutes)),
		HasTime:  true,
		Car:      "garage",
		Gearing:  drivetrain.Gearing{Pinion: p.pinion, Spur: d.Spur, Internal: d.Internal},
		Tire:     units.Millimeters(p.tire),
		Minutes:  units.Minutes(p.minutes),
		Surface:  p.surface,
		Cells:    d.Cells,
	}
}

// drive drives a plan and returns the log. The car must be able to drive every run.
func (d *driver) drive(plan []planned) (log []domain.Run) {
	var today physics.Fate
	var state physics.State
	var clock time.Time
	stood := 0.0 // s that the run before waited for its reading
	for i, p := range plan {
		fate := physics.NewFate(d.r)
		switch {
		case i == 0 || p.day != plan[i-1].day:
			today, clock = fate, dayStart(p.day)
		case p.rest > 0:
			clock = clock.Add(duration(p.rest + stood/60))
		default:
			clock = clock.Add(coldPause)
		}
		fate[physics.DayLuck] = today[physics.DayLuck]
		air := p.air + 1.2*d.r.NormFloat64()
		logged := d.blank(p, i)
		logged.Ambient = whole(air + d.Car.Luck.AirError(fate))
		if p.rest > 0 && !d.cooled {
			pack := air + between(d.r, 0, 6) // fresh from the charger
			state = d.Car.FreshPack(d.Car.Rest(state, air, 60*p.rest), pack)
			if !d.unread {
				logged.Start = d.read(func(part domain.Part) float64 {
					return d.Car.Parts(state)[part] + d.Car.Luck.Gun*d.r.NormFloat64()
				})
			}
		} else {
			state = physics.AllAt(air)
		}
		load, _ := d.load(p)
		out := d.Car.Run(load, physics.Outing{
			Air:     air,
			Minutes: p.minutes,
			Power:   d.Car.Luck.Power(fate),
			Start:   state,
			CutOff:  d.cutOff,
		})
		clock = clock.Add(duration(out.Minutes))
		logged.When = clock.Round(time.Minute)
		stood = d.Car.Luck.ReadAfter(fate)
		state = d.Car.Rest(out.End, air, stood)
		logged.Peak = d.read(func(part domain.Part) float64 {
			return d.Car.Luck.Reading(int(part), air, d.Car.Parts(state)[part]-air, fate)
		})
		logged.Minutes = units.Minutes(tenths(out.Minutes))
		logged.StoppedByHeat = out.Cut
		log = append(log, logged)
	}
	return log
}

func (d *driver) read(gun func(domain.Part) float64) (readings domain.Readings) {
	for _, part := range d.parts {
		readings.Set(part, whole(gun(part)))
	}
	return readings
}

func between(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }

func tenths(x float64) float64 { return math.Round(10*x) / 10 }

func whole(x float64) units.Celsius { return units.Celsius(math.Round(x)) }
