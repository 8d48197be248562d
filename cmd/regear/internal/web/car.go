package web

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"reflect"
	"slices"
	"strconv"
	"strings"

	"regear/advise/carfile"
	"regear/analyze"
	"regear/analyze/run"
	"regear/analyze/units"
	"regear/cmd/regear/internal/app"
	"regear/cmd/regear/internal/ask"
	"regear/cmd/regear/internal/report"
)

// carPage shows what the car file says of a car, as a form.
type carPage struct {
	Car     string
	HasRuns bool
	Saved   bool
	Notes   []string // what the reader should know and need not mend here

	Seen  string // marks what the fields were filled in with
	Units string // that bare numbers in the fields are in
	Unsaved

	Limits       []carLimit
	Pinions      []chip
	OtherPinions *field
	Gears, Motor []*field
	Tires        [][2]*field // name and diameter
	Mount        []*field
	MountSays    string // what the file says of the mount in another way
	OtherGears   bool   // the file has gears that the form does not show
}

type carLimit struct {
	*field
	Part      string
	WhoseName string // of the field
	Whose     []chip
}

// chip is a box to tick, or one of several to choose from.
type chip struct {
	Value, Words string
	Checked      bool
}

const ratioHint = "see the car's manual, or count the spur's turns for one turn of both wheels; 1 without a gear behind the spur"

// Whose a limit can be, in the words that the car file holds.
const (
	makers    = "the maker's sheet"
	ownChoice = "own choice"
)

// thisCar is a car that the car file or the log book knows.
type thisCar struct {
	name  string // as the file has it or, where it lacks the car, the book
	file  *carfile.File
	setup *carfile.Car // nil where the file lacks the car
	runs  []run.Run
}

func (r *request) thisCar(name string) (*thisCar, error) {
	logs, err := r.logs()
	if err != nil {
		return nil, err
	}
	c := &thisCar{name: strings.TrimSpace(name)}
	if c.file, err = r.Cars(); err != nil {
		return nil, ofCar(c.name, &app.CarFileError{Err: err})
	}
	if only := c.file.Only(); c.name == "" && len(logs.Names) == 1 {
		c.name = logs.Names[0]
	} else if c.name == "" && len(logs.Names) == 0 && only != nil {
		c.name = only.Name
	}
	toCars := &link{"/", "To the cars"}
	if c.name == "" {
		return nil, &problem{http.StatusBadRequest, "Which car?", errors.New("no car was named: choose one"), toCars}
	}
	inBook, isInBook := analyze.CarNamed(c.name, logs.Names)
	if isInBook {
		c.runs = logs.ByCar[inBook]
	}
	setup, _ := c.file.Of(c.name)
	switch {
	case setup.Name != "":
		c.name, c.setup = setup.Name, setup
	case isInBook:
		c.name = inBook
	default:
		return nil, &problem{http.StatusNotFound, "There is no such car", fmt.Errorf("neither the log book nor the car file knows a car called “%s”", c.name), toCars}
	}
	return c, nil
}

func showCar(r *request) (reply, error) {
	query := r.URL.Query()
	car, err := r.thisCar(query.Get("car"))
	if err != nil {
		return nil, err
	}
	f := newCarForm(r, car, 0)
	f.Saved = query.Has("saved")
	if query.Has("keep") {
		f.keep()
	}
	f.keepTyped(query)
	return f.page(), nil
}

func saveCar(r *request) (reply, error) {
	if err := r.ParseForm(); err != nil {
		return nil, unreadable(err)
	}
	r.units = unitsNamed(r.PostForm.Get("units"), r.units)
	const tries = 5 // against others that write to the file
	var err error
	for range tries {
		r.Cars = r.site.Cars // as it is by now
		var answer reply
		if answer, err = r.saveCar(); !errors.Is(err, app.ErrCarChanged) {
			return answer, err
		}
	}
	return nil, &problem{http.StatusServiceUnavailable, "Not saved", err, nil}
}

// saveCar saves what the form says to the car file as it is now, or shows the form again.
func (r *request) saveCar() (reply, error) {
	car, err := r.thisCar(r.PostForm.Get("car"))
	if err != nil {
		return nil, err
	}
	rows := 0
	for r.PostForm.Has(tireName(rows)) {
		rows++
	}
	f := newCarForm(r, car, rows)
	seen := f.seen()
	to := f.read(r.PostForm)
	place := redirect(address("/car", "car", car.name, "saved", "yes"))
	switch {
	case f.anyMarked:
		return f.page(), nil
	case reflect.DeepEqual(to, f.now) && car.setup != nil:
		return place, nil
	case r.PostForm.Get("seen") != seen:
		f.Changes = f.changes(to)
		return f.page(), nil
	}
	err = r.SaveCar(f.now, to, r.units, f.isMeant)
	switch {
	case err == nil:
		return place, nil
	case errors.Is(err, app.ErrCarChanged), errors.As(err, new(*app.CarFileError)):
		return nil, ofCar(car.name, err)
	case !errors.Is(err, app.ErrNotMeant):
		f.blame(err)
	}
	return f.page(), nil
}

