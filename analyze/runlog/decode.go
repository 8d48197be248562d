package runlog

// This file is all that stands between gocsv and the tags of a row. Without
// UnmarshalCSVWithFields gocsv finds a cell's field by its tag, to the same end (a test holds the
// two against each other), but by reflection: 100 ns and two allocations a cell, for a log's
// cells four times what encoding/csv takes to cut them.

// decoded is what gocsv decodes a row into: a pointer, as gocsv makes each twice and copies it.
type decoded struct{ Cells *row }

// UnmarshalCSVWithFields takes a cell from gocsv, if its column is one that is read.
func (d *decoded) UnmarshalCSVWithFields(name, cell string) error {
	if d.Cells == nil {
		d.Cells = new(row)
	}
	if column := columnOf[name]; column != nil {
		*column.cell(d.Cells) = cell
	}
	return nil
}

// columnOf finds a column by any of its names.
var columnOf = func() map[string]*Column {
	byName := map[string]*Column{}
	for i := range columns {
		for _, name := range columns[i].Names {
			byName[name] = &columns[i]
		}
	}
	return byName
}()
