package web

import (
	"slices"

	"regear/analyze/units"
	"regear/cmd/regear/internal/ask"
)

// read reads fields of the address into their values. usual makes the fields as they are shown
// at first, in either units. It fails with [errMarked] where a field makes no sense, which then
// says why.
//
// A field that stands as it was shown says nothing: the answer names what was not said as
// assumed. What was said in other units than are shown keeps its unit.
func (r *request) read(usual func(units.System) []field, value func(*field) ask.Value) (fields []field, err error) {
	said, query := r.askedUnits(), r.URL.Query()
	fields = usual(r.units)
	untouched := slices.Clone(fields)
	if said != r.units {
		untouched = usual(said)
	}
	for i := range fields {
		f := &fields[i]
		text := f.typed(query.Get(f.Name))
		if text == untouched[i].Value || text == "" {
			continue
		}
		f.Asked = true
		of := value(f)
		full := of.Units.Behind(text, said)
		if f.Value = text; said != r.units {
			f.Value = full
		}
		if wrong := of.Set(full); wrong != nil {
			f.Error, err = wrong.Error(), errMarked
		}
	}
	return fields, err
}

func asked(f field) bool { return f.Asked }