type carForm struct {
	*request
	carPage
	car *thisCar
	now carfile.Draft // as the file has it

	fields    map[string]*field // by the key below the car in the file
	anyMarked bool
}

// plain are the values that stand in the file as they are typed.
var plain = map[string]func(*carfile.Draft) *string{
	"pitch":          func(d *carfile.Draft) *string { return &d.Pitch },
	"internal-ratio": func(d *carfile.Draft) *string { return &d.Internal },
	"kv":             func(d *carfile.Draft) *string { return &d.KV },
	"cells":          func(d *carfile.Draft) *string { return &d.Cells },
}

func limitOfCar(d *carfile.Draft, part run.Part) (under, whose *string) {
	switch part {
	case run.Motor:
		return &d.Motor, &d.MotorWhose
	case run.ESC:
		return &d.ESC, &d.ESCWhose
	}
	return &d.Battery, &d.BatteryWhose
}

// newCarForm returns the form as the file fills it in, with as many rows for tires as it was
// sent with, 0 for one that was not.
func newCarForm(r *request, car *thisCar, rows int) *carForm {
	f := &carForm{request: r, car: car, now: car.file.Draft(car.name), fields: map[string]*field{}}
	f.Of = "car file"
	f.Car, f.HasRuns, f.Units = car.name, len(car.runs) > 0, r.units.String()
	if car.setup == nil {
		f.Notes = append(f.Notes, fmt.Sprintf("The car file does not have %s yet. It is added when you save.", car.name))
	}
	for _, part := range run.Parts {
		under, whose := limitOfCar(&f.now, part)
		shown := f.add("limits."+part.String(), field{Name: part.String() + "-limit", Label: capital(part.Word()) + " under", Unit: r.units.TemperatureUnit(), Keys: decimals,
			Value: shownLimit(*under, r.units), Hint: "left blank, it is assumed: " + report.AssumedLimit(part, r.units)})
		f.Limits = append(f.Limits, carLimit{shown, part.Word(), part.String() + "-whose", whoseChips(*whose)})
	}
	f.Pinions = pinionChips(car, f.now.Pinions)
	f.OtherPinions = f.add("pinions", field{Name: "other-pinions", Label: "Other pinions", Hint: "as in 9 or 24-26"})
	f.Gears = []*field{
		f.add("spurs", field{Name: "spurs", Label: "Spurs at hand", Value: typedTeeth(f.now.Spurs), Hint: "as in 68,72"}),
		f.add("pitch", field{Name: "pitch", Label: "Pitch of the teeth", Value: f.now.Pitch, Hint: "as in “module 0.8” or “48 dp”"}),
		f.add("internal_ratio", field{Name: "internal-ratio", Label: "Internal ratio", Value: f.now.Internal, Keys: decimals, Whole: true, Hint: ratioHint}),
	}
	f.OtherGears = car.setup != nil && len(car.setup.Boxes) > 1
	f.Motor = []*field{
		f.add("motor_kv", field{Name: "kv", Label: "Motor kV", Value: f.now.KV, Keys: decimals, Hint: "turns a minute for each volt"}),
		f.add("cells", field{Name: "cells", Label: "Cells in series", Value: f.now.Cells, Keys: digits}),
	}
	blank := 1
	if len(f.now.TireNames) == 0 {
		blank = 2
	}
	for i := range max(rows, len(f.now.TireNames)+blank) {
		name, size := "", ""
		if i < len(f.now.TireNames) {
			name, size = f.now.TireNames[i], shownTire(f.now.TireSizes[i], r.units)
		}
		n := strconv.Itoa(i + 1)
		shown := [2]*field{{Name: tireName(i), Label: "Name of tire " + n, Value: name},
			{Name: tireSize(i), Label: "Across tire " + n, Unit: r.units.LengthUnit(), Keys: decimals, Value: size}}
		shown[0].ID, shown[1].ID = shown[0].Name, shown[1].Name
		f.Tires = append(f.Tires, shown)
	}
	f.Mount = []*field{
		f.add("mount", field{Name: "mount-least", Label: "Least teeth together", Value: f.now.LeastTeeth, Keys: digits}),
		f.add("mount.most_teeth", field{Name: "mount-most", Label: "Most teeth together", Value: f.now.MostTeeth, Keys: digits}),
	}
	if car.setup != nil && car.setup.Mount != nil && f.now.LeastTeeth == "" {
		f.MountSays = fmt.Sprintf("%.4g to %.4g", car.setup.Mount.Least, car.setup.Mount.Most)
	}
	return f
}

