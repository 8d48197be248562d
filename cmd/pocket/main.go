// Command pocket writes the log book's pages as a folder of files for a web space: a phone that
// opened them once makes every page itself, with the network off and no computer near.
//
//	go run ./cmd/pocket --out site
//
// It builds the program from the source, so it runs at the top of the module.
package main

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"embed"
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"text/template"

	"regear/cmd/internal/notices"
)

func main() {
	out := flag.String("out", "", "the `FOLDER` to write; it is made where there is none")
	flag.Parse()
	if *out == "" || flag.NArg() > 0 {
		flag.Usage()
		os.Exit(2)
	}
	if err := run(*out, os.Stdout); err != nil {
		fmt.Fprintln(os.Stderr, "pocket:", err)
		os.Exit(1)
	}
}

// mostSent is what a phone loads at its first visit at most, compressed, in bytes. Common practice
// knows no such bound: it is what we ask of ourselves.
const mostSent = 8_000_000

func run(out string, told io.Writer) error {
	site, err := build()
	if err != nil {
		return err
	}
	sent, err := compressedSize(site)
	if err != nil {
		return err
	}
	fmt.Fprintf(told, "A first visit loads %.2f MB.\n", float64(sent)/1e6)
	if sent > mostSent {
		return fmt.Errorf("a first visit loads more than %.0f MB: make the program smaller", mostSent/1e6)
	}
	for _, name := range slices.Sorted(maps.Keys(site)) {
		path := filepath.Join(out, name)
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			return err
		}
		if err := os.WriteFile(path, site[name], 0o644); err != nil {
			return err
		}
	}
	return nil
}

//go:embed site
var own embed.FS

const program = "regear.bin" // no .gz, which some servers unpack on the way

// build returns the files of the site by their names.
func build() (map[string][]byte, error) {
	site := map[string][]byte{}
	for name, path := range map[string]string{
		"style.css": "cmd/regear/internal/document/style.css",
		"page.js":   "cmd/regear/internal/web/page.js",
		"icon.svg":  "cmd/regear/internal/web/icon.svg",
	} {
		text, err := os.ReadFile(path)
		if err != nil {
			return nil, err
		}
		site[name] = text
	}
	for _, name := range []string{"pocket.js", "manifest.webmanifest"} {
		text, err := own.ReadFile("site/" + name)
		if err != nil {
			return nil, err
		}
		site[name] = text
	}
	for _, size := range []int{192, 512} {
		icon, err := draw(site["icon.svg"], size)
		if err != nil {
			return nil, err
		}
		site[fmt.Sprintf("icon-%d.png", size)] = icon
	}
	goroot, err := goForBrowsers("env", "GOROOT")
	if err != nil {
		return nil, err
	}
	goTool := func(args ...string) ([]byte, error) {
		text, err := goForBrowsers(args...)
		return []byte(text), err
	}
	if site["licences.txt"], err = notices.Of(goTool, worker); err != nil {
		return nil, err
	}
	if site[program], err = compile(); err != nil {
		return nil, err
	}
	sums := map[string]string{}
	for name, text := range site {
		sums[name] = sumOf(text)
	}
	listed, err := json.Marshal(sums) // in the order of names
	if err != nil {
		return nil, err
	}
	support, err := os.ReadFile(filepath.Join(goroot, "lib", "wasm", "wasm_exec.js"))
	if err != nil {
		return nil, err
	}
	version := sha256.Sum256(slices.Concat(listed, support))
	for _, name := range []string{"sw.js", "index.html"} {
		var text bytes.Buffer
		page, err := template.ParseFS(own, "site/"+name)
		if err == nil {
			err = page.Execute(&text, map[string]string{
				"Files": string(listed), "Program": program, "Version": hex.EncodeToString(version[:8]),
				"Megabytes": fmt.Sprintf("%.1f", float64(len(site[program]))/1e6),
			})
		}
		if err != nil {
			return nil, err
		}
		site[name] = text.Bytes()
	}
	// The worker takes both as one file: two could be of two versions.
	site["sw.js"] = slices.Concat(support, []byte("\n"), site["sw.js"])
	return site, nil
}

// sumOf returns a sum as fetch takes it (W3C Subresource Integrity).
func sumOf(text []byte) string {
	sum := sha256.Sum256(text)
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

// compile builds the program for browsers, compressed.
func compile() ([]byte, error) {
	folder, err := os.MkdirTemp("", "pocket")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	modules, overlay, err := fewFonts(folder)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(folder, "regear.wasm")
	if _, err := goForBrowsers("build", "-modfile", modules, "-overlay", overlay, "-trimpath", "-ldflags=-s -w", "-o", path, worker); err != nil {
		return nil, err
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	return compressed(text)
}

// fewFonts writes a go.mod and an overlay for the build. gonum's plot links twelve fonts, our figures
// use two, and the other ten are 1.9 MB of what a phone loads: in the place of their module stands a
// copy, in which each of them is another name of the regular one. The overlay makes the copy lie in
// this module for the compiler alone, as the program would name the folder that it lies in.
func fewFonts(folder string) (modules, overlay string, err error) {
	const module, regular, bold, copied = "codeberg.org/go-fonts/liberation", "liberationsansregular", "liberationsansbold", ".fonts"
	original, err := goForBrowsers("list", "-m", "-f", "{{.Dir}}", module)
	if err != nil {
		return "", "", err
	}
	root, err := os.Getwd()
	if err != nil {
		return "", "", err
	}
	replaced := map[string]string{}
	err = fs.WalkDir(os.DirFS(original), ".", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() {
			return err
		}
		from := filepath.Join(original, path)
		font := filepath.Base(filepath.Dir(path))
		if filepath.Base(path) == "data.go" && font != regular && font != bold {
			from = filepath.Join(folder, font+".go")
			text := fmt.Sprintf("package %s\n\nimport %q\n\nvar TTF = %s.TTF\n", font, module+"/"+regular, regular)
			err = os.WriteFile(from, []byte(text), 0o644)
		}
		replaced[filepath.Join(root, copied, path)] = from
		return err
	})
	if err != nil {
		return "", "", err
	}
	modules, overlay = filepath.Join(folder, "go.mod"), filepath.Join(folder, "overlay.json")
	listed, err := json.Marshal(map[string]any{"Replace": replaced})
	if err != nil {
		return "", "", err
	}
	mod, errMod := os.ReadFile("go.mod")
	sum, errSum := os.ReadFile("go.sum")
	return modules, overlay, errors.Join(errMod, errSum,
		os.WriteFile(modules, fmt.Appendf(mod, "\nreplace %s => ./%s\n", module, copied), 0o644),
		os.WriteFile(filepath.Join(folder, "go.sum"), sum, 0o644),
		os.WriteFile(overlay, listed, 0o644))
}

func compressed(text []byte) ([]byte, error) {
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	_, err = w.Write(text)
	err = errors.Join(err, w.Close())
	return packed.Bytes(), err
}

func compressedSize(site map[string][]byte) (size int, err error) {
	for _, text := range site {
		packed, failed := compressed(text)
		size, err = size+min(len(packed), len(text)), errors.Join(err, failed)
	}
	return size, err
}

const worker = "./cmd/regear/worker"

func goForBrowsers(args ...string) (string, error) {
	cmd := exec.Command("go", args...)
	cmd.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm", "CGO_ENABLED=0", "GOFLAGS=-tags=minimal")
	cmd.Stderr = os.Stderr
	text, err := cmd.Output()
	if err != nil {
		err = fmt.Errorf("%s: %w", cmd, err)
	}
	return strings.TrimSpace(string(text)), err
}
