// Command release builds regear for those without Go: one archive a system, one of the pages for a
// phone alone, and the checksums of all.
//
//	go run ./cmd/release --out dist
//
// From one commit it makes the same bytes, whoever runs it and wherever: go.mod's version of Go
// builds the programs, and every file has the commit's time. The version is the commit's tag, or
// names the commit where it has none.
package main

import (
	"crypto/sha256"
	"debug/buildinfo"
	"errors"
	"flag"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"regear/cmd/internal/notices"
)

// target is a system that there is an archive for, packed as that system can unpack by itself.
type target struct {
	system, processor, ending string
	pack                      func(folder string, when time.Time, files []file) ([]byte, error)
}

var targets = []target{
	{"linux", "amd64", ".tar.gz", tarGz},
	{"linux", "arm64", ".tar.gz", tarGz},
	{"windows", "amd64", ".zip", zipped},
	{"darwin", "amd64", ".tar.gz", tarGz},
	{"darwin", "arm64", ".tar.gz", tarGz},
	{site, "", ".zip", zipped},
}

// site stands in the place of a system for the pages on a phone alone, which cmd/pocket writes.
const site = "site"

func main() {
	out := flag.String("out", "dist", "`FOLDER` to write into")
	flag.Parse()
	if err := publish(".", *out, targets); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

// publish writes the archives of the module in the folder top, and SHA256SUMS, into the folder out.
func publish(top, out string, targets []target) error {
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	common, version, when, err := commonFiles(top)
	if err != nil {
		return err
	}
	var sums strings.Builder
	for _, t := range targets {
		own, err := ownFiles(top, t)
		if err != nil {
			return err
		}
		folder := strings.TrimSuffix(strings.Join([]string{"regear", version, t.system, t.processor}, "-"), "-")
		if t.system != site { // which is put on a web space as it is
			own = append(own, common...)
		}
		archive, err := t.pack(folder, when, own)
		if err != nil {
			return err
		}
		fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(archive), folder+t.ending)
		if err := os.WriteFile(filepath.Join(out, folder+t.ending), archive, 0o644); err != nil {
			return err
		}
	}
	return os.WriteFile(filepath.Join(out, "SHA256SUMS"), []byte(sums.String()), 0o644)
}

// file is one of an archive, by its path in there.
type file struct {
	path string
	data []byte
	mode os.FileMode
}

// siteFiles are those for a web space.
func siteFiles(top string) (files []file, err error) {
	folder, err := os.MkdirTemp("", "release")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	if _, err := goFor(top, runtime.GOOS, runtime.GOARCH, "run", "./cmd/pocket", "--out", folder); err != nil {
		return nil, err
	}
	entries, err := os.ReadDir(folder)
	for _, e := range entries {
		data, errRead := os.ReadFile(filepath.Join(folder, e.Name()))
		files, err = append(files, file{e.Name(), data, 0o644}), errors.Join(err, errRead)
	}
	return files, err
}

// ownFiles are those of one target: the program, and the licences of what is linked into it.
func ownFiles(top string, t target) ([]file, error) {
	if t.system == site {
		return siteFiles(top)
	}
	program, err := build(top, t.system, t.processor)
	if err != nil {
		return nil, err
	}
	licences, err := notices.Of(func(args ...string) ([]byte, error) { return goFor(top, t.system, t.processor, args...) }, "./cmd/regear")
	if err != nil {
		return nil, err
	}
	name := "regear"
	if t.system == "windows" {
		name += ".exe"
	}
	return []file{{name, program, 0o755}, {"THIRD-PARTY.txt", licences, 0o644}}, nil
}

// earliest is the time of files that are of no commit: the earliest that .zip can tell.
var earliest = time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)

// commonFiles are those of every target, with the version and the time of what is released. The
// program of this system tells what can be told of itself: version, completion and help.
func commonFiles(top string) (files []file, version string, when time.Time, err error) {
	fail := func(err error) ([]file, string, time.Time, error) { return nil, "", time.Time{}, err }
	for _, path := range []string{"README.md", "LICENSE", "CHANGELOG.md", "testdata/demo/weekend.csv", "testdata/demo/weekend.svg"} {
		data, err := os.ReadFile(filepath.Join(top, path))
		if err != nil {
			return fail(err)
		}
		files = append(files, file{path, data, 0o644})
	}
	folder, err := os.MkdirTemp("", "release")
	if err != nil {
		return fail(err)
	}
	defer os.RemoveAll(folder)
	program, err := build(top, runtime.GOOS, runtime.GOARCH)
	if err != nil {
		return fail(err)
	}
	path := filepath.Join(folder, "regear.exe") // the ending that Windows wants and nobody else minds
	if err := os.WriteFile(path, program, 0o755); err != nil {
		return fail(err)
	}
	info, err := buildinfo.ReadFile(path)
	if err != nil {
		return fail(err)
	}
	when = earliest
	for _, setting := range info.Settings {
		if setting.Key != "vcs.time" {
			continue
		}
		if when, err = time.Parse(time.RFC3339, setting.Value); err != nil {
			return fail(err)
		}
	}
	said, err := output(exec.Command(path, "--version"))
	if err != nil {
		return fail(err)
	}
	version = strings.TrimSpace(strings.TrimPrefix(string(said), "regear "))
	for shell, name := range map[string]string{"bash": "regear.bash", "zsh": "_regear", "fish": "regear.fish", "powershell": "regear.ps1"} {
		script, err := output(exec.Command(path, "completion", shell))
		if err != nil {
			return fail(err)
		}
		files = append(files, file{"completion/" + name, script, 0o644})
	}
	pages, err := manPages(path, version, when)
	if err != nil {
		return fail(err)
	}
	return append(files, pages...), version, when, nil
}

// build returns the program for a system.
func build(top, system, processor string) ([]byte, error) {
	folder, err := os.MkdirTemp("", "release")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "regear")
	if _, err := goFor(top, system, processor, "build", "-trimpath", "-ldflags=-s -w", "-o", path, "./cmd/regear"); err != nil {
		return nil, err
	}
	return os.ReadFile(path)
}

// goFor runs the go command for a system. Nothing of the environment that would show in a program
// reaches it.
func goFor(top, system, processor string, args ...string) ([]byte, error) {
	version := exec.Command("go", "list", "-m", "-f", "{{.GoVersion}}")
	version.Dir = top
	wanted, err := output(version)
	if err != nil {
		return nil, err
	}
	cmd := exec.Command("go", args...)
	cmd.Dir = top
	cmd.Env = append(os.Environ(), "GOTOOLCHAIN=go"+strings.TrimSpace(string(wanted)),
		"GOOS="+system, "GOARCH="+processor, "GOAMD64=v1", "GOARM64=v8.0",
		"CGO_ENABLED=0", "GOFLAGS=-mod=readonly", "GOWORK=off")
	return output(cmd)
}

// output runs a command, and puts what it wrote on standard error into its error.
func output(cmd *exec.Cmd) ([]byte, error) {
	var wrong strings.Builder
	cmd.Stderr = &wrong
	out, err := cmd.Output()
	if err != nil {
		return nil, fmt.Errorf("%s: %w\n%s", strings.Join(cmd.Args, " "), err, wrong.String())
	}
	return out, nil
}