func tireName(i int) string { return fmt.Sprintf("tire-%d-name", i+1) }
func tireSize(i int) string { return fmt.Sprintf("tire-%d-size", i+1) }

func (f *carForm) add(key string, shown field) *field {
	shown.ID = shown.Name
	f.fields[key] = &shown
	return &shown
}

// shownLimit returns a limit of the file in the units shown.
func shownLimit(text string, u units.System) string {
	if c, err := carfile.ParseLimit(text); err == nil {
		return u.ReadingNumber(c)
	}
	return ""
}

func shownTire(text string, u units.System) string {
	if m, err := carfile.ParseTire(text); err == nil {
		return u.TireNumber(m)
	}
	return ""
}

func whoseChips(now string) []chip {
	now = strings.TrimSpace(now)
	all := []chip{{Value: makers, Words: "the maker's"}, {Value: ownChoice, Words: ownChoice}}
	if now != "" && now != makers && now != ownChoice {
		all = append(all, chip{Value: now, Words: now})
	}
	for i := range all {
		all[i].Checked = all[i].Value == now
	}
	return all
}

// pinionChips are the pinions at hand, those of the runs, and their neighbours.
func pinionChips(car *thisCar, atHand []int) []chip {
	known := slices.Clone(atHand)
	for _, r := range car.runs {
		known = append(known, r.Gearing.Pinion)
	}
	if len(known) == 0 {
		known = []int{15, 19} // of many cars; common practice, no source
	}
	var all []chip
	const neighbours = 3
	for teeth := 1; teeth <= carfile.MaxTeeth; teeth++ {
		if slices.ContainsFunc(known, func(n int) bool { return teeth-neighbours <= n && n <= teeth+neighbours }) {
			all = append(all, chip{strconv.Itoa(teeth), strconv.Itoa(teeth), slices.Contains(atHand, teeth)})
		}
	}
	return all
}

func typedTeeth(teeth []int) string {
	words := make([]string, len(teeth))
	for i, t := range teeth {
		words[i] = strconv.Itoa(t)
	}
	return strings.Join(words, ",")
}

// seen marks what the file said of the car.
func (f *carForm) seen() string { return fmt.Sprintf("%q", inWords(f.now)) }

// keep fills in what was typed under What if: limits, tire and cells.
func (f *carForm) keep() {
	fitted, err := f.fitted()
	if err != nil {
		return
	}
	var typed whatIf
	_, _ = typed.read(f.request, fitted) // what makes no sense is marked in its field
	kept := false
	for _, said := range typed.fields {
		if !said.Asked {
			continue
		}
		part, isLimit := strings.CutPrefix(said.Name, limitOf)
		switch {
		case isLimit && strings.EqualFold(said.Value, "none"):
			f.Notes = append(f.Notes, "“none” for "+part+" can't be kept: the car file holds a limit or leaves it blank, and then one is assumed.")
			continue
		case isLimit:
			at := slices.IndexFunc(f.Limits, func(l carLimit) bool { return l.Name == part+"-limit" })
			f.Limits[at].Value, f.Limits[at].Error, f.Limits[at].Whose = said.Value, said.Error, whoseChips(ownChoice)
		case said.Name == "cells":
			f.fields["cells"].Value, f.fields["cells"].Error = said.Value, said.Error
		case said.Name == "tire" && !f.hasTire(said.Value):
			row := f.Tires[len(f.now.TireNames)]
			row[0].Value, row[1].Value, row[1].Error = "new tire", said.Value, said.Error
		default:
			continue
		}
		kept = true
	}
	if kept {
		f.Notes = append(f.Notes, "What you typed under What if is filled in below. Save to keep it.")
	}
}

