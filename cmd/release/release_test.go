package main

import (
	"archive/zip"
	"bufio"
	"bytes"
	"crypto/sha256"
	"flag"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

var wine = flag.Bool("wine", false, "run the Windows program under wine, as .ci/windows sets it up")

const top = "../.."

// archived publishes the module of a folder for one system, and returns the archive and its name.
func archived(t *testing.T, module, system, processor string) (name string, archive []byte) {
	t.Helper()
	if testing.Short() {
		t.Skip("programs take long to build: without -short this runs")
	}
	i := slices.IndexFunc(targets, func(t target) bool { return t.system == system && t.processor == processor })
	out := t.TempDir()
	if err := publish(module, out, targets[i:i+1]); err != nil {
		t.Fatal(err)
	}
	sums, err := os.ReadFile(filepath.Join(out, "SHA256SUMS"))
	if err != nil {
		t.Fatal(err)
	}
	sum, name, _ := strings.Cut(strings.TrimSuffix(string(sums), "\n"), "  ")
	archive, err = os.ReadFile(filepath.Join(out, name))
	if err != nil || fmt.Sprintf("%x", sha256.Sum256(archive)) != sum {
		t.Fatalf("%v; SHA256SUMS holds %q", err, sums)
	}
	return name, archive
}

// unpacked returns the folder in an archive, in which there is nothing but what the archive holds.
func unpacked(t *testing.T, name string, archive []byte) string {
	t.Helper()
	folder := t.TempDir()
	if inside, isZip := strings.CutSuffix(name, ".zip"); isZip {
		files, err := zip.NewReader(bytes.NewReader(archive), int64(len(archive)))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.CopyFS(folder, files); err != nil {
			t.Fatal(err)
		}
		return filepath.Join(folder, inside)
	}
	tar := exec.Command("tar", "-xzf", "-", "-C", folder)
	tar.Stdin = bytes.NewReader(archive)
	if _, err := output(tar); err != nil {
		t.Fatal(err)
	}
	return filepath.Join(folder, strings.TrimSuffix(name, ".tar.gz"))
}

// One commit gives the same bytes in two folders, has its own time, and its tag is the version.
func TestTwiceTheSameBytes(t *testing.T) {
	module, err := filepath.Abs(top)
	if err != nil {
		t.Fatal(err)
	}
	first, second := filepath.Join(t.TempDir(), "first"), filepath.Join(t.TempDir(), "second")
	git := func(args ...string) string {
		out, err := output(exec.Command("git", args...))
		if err != nil {
			t.Fatal(err)
		}
		return strings.TrimSpace(string(out))
	}
	git("clone", "--quiet", module, first)
	git("-C", first, "tag", "v1.98.7")
	git("clone", "--quiet", first, second)

	name, archive := archived(t, first, "linux", "amd64")
	again, same := archived(t, second, "linux", "amd64")
	if want := "regear-v1.98.7-linux-amd64.tar.gz"; name != want || again != want {
		t.Errorf("named %s and %s, want %s", name, again, want)
	}
	if !bytes.Equal(archive, same) {
		t.Error("two builds of one commit differ")
	}
	siteName, pages := archived(t, first, site, "")
	siteAgain, samePages := archived(t, second, site, "")
	if want := "regear-v1.98.7-site.zip"; siteName != want || siteAgain != want || !bytes.Equal(pages, samePages) {
		t.Errorf("%s and %s, want %s twice, the same", siteName, siteAgain, want)
	}
	if _, err := os.Stat(filepath.Join(unpacked(t, siteName, pages), "sw.js")); err != nil {
		t.Error(err)
	}
	info, err := os.Stat(filepath.Join(unpacked(t, name, archive), "README.md"))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := info.ModTime().UTC().Format(time.RFC3339), git("-C", first, "log", "-1", "--date=format-local:%Y-%m-%dT%H:%M:%SZ", "--format=%cd"); got != want {
		t.Errorf("a file is of %s, the commit of %s", got, want)
	}
}

// The Linux program runs where there is nothing else: no Go, no libraries, no time zones.
func TestLinuxProgramAlone(t *testing.T) {
	chroot, err := exec.LookPath("chroot")
	if err != nil || os.Geteuid() != 0 {
		if os.Getenv("CI") == "true" {
			t.Fatal("CI has to run the program in an empty root, as root")
		}
		t.Skip("an empty root needs Linux and root")
	}
	name, archive := archived(t, top, "linux", "amd64")
	root := unpacked(t, name, archive)
	driveAWeekend(t, func(args ...string) *exec.Cmd {
		cmd := exec.Command(chroot, append([]string{root, "/regear"}, args...)...)
		cmd.Env = []string{"HOME=/"}
		return cmd
	})
}

func TestWindowsProgram(t *testing.T) {
	if !*wine {
		t.Skip("bash .ci/windows runs this")
	}
	name, archive := archived(t, top, "windows", "amd64")
	folder := unpacked(t, name, archive)
	driveAWeekend(t, func(args ...string) *exec.Cmd {
		cmd := exec.Command("wine", append([]string{"regear.exe"}, args...)...)
		cmd.Dir = folder
		return cmd
	})
}

// driveAWeekend does with a program, in the folder of its archive, what a driver does.
func driveAWeekend(t *testing.T, regear func(args ...string) *exec.Cmd) {
	t.Helper()
	do := func(args ...string) string {
		t.Helper()
		out, err := output(regear(args...))
		if err != nil {
			t.Fatal(err)
		}
		return string(out)
	}
	golden := func(name string) string {
		t.Helper()
		text, err := os.ReadFile(filepath.Join(top, "testdata", "golden", "advise-weekend", name))
		if err != nil {
			t.Fatal(err)
		}
		return string(text)
	}
	if got := do(strings.Fields(golden("args"))...); got != golden("stdout") {
		t.Errorf("the log gets the answer\n%s", got)
	}
	do("import", "testdata/demo/weekend.csv")
	do("log", "--pinion", "15", "--minutes", "12", "--ambient", "24C", "--motor-peak", "71C")
	if got := do("advise", "--ambient", "30C"); !strings.Contains(got, "now fitted") {
		t.Errorf("the book gets the answer\n%s", got)
	}
	logged := do("runs", "--format", "json")
	if n := strings.Count(logged, `"run": `); n != 7 {
		t.Errorf("6 runs imported and one logged make %d:\n%s", n, logged)
	}
	if edited := do("edit", "7", "--motor-peak", "69C"); !strings.Contains(edited, "motor peak: 69 °C, was 71 °C") {
		t.Errorf("edited:\n%s", edited)
	}
	do("undo")
	if undone := do("runs", "--format", "json"); undone != logged {
		t.Errorf("undone:\n%s\nwant\n%s", undone, logged)
	}

	serve := regear("serve", "--listen", "127.0.0.1:0")
	printed, err := serve.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := serve.Start(); err != nil {
		t.Fatal(err)
	}
	defer serve.Wait()
	defer serve.Process.Kill()
	line, err := bufio.NewReader(printed).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	_, address, _ := strings.Cut(line, "http://")
	address, _, _ = strings.Cut(address, "/")
	answer, err := http.Get("http://" + address + "/")
	if err != nil {
		t.Fatalf("%v; serve printed %q", err, line)
	}
	defer answer.Body.Close()
	if page, err := io.ReadAll(answer.Body); err != nil || answer.StatusCode != http.StatusOK || !bytes.Contains(page, []byte("heron")) {
		t.Errorf("%s, %v:\n%s", answer.Status, err, page)
	}
	if _, err := output(regear("serve", "--listen", address)); err == nil || !strings.Contains(err.Error(), address+": another program listens there already") {
		t.Errorf("a taken port is told as %v", err)
	}
}

// What starts a request or is no plain character is named, after groff_man(7) and groff_char(7).
func TestManPage(t *testing.T) {
	got := string(manPage("regear-x", "it's short", "a\\b 'c'\n.d --e ~f ^g `h`\n", "v1", earliest))
	want := ".TH REGEAR\\-X 1 1980-01-01 \"regear v1\"\n.SH NAME\nregear\\-x \\- it\\[aq]s short\n.SH DESCRIPTION\n.nf\n" +
		"a\\[rs]b \\[aq]c\\[aq]\n\\&.d \\-\\-e \\[ti]f \\[ha]g \\[ga]h\\[ga]\n.fi\n"
	if got != want {
		t.Errorf("got\n%s\nwant\n%s", got, want)
	}
}
