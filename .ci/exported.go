// Command exported names the functions and methods that a package exports and no other
// package uses. They can be unexported. Run it at the top of the module:
//
//	go run .ci/exported.go
//
// It goes by names alone. A use is a selector of that name in another folder or in a
// package name_test, a method of an interface, or a word of a page's template.
package main

import (
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"unicode"
)

// asked are methods that nothing but an interface of the standard library, or of a module that
// go.mod names, asks for.
var asked = []string{
	"Unwrap", "MarshalJSON",
	"GetCSVRows", "UnmarshalCSVWithFields", // gocsv
	"Plot", "Ticks", // plot.Plotter, plot.Ticker
	"SetLineWidth", "SetLineDash", "Rotate", "Translate", "Pop", "DrawImage", // vg.Canvas
}

func main() {
	exported := map[string]token.Position{} // by folder and name
	used := map[string][]string{}           // the folders in which a name is selected
	files := token.NewFileSet()
	err := filepath.WalkDir(".", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() || strings.HasPrefix(path, ".") {
			return err
		}
		if strings.HasSuffix(path, ".html") {
			text, err := os.ReadFile(path)
			for _, word := range strings.FieldsFunc(string(text), func(r rune) bool { return !unicode.IsLetter(r) }) {
				used[word] = append(used[word], path)
			}
			return err
		}
		if !strings.HasSuffix(path, ".go") {
			return nil
		}
		file, err := parser.ParseFile(files, path, nil, 0)
		if err != nil {
			return err
		}
		folder := filepath.Dir(path)
		if strings.HasSuffix(file.Name.Name, "_test") {
			folder += "_test"
		} else if !strings.HasSuffix(path, "_test.go") {
			for _, decl := range file.Decls {
				f, ok := decl.(*ast.FuncDecl)
				if ok && f.Name.IsExported() && !slices.Contains(asked, f.Name.Name) {
					exported[folder+" "+f.Name.Name] = files.Position(f.Name.Pos())
				}
			}
		}
		ast.Inspect(file, func(n ast.Node) bool {
			switch n := n.(type) {
			case *ast.SelectorExpr:
				used[n.Sel.Name] = append(used[n.Sel.Name], folder)
			case *ast.InterfaceType:
				for _, method := range n.Methods.List {
					for _, name := range method.Names {
						used[name.Name] = append(used[name.Name], "an interface")
					}
				}
			}
			return true
		})
		return nil
	})
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(2)
	}
	idle := 0
	for _, key := range slices.Sorted(maps.Keys(exported)) {
		folder, name, _ := strings.Cut(key, " ")
		if !slices.ContainsFunc(used[name], func(by string) bool { return by != folder }) {
			fmt.Printf("%s: %s is exported and used in its own package alone\n", exported[key], name)
			idle++
		}
	}
	if idle > 0 {
		os.Exit(1)
	}
}