// keepTyped fills in what was typed into the form before other units were chosen.
func (f *carForm) keepTyped(sent url.Values) {
	if !sent.Has("seen") {
		return
	}
	rows := len(f.Tires)
	for sent.Has(tireName(rows)) {
		rows++
	}
	then := newCarForm(f.in(unitsNamed(sent.Get("units"), f.units)), f.car, rows)
	*f = *newCarForm(f.request, f.car, rows)
	was := then.shown()
	for i, shown := range f.shown() {
		shown.keepTyped(sent, was[i])
	}
	for i := range f.Limits {
		f.Limits[i].Whose = whoseChips(sent.Get(f.Limits[i].WhoseName))
	}
	for i := range f.Pinions {
		f.Pinions[i].Checked = slices.Contains(sent["pinions"], f.Pinions[i].Value)
	}
}

// shown returns the fields to type into, in the order of the page.
func (f *carForm) shown() []*field {
	var all []*field
	for _, l := range f.Limits {
		all = append(all, l.field)
	}
	all = append(all, f.OtherPinions)
	for _, row := range f.Tires {
		all = append(all, row[:]...)
	}
	return slices.Concat(all, f.Motor, f.Gears, f.Mount)
}

// hasTire reports whether a tire that was typed is one of the file's.
func (f *carForm) hasTire(typed string) bool {
	choice, err := ask.TireChoice.Parse(ask.TireChoice.Units.Behind(typed, f.units))
	return err == nil && (choice.Name != "" || slices.ContainsFunc(f.now.TireSizes, func(size string) bool {
		m, _ := carfile.ParseTire(size)
		return m == choice.Diameter
	}))
}

// read reads the form as it was sent. What stands as it was shown is as the file has it, to the
// last digit.
func (f *carForm) read(sent url.Values) carfile.Draft {
	to := &ask.Car{Draft: carfile.Draft{Name: f.now.Name}}
	set := func(name string, shown *field, text, rest string) {
		value, _ := ask.Named(to.Values(), name)
		f.mark(shown, value.Set(value.Units.Behind(text, f.units)+rest))
	}
	// typed returns what was sent, and whether it differs from what was shown.
	typed := func(shown *field) (text string, touched bool) {
		was := strings.TrimSpace(shown.Value)
		shown.Value = strings.TrimSpace(sent.Get(shown.Name))
		text = shown.typed(shown.Value)
		return text, text != was
	}
	for i, part := range run.Parts {
		l := &f.Limits[i]
		was, wasWhose := limitOfCar(&f.now, part)
		under, whose := limitOfCar(&to.Draft, part)
		text, touched := typed(l.field)
		said := strings.TrimSpace(sent.Get(l.WhoseName))
		l.Whose = whoseChips(said)
		switch {
		case text == "": // and then it is nobody's
		case touched:
			set(l.Name, l.field, text, ", "+said)
		case said == strings.TrimSpace(*wasWhose):
			*under, *whose = *was, *wasWhose
		default:
			*under, *whose = *was, said
		}
	}
	ticked := sent["pinions"]
	for i := range f.Pinions {
		f.Pinions[i].Checked = slices.Contains(ticked, f.Pinions[i].Value)
	}
	if other, _ := typed(f.OtherPinions); other != "" {
		ticked = append(slices.Clone(ticked), other)
	}
	if len(ticked) > 0 {
		set("pinions", f.OtherPinions, strings.Join(ticked, ","), "")
	}
	to.Pinions = sameTeeth(f.now.Pinions, to.Pinions)
	if spurs, _ := typed(f.fields["spurs"]); spurs != "" {
		set("spurs", f.fields["spurs"], spurs, "")
	}
	to.Spurs = sameTeeth(f.now.Spurs, to.Spurs)
	for _, shown := range slices.Concat(f.Gears[1:], f.Motor) {
		at := plain[shown.Name]
		switch text, touched := typed(shown); {
		case !touched:
			*at(&to.Draft) = *at(&f.now)
		case text != "":
			set(shown.Name, shown, text, "")
		}
	}
	least, leastTouched := typed(f.Mount[0])
	most, mostTouched := typed(f.Mount[1])
	switch {
	case !leastTouched && !mostTouched:
		to.LeastTeeth, to.MostTeeth = f.now.LeastTeeth, f.now.MostTeeth
	case least+most != "":
		set("mount", f.Mount[0], least+"-"+most, "")
	}
	f.readTires(&to.Draft, typed)
	return to.Draft
}

// sameTeeth returns teeth as the file lists them, if they are the same.
func sameTeeth(inFile, said []int) []int {
	if slices.Equal(slices.Compact(slices.Sorted(slices.Values(inFile))), said) {
		return inFile
	}
	return said
}

