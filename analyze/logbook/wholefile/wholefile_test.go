package wholefile

import (
	"errors"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// alone fails the test unless a folder holds the one file with a text.
func alone(t *testing.T, path, text string) {
	t.Helper()
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != 1 || entries[0].Name() != filepath.Base(path) {
		t.Errorf("the folder holds %v", entries)
	}
	if got, err := os.ReadFile(path); err != nil || string(got) != text {
		t.Errorf("the file holds %q, want %q (%v)", got, text, err)
	}
}

// A file that can't be written to its end is as it was, and nothing is left beside it; the
// same where it is opened and never written.
func TestWholeFileOrNone(t *testing.T) {
	path := filepath.Join(t.TempDir(), "weekend.html")
	if err := Write(path, path, []byte("old")); err != nil {
		t.Fatal(err)
	}
	errCut := errors.New("cut off")
	for _, write := range []func(f *File) error{
		func(*File) error { return errCut },
		func(f *File) error {
			return f.Fill(func(w io.Writer) error {
				_, err := io.WriteString(w, "half of the n")
				return errors.Join(err, errCut)
			})
		},
	} {
		f, err := Open(path, path)
		if err != nil {
			t.Fatal(err)
		}
		if err := write(f); !errors.Is(err, errCut) {
			t.Errorf("the error is %v", err)
		}
		f.Discard()
		alone(t, path, "old")
	}
	if err := Write(path, path, []byte("new")); err != nil {
		t.Fatal(err)
	}
	alone(t, path, "new")
}

// A file keeps its permissions, a link stays a link, and a folder stays a folder.
func TestWholeFileKeepsWhatItReplaces(t *testing.T) {
	if runtime.GOOS == "windows" {
		t.Skip("links need a right there that few users have, and files have no such permissions")
	}
	folder := t.TempDir()
	target, link := filepath.Join(folder, "target.html"), filepath.Join(folder, "link.html")
	if err := os.WriteFile(target, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(target, link); err != nil {
		t.Fatal(err)
	}
	if err := Write(link, link, []byte("new")); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link is %v now (%v)", info.Mode(), err)
	}
	text, err := os.ReadFile(target)
	if err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(target); err != nil || info.Mode().Perm() != 0o600 || string(text) != "new" {
		t.Errorf("the target is %v with %q (%v)", info.Mode(), text, err)
	}
	if _, err := Open(folder, folder); err == nil {
		t.Error("a folder can be written over")
	}
}
