package runlog

import (
	"fmt"
	"os"
	"strings"
	"testing"
)

// The README's table of columns is this one. Columns that mean the same share a line.
func TestReadmeTellsTheColumns(t *testing.T) {
	readme, err := os.ReadFile("../../README.md")
	if err != nil {
		t.Fatal(err)
	}
	_, table, _ := strings.Cut(string(readme), "| column | meaning | needed |\n| --- | --- | --- |\n")
	table, _, _ = strings.Cut(table, "\n\n")
	if want := strings.Join(readmeLines(Columns()), "\n"); table != want {
		t.Errorf("the README has\n%s\nwant\n%s", table, want)
	}
}

func readmeLines(columns []Column) []string {
	var lines []string
	for len(columns) > 0 {
		c := columns[0]
		var names []string
		for len(columns) > 0 && columns[0].Meaning == c.Meaning && columns[0].Need == c.Need {
			names = append(names, "`"+columns[0].Name()+"`")
			columns = columns[1:]
		}
		name := strings.Join(names, ", ")
		if len(c.Names) > 1 {
			name += " or `" + strings.TrimPrefix(c.Names[1], c.quantity) + "`"
		}
		lines = append(lines, fmt.Sprintf("| %s | %s | %s |", name, c.Meaning, c.Need))
	}
	return lines
}