func (f *carForm) readTires(to *carfile.Draft, typed func(*field) (string, bool)) {
	sizes := map[string]string{}
	for i, row := range f.Tires {
		name, renamed := typed(row[0])
		size, touched := typed(row[1])
		var err error
		switch _, twice := sizes[name]; {
		case name == "" && size == "":
			continue
		case name == "":
			f.mark(row[0], errors.New("is needed: a name of your own, as in big"))
			continue
		case twice:
			f.mark(row[0], errors.New("is the name of another tire here: give each its own"))
			continue
		case size == "":
			f.mark(row[1], errors.New("is needed; to take the tire out, clear its name too"))
			continue
		}
		if renamed {
			_, err = ask.TireName.Parse(name)
			f.mark(row[0], err)
		}
		if sizes[name] = ask.Length.Units.Behind(size, f.units); !touched && i < len(f.now.TireSizes) {
			sizes[name] = f.now.TireSizes[i]
		}
		_, err = ask.Length.Parse(sizes[name])
		f.mark(row[1], err)
	}
	for _, name := range slices.Sorted(maps.Keys(sizes)) {
		to.TireNames, to.TireSizes = append(to.TireNames, name), append(to.TireSizes, sizes[name])
	}
}

// mark says what is wrong with a field, unless that was said.
func (f *carForm) mark(shown *field, err error) {
	if err != nil {
		shown.Error = cmp.Or(shown.Error, err.Error())
		f.anyMarked = true
	}
}

// changes says where what was sent differs from the file, which says something else than when
// the form was made.
func (f *carForm) changes(to carfile.Draft) []string {
	var all []string
	was, is := inWords(f.now), inWords(to)
	for i := range was {
		if was[i] != is[i] {
			all = append(all, fmt.Sprintf("%s: %s in the car file, %s here.", was[i].what, cmp.Or(was[i].text, "blank"), cmp.Or(is[i].text, "blank")))
		}
	}
	return all
}

type worded struct{ what, text string }

func inWords(d carfile.Draft) []worded {
	all := []worded{
		{"Pinions at hand", typedTeeth(d.Pinions)}, {"Spurs at hand", typedTeeth(d.Spurs)}, {"Pitch of the teeth", d.Pitch},
		{"Internal ratio", d.Internal}, {"Motor kV", d.KV}, {"Cells in series", d.Cells}, {"Mount", strings.Trim(d.LeastTeeth+"-"+d.MostTeeth, "-")},
	}
	for _, part := range run.Parts {
		under, whose := limitOfCar(&d, part)
		all = append(all, worded{capital(part.Word()) + " under", strings.Trim(*under+", "+*whose, ", ")})
	}
	var tires []string
	for i, name := range d.TireNames {
		tires = append(tires, name+" "+d.TireSizes[i])
	}
	return append(all, worded{"Tires", strings.Join(tires, ", ")})
}

// isMeant takes what looks odd for meant if that was asked about with the form.
func (f *carForm) isMeant(odd []run.Problem) bool {
	var all []string
	for _, p := range odd {
		about := f.about(p)
		if about == nil || p.Value == "" {
			all = append(all, capital(whatAndDo(p))+".")
			continue
		}
		all = append(all, fmt.Sprintf("%s: %s %s.", about.Label, about.Value, whatAndDo(p)))
	}
	return f.isSure(all, f.PostForm)
}

// about returns the field that a problem of the car file is about, or nil.
func (f *carForm) about(p run.Problem) *field {
	key := strings.TrimPrefix(p.Column, "cars."+f.now.Name+".")
	if name, isTire := strings.CutPrefix(key, "tires."); isTire {
		for _, row := range f.Tires {
			if row[0].Value == name {
				return row[1]
			}
		}
	}
	return f.fields[key]
}

// blame says what keeps the form from being saved, at the fields that it is about.
func (f *carForm) blame(err error) {
	all := []error{err}
	if joined, several := err.(interface{ Unwrap() []error }); several {
		all = joined.Unwrap()
	}
	for _, err := range all {
		var p run.Problem
		if errors.As(err, &p) {
			if about := f.about(p); about != nil {
				f.mark(about, errors.New(whatAndDo(p)))
				continue
			}
		}
		f.Problems = append(f.Problems, capital(err.Error())+".")
	}
}

func (f *carForm) page() *page {
	isFine := !f.anyMarked && f.isNothing()
	f.Seen = f.seen()
	f.tellOf(f.anyMarked)
	for _, shown := range f.shown() {
		if shown.Error != "" {
			shown.Focus = true
			break
		}
	}
	return &page{status: formStatus(isFine), title: f.Car + ": this car", car: f.Car, template: "car.html", keeps: true, body: f.carPage}
}
