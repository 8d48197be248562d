// Package notices gathers the licences of what a program holds, for those who hand it on.
package notices

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

// linked prints a line for each package of a program that a module other than regear brings: the
// module, its folder, and the package's.
const linked = `{{with .Module}}{{if not .Main}}{{.Path}} {{.Version}}	{{.Dir}}	{{$.Dir}}{{end}}{{end}}`

// Of returns the licences of all that is linked into a program, named by its package, as most of them
// ask of whoever hands programs on. goTool runs the go command for the program's system, at the top of
// its module. It fails on a module that has no licence.
func Of(goTool func(args ...string) ([]byte, error), program string) ([]byte, error) {
	packages, err := goTool("list", "-deps", "-f", linked, program)
	if err != nil {
		return nil, err
	}
	root, err := goTool("env", "GOROOT")
	if err != nil {
		return nil, err
	}
	// Of Go the licence at its top is enough: the others in it are of code that is not linked.
	goRoot := strings.TrimSpace(string(root))
	return notices(strings.Join([]string{"Go", goRoot, goRoot}, "\t") + "\n" + string(packages))
}

// notices returns the licences for the lines that linked prints, by the names of the works.
func notices(packages string) ([]byte, error) {
	var b bytes.Buffer
	b.WriteString("regear holds the works below, each under its own licence.\n")
	shown := map[string]bool{}
	for _, line := range slices.Sorted(strings.Lines(packages)) {
		fields := strings.Split(strings.TrimSpace(line), "\t")
		if len(fields) != 3 {
			continue // a package of regear
		}
		work, top, folder := fields[0], fields[1], fields[2]
		paths, err := noticesAbove(top, folder)
		if err != nil {
			return nil, err
		}
		if !slices.ContainsFunc(paths, isLicence.MatchString) {
			return nil, fmt.Errorf("%s has no licence file in %s: it must not be handed on", work, top)
		}
		for _, path := range paths {
			file := filepath.Join(top, path)
			if shown[file] {
				continue
			}
			shown[file] = true
			text, err := os.ReadFile(file)
			if err != nil {
				return nil, err
			}
			fmt.Fprintf(&b, "\n%s\n%s: %s\n\n%s\n", strings.Repeat("=", 78), work, filepath.ToSlash(path), bytes.TrimSpace(text))
		}
	}
	return b.Bytes(), nil
}

// Licences, and what else must go along with a work, are told by the names of files, or of
// folders of them.
var (
	isLicence = regexp.MustCompile(`(?i)licen[sc]e|copying`)
	isNotice  = regexp.MustCompile(`(?i)licen[sc]e|^(copying|notice|patents|copyright)`)
)

// noticesAbove lists the notices in a folder and those above it, up to top, by their paths in top.
func noticesAbove(top, folder string) ([]string, error) {
	within, err := filepath.Rel(top, folder)
	if err != nil {
		return nil, err
	}
	var paths []string
	for ; ; within = filepath.Dir(within) {
		entries, err := os.ReadDir(filepath.Join(top, within))
		if err != nil {
			return nil, err
		}
		for _, e := range entries {
			if !isNotice.MatchString(e.Name()) || filepath.Ext(e.Name()) == ".go" {
				continue
			}
			path := filepath.Join(within, e.Name())
			if !e.IsDir() {
				paths = append(paths, path)
				continue
			}
			texts, err := os.ReadDir(filepath.Join(top, path))
			if err != nil {
				return nil, err
			}
			for _, text := range texts {
				paths = append(paths, filepath.Join(path, text.Name()))
			}
		}
		if within == "." {
			slices.Sort(paths)
			return paths, nil
		}
	}
}
