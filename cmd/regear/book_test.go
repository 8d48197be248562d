package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// goldenBook is the log book of one golden case, in a folder of its own. Files that the
// program writes there, other than the book's lock and backup, are goldens too, under
// their names with -after.
type goldenBook struct{ dir, folder string }

const bookFolder = "BOOK-FOLDER"

func newGoldenBook(t *testing.T, dir string) goldenBook {
	t.Helper()
	b := goldenBook{dir, t.TempDir()}
	path := filepath.Join(b.folder, "book.csv")
	if text := golden(t, dir, "book.csv"); text != "" {
		keep(t, b.folder, "book.csv", text)
	}
	t.Setenv(bookVariable, path)
	return b
}

// show puts the folder's path where its name stands.
func (b goldenBook) show(text string) string { return strings.ReplaceAll(text, bookFolder, b.folder) }

// hide is the inverse of show.
func (b goldenBook) hide(r result) result {
	r.stdout, r.stderr = b.hidden(r.stdout), b.hidden(r.stderr)
	return r
}

func (b goldenBook) hidden(text string) string {
	return strings.ReplaceAll(text, b.folder+string(filepath.Separator), bookFolder+"/")
}

// written returns the texts of the files in the folder, by their names with -after. A book
// that is as it was is not among them.
func (b goldenBook) written(t *testing.T) map[string]string {
	t.Helper()
	entries, err := os.ReadDir(b.folder)
	if err != nil {
		t.Fatal(err)
	}
	texts := map[string]string{}
	for _, e := range entries {
		ending := filepath.Ext(e.Name())
		text := b.hidden(golden(t, b.folder, e.Name()))
		if ending == ".html" {
			text = wordsOf(text)
		}
		if ending == ".lock" || ending == ".bak" || text == golden(t, b.dir, e.Name()) {
			continue
		}
		texts[strings.TrimSuffix(e.Name(), ending)+"-after"+ending] = text
	}
	return texts
}

// wordsOf leaves out of a page how it looks: its style and its drawings.
func wordsOf(page string) string {
	page = regexp.MustCompile(`(?s)<style>.*?</style>`).ReplaceAllString(page, "<style>…</style>")
	return regexp.MustCompile(`(?s)(<svg.*?</desc>).*?</svg>`).ReplaceAllString(page, "$1…</svg>")
}

func (b goldenBook) keep(t *testing.T) {
	t.Helper()
	for _, old := range b.goldens(t) {
		keep(t, b.dir, old, "")
	}
	for name, text := range b.written(t) {
		keep(t, b.dir, name, text)
	}
}

func (b goldenBook) compare(t *testing.T) {
	t.Helper()
	written := b.written(t)
	for _, name := range b.goldens(t) {
		if _, ok := written[name]; !ok {
			t.Errorf("%s: the program did not write it", name)
		}
	}
	for name, text := range written {
		compare(t, name, text, golden(t, b.dir, name))
	}
}

func (b goldenBook) goldens(t *testing.T) []string {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(b.dir, "*-after.*"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range paths {
		paths[i] = filepath.Base(paths[i])
	}
	return paths
}
