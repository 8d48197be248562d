package web

import (
	"fmt"
	"net/url"
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

// Unsaved is why a form was not saved, for the template "unsaved".
type Unsaved struct {
	Of       string   // what the form was filled in from: the log book or the car file
	Changes  []string // of that, since the form was made
	Problems []string // of the form as a whole
	Warnings []string // about what looks implausible
	Sure     string   // marks the warnings, for the form that is saved in spite of them
}

func (u *Unsaved) isNothing() bool { return len(u.Changes)+len(u.Problems)+len(u.Warnings) == 0 }

// isSure reports whether a form that was sent says that all it was warned of is meant, and else
// warns of it.
func (u *Unsaved) isSure(all []string, sent url.Values) bool {
	u.Sure = fmt.Sprintf("%q", all)
	if sent.Get("sure") == u.Sure {
		return true
	}
	u.Warnings = all
	return false
}

// tellOf tells first of fields that are marked.
func (u *Unsaved) tellOf(anyMarked bool) {
	if anyMarked {
		u.Problems = append([]string{"Mend what is marked below."}, u.Problems...)
	}
}
