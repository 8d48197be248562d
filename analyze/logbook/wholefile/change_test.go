package wholefile

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync"
	"testing"
)

// Many who each add a line at once lose none, in a folder that did not exist, through a link.
func TestChangesAtOnceLoseNothing(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "new")
	path, link := filepath.Join(folder, "cars.toml"), filepath.Join(t.TempDir(), "link.toml")
	first := func([]byte) ([]byte, error) { return []byte("first\n"), nil }
	if err := Change(path, "cars", first); err != nil {
		t.Fatal(err)
	}
	if runtime.GOOS == "windows" {
		link = path // links need a right there that few users have, and wine only claims to make them
	} else if err := os.Symlink(path, link); err != nil {
		t.Fatal(err)
	}
	var all sync.WaitGroup
	const many = 20
	for i := range many {
		all.Go(func() {
			if err := Change(link, "cars", func(before []byte) ([]byte, error) {
				return fmt.Appendf(before, "line %d\n", i), nil
			}); err != nil {
				t.Error(err)
			}
		})
	}
	all.Wait()
	text, err := os.ReadFile(path)
	if err != nil || strings.Count(string(text), "\n") != many+1 {
		t.Errorf("%v: %s", err, text)
	}
	for i := range many {
		if strings.Count(string(text), fmt.Sprintf("line %d\n", i)) != 1 {
			t.Errorf("line %d is lost, or there twice", i)
		}
	}
	if info, err := os.Lstat(link); link != path && (err != nil || info.Mode()&os.ModeSymlink == 0) {
		t.Errorf("the link is none any more: %v", err)
	}
}

// What fails, or changes nothing, leaves the file and its folder as they were.
func TestChangeThatChangesNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "cars.toml")
	no := errors.New("no")
	if err := Change(path, "cars", func(before []byte) ([]byte, error) {
		if before != nil {
			t.Errorf("a file that is not there holds %q", before)
		}
		return nil, no
	}); !errors.Is(err, no) {
		t.Errorf("the error is %v", err)
	}
	if err := Write(path, path, []byte("old")); err != nil {
		t.Fatal(err)
	}
	for _, err := range []error{nil, no} {
		if got := Change(path, "cars", func(before []byte) ([]byte, error) { return before, err }); !errors.Is(got, err) {
			t.Errorf("the error is %v, want %v", got, err)
		}
		alone(t, path, "old")
	}
}

// A file that is written by somebody who knows of no lock is not written over, and neither is
// one that is protected.
func TestChangeWritesOverNothing(t *testing.T) {
	path := filepath.Join(t.TempDir(), "cars.toml")
	for i, c := range []struct {
		mode os.FileMode
		want string
	}{{0o644, "was changed by another program meanwhile"}, {0o444, "write-protected"}} {
		if err := os.WriteFile(path, []byte("old"), 0o644); err != nil {
			t.Fatal(err)
		}
		if err := os.Chmod(path, c.mode); err != nil {
			t.Fatal(err)
		}
		calls := 0
		err := Change(path, "cars", func(before []byte) ([]byte, error) {
			if calls++; i == 0 {
				_ = os.WriteFile(path, fmt.Appendf(nil, "theirs %d", calls), 0o644)
			}
			return []byte("mine"), nil
		})
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%v, want %s", err, c.want)
		}
		if text, _ := os.ReadFile(path); string(text) == "mine" {
			t.Errorf("written over in spite of %q", c.want)
		}
		_ = os.Chmod(path, 0o644)
	}
}
