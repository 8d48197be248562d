package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestReadme runs the commands of the documents as they are written there, and checks that
// each block behind one shows what it prints and that its picture is the one in the
// repository. -update rewrites the blocks and the pictures.
func TestReadme(t *testing.T) {
	inTopFolder(t)
	top, err := os.Getwd()
	if err != nil {
		t.Fatal(err)
	}
	// The commands write pictures beside the demo: let them do so in a copy of it.
	copyOfDemo := t.TempDir()
	if err := os.CopyFS(filepath.Join(copyOfDemo, "testdata", "demo"), os.DirFS("testdata/demo")); err != nil {
		t.Fatal(err)
	}
	ran := 0
	for _, name := range []string{"README.md", "DEVELOPERS.md"} {
		t.Chdir(top)
		text := read(t, name)
		t.Chdir(copyOfDemo)
		want, n := carriedOut(t, text)
		ran += n
		if *update {
			keep(t, top, name, want)
		} else {
			compare(t, name, text, want)
		}
	}
	if ran < 3 {
		t.Errorf("only %d commands of the documents were run", ran)
	}
	comparePictures(t, copyOfDemo, top)
}

// carriedOut returns a document with what its commands print now, and how many it has.
func carriedOut(t *testing.T, document string) (want string, ran int) {
	t.Helper()
	want = document
	blocks := fencedBlocks(document)
	for i, b := range blocks {
		if b.file != "" {
			want = strings.Replace(want, b.text, b.with(read(t, b.file)), 1)
		}
		if b.language != "sh" {
			continue
		}
		for _, command := range commands(b.body) {
			args, ok := strings.CutPrefix(command, "go run ./cmd/regear ")
			if !ok {
				continue
			}
			got := regear(t, "", strings.Fields(args)...)
			if got.exit != 0 {
				t.Errorf("%s: exit %d: %s", command, got.exit, got.stderr)
			}
			ran++
			if next := blocks[min(i+1, len(blocks)-1)]; next.language == "text" || next.language == "json" {
				want = strings.Replace(want, next.text, next.with(got.stdout), 1)
			}
		}
	}
	return want, ran
}

// comparePictures checks every picture that the README shows against the one that
// its commands drew.
func comparePictures(t *testing.T, drawn, top string) {
	t.Helper()
	pictures, err := filepath.Glob(filepath.Join(drawn, "testdata", "demo", "*.svg"))
	if err != nil || len(pictures) == 0 {
		t.Fatalf("the README draws nothing: %v", err)
	}
	for _, path := range pictures {
		name := filepath.Join("testdata", "demo", filepath.Base(path))
		if *update {
			keep(t, top, name, read(t, path))
			continue
		}
		if kept, err := os.ReadFile(filepath.Join(top, name)); err != nil || !bytes.Equal(kept, []byte(read(t, path))) {
			t.Errorf("%s is not what the README's command draws (%v); rewrite it with -update", name, err)
		}
	}
}

// block is a fenced block of a Markdown text.
type block struct {
	text           string // all of it, with its fences
	language, body string
	file           string // the file that a comment above says it shows, or ""
}

// with returns the block with another body.
func (b block) with(body string) string {
	return strings.Replace(b.text, "```"+b.language+"\n"+b.body, "```"+b.language+"\n"+body, 1)
}

// fencedBlocks returns the blocks of a text in their order.
func fencedBlocks(text string) []block {
	const fence, shows = "```", "<!-- file: "
	var all []block
	var open *block
	file := ""
	for line := range strings.Lines(text) {
		switch {
		case open == nil && strings.HasPrefix(line, fence):
			open = &block{text: line, language: strings.TrimSpace(strings.TrimPrefix(line, fence)), file: file}
		case open != nil && strings.HasPrefix(line, fence):
			open.text += line
			all = append(all, *open)
			open, file = nil, ""
		case open != nil:
			open.text += line
			open.body += line
		case strings.HasPrefix(line, shows):
			file = strings.TrimSuffix(strings.TrimPrefix(line, shows), " -->\n")
		}
	}
	return all
}

// commands joins the lines of a shell block that end in a backslash.
func commands(body string) []string {
	return strings.Split(strings.TrimSpace(strings.ReplaceAll(body, "\\\n", " ")), "\n")
}
